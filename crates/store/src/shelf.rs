//! Tiles that lie in the file and are read when somebody asks for their values: so a project opens at once,
//! and may be larger than memory.
//!
//! Many threads read at once, each through a connection of its own, beside the one that writes. What was
//! read last is kept. A tile that is damaged is bare, and is named, when it is read.

use std::any::Any;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock, RwLockWriteGuard, Weak};

use quick_cache::sync::Cache;
use raster::{PageError, PagedTexels, TILE_TEXELS, Texels, TileAt, TileBody};
use rusqlite::Connection;

use crate::damage::{Damage, Lost, PlaneOf};
use crate::hash::{Hash, Kind};
use crate::objects::{Loss, Objects, Places};
use crate::squeezed::texels_of;
use crate::{StoreError, schema};

/// Tiles that were read last and are kept: 256 MiB of them.
const KEPT_TILES: usize = 32_768;

/// The plane that a tile is from, as far as a person wants to know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PlaneName {
    pub(crate) revision: Option<u64>,
    pub(crate) material: Option<String>,
    pub(crate) layer: Option<String>,
    pub(crate) plane: PlaneOf,
}

/// The tiles of one file.
#[derive(Debug)]
pub(crate) struct Shelf {
    /// Where the file is. Held for reading by whoever reads, for writing by whoever needs the file alone.
    path: RwLock<PathBuf>,
    /// Connections that nobody reads through just now.
    idle: Mutex<Vec<Connection>>,
    places: Arc<Places>,
    read: Cache<Hash, Arc<Texels>>,
    held: Mutex<HashMap<Hash, Held>>,
    /// What was found damaged.
    damage: Mutex<Vec<(Hash, Damage)>>,
    damaged: AtomicUsize,
}

/// A tile of the file that somebody holds, and a body that has its values here.
#[derive(Debug)]
struct Held {
    tile: Weak<StoredTile>,
    body: Weak<TileBody>,
}

/// A tile that lies in the file.
#[derive(Debug)]
pub(crate) struct StoredTile {
    hash: Hash,
    of: Arc<PlaneName>,
    at: TileAt,
    shelf: Arc<Shelf>,
}

/// The process may go to another folder.
fn absolute(path: &Path) -> PathBuf {
    std::path::absolute(path).unwrap_or_else(|_| path.to_owned())
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Shelf {
    /// The tiles of this file.
    pub(crate) fn new(path: &Path) -> Arc<Self> {
        Arc::new(Self {
            path: RwLock::new(absolute(path)),
            idle: Mutex::default(),
            places: Arc::default(),
            read: Cache::new(KEPT_TILES),
            held: Mutex::default(),
            damage: Mutex::default(),
            damaged: AtomicUsize::new(0),
        })
    }

    /// A body with the values of this hash: one for all that ask, as long as one of them holds it. Where
    /// the values are damaged, that is named as the tile of this place.
    pub(crate) fn body(
        self: &Arc<Self>,
        hash: Hash,
        of: &Arc<PlaneName>,
        at: TileAt,
    ) -> Arc<TileBody> {
        let mut held = locked(&self.held);
        if let Some(body) = held.get(&hash).and_then(|held| held.body.upgrade()) {
            return body;
        }
        let tile = self.tile(&mut held, hash, of, at);
        let body = TileBody::away(tile.clone());
        held.insert(hash, Held { tile: Arc::downgrade(&tile), body: Arc::downgrade(&body) });
        body
    }

    /// Says that a body's values are in the file.
    pub(crate) fn keep(
        self: &Arc<Self>,
        body: &Arc<TileBody>,
        hash: Hash,
        of: &Arc<PlaneName>,
        at: TileAt,
    ) {
        let mut held = locked(&self.held);
        let tile = self.tile(&mut held, hash, of, at);
        let known = held.get(&hash).map(|held| held.body.clone());
        let known = known.filter(|body| body.strong_count() > 0);
        let body_known = known.unwrap_or_else(|| Arc::downgrade(body));
        held.insert(hash, Held { tile: Arc::downgrade(&tile), body: body_known });
        drop(held);
        body.set_home(tile);
    }

    fn tile(
        self: &Arc<Self>,
        held: &mut HashMap<Hash, Held>,
        hash: Hash,
        of: &Arc<PlaneName>,
        at: TileAt,
    ) -> Arc<StoredTile> {
        if let Some(tile) = held.get(&hash).and_then(|held| held.tile.upgrade()) {
            return tile;
        }
        if held.len() == held.capacity() {
            held.retain(|_, held| held.tile.strong_count() > 0);
        }
        let (of, shelf) = (Arc::clone(of), Arc::clone(self));
        Arc::new(StoredTile { hash, of, at, shelf })
    }

    /// The hash of a body that has its values here.
    pub(crate) fn hash_of(&self, body: &TileBody) -> Option<Hash> {
        let home: Arc<dyn Any + Send + Sync> = body.home()?;
        let tile = home.downcast::<StoredTile>().ok()?;
        std::ptr::eq(Arc::as_ptr(&tile.shelf), self).then_some(tile.hash)
    }

    /// The hashes of all tiles that somebody may still want to read.
    pub(crate) fn wanted(&self) -> Vec<Hash> {
        let held = locked(&self.held);
        held.iter()
            .filter(|(_, held)| held.tile.strong_count() > 0)
            .map(|(hash, _)| *hash)
            .collect()
    }

    /// What was found damaged, in the order in which it was found, without as many of the first.
    pub(crate) fn damage(&self, without: usize) -> Vec<Damage> {
        if self.damaged.load(Ordering::Relaxed) <= without {
            return Vec::new();
        }
        locked(&self.damage).iter().skip(without).map(|(_, damage)| damage.clone()).collect()
    }

    /// Bytes of memory that tiles which were read last take.
    pub(crate) fn kept_bytes(&self) -> usize {
        self.read.len() * size_of::<Texels>()
    }

    /// Where the file is.
    pub(crate) fn path(&self) -> PathBuf {
        self.path.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// From now on the tiles are read from a copy of the file, which has all of them.
    pub(crate) fn go_on_in(&self, copy: &Path) {
        *self.left_alone() = absolute(copy);
    }

    /// Closes all connections, and keeps others from being opened while the guard lives.
    pub(crate) fn left_alone(&self) -> RwLockWriteGuard<'_, PathBuf> {
        let guard = self.path.write().unwrap_or_else(PoisonError::into_inner);
        locked(&self.idle).clear();
        guard
    }

    /// The values with this hash; `None` where they are damaged.
    fn fetch(&self, hash: &Hash) -> Result<Option<Arc<Texels>>, StoreError> {
        let path = self.path.read().unwrap_or_else(PoisonError::into_inner);
        let idle = locked(&self.idle).pop();
        let connection = match idle {
            Some(connection) => connection,
            None => schema::open_beside(&path)?,
        };
        let content =
            match Objects::knowing(&connection, Arc::clone(&self.places)).get(Kind::Tile, hash) {
                Ok(content) => Some(content),
                Err(Loss::Damaged) => None,
                Err(Loss::Fault(error)) => return Err(error),
            };
        locked(&self.idle).push(connection);
        Ok(content.as_deref().and_then(texels_of).map(Arc::from))
    }
}

impl StoredTile {
    fn name_as_lost(&self) {
        let mut damage = locked(&self.shelf.damage);
        if damage.iter().any(|(hash, _)| *hash == self.hash) {
            return;
        }
        let PlaneName { revision, material, layer, plane } = PlaneName::clone(&self.of);
        let lost = Lost::Tiles { plane, first: self.at, last: self.at };
        damage.push((self.hash, Damage { revision, material, layer, lost }));
        self.shelf.damaged.store(damage.len(), Ordering::Relaxed);
    }
}

impl PagedTexels for StoredTile {
    fn read(&self) -> Result<Arc<Texels>, PageError> {
        if let Some(texels) = self.shelf.read.get(&self.hash) {
            return Ok(texels);
        }
        let fetched = self.shelf.fetch(&self.hash);
        let found = fetched.map_err(|error| PageError { reason: error.to_string() })?;
        let texels = found.unwrap_or_else(|| {
            self.name_as_lost();
            Arc::new([0; TILE_TEXELS])
        });
        self.shelf.read.insert(self.hash, Arc::clone(&texels));
        Ok(texels)
    }

    fn resident_bytes(&self) -> usize {
        size_of::<Self>()
    }
}
