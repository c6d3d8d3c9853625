//! Planes and their tiles.

use std::rc::Rc;
use std::sync::Arc;

use raster::{Extent, PackedTexels, Plane, Texels, Tile, TileAt};
use rayon::prelude::*;

use crate::StoreError;
use crate::damage::{Lost, PlaneOf};
use crate::hash::{Hash, Kind};
use crate::load::{Loader, bare_plane};
use crate::node::{PageNode, PageRef, PlaneNode, TileRef, page_places};
use crate::objects::StoredObject;
use crate::squeezed::texels_of;

/// A plane that was read.
#[derive(Debug, Clone)]
pub(crate) struct FoundPlane {
    pub(crate) plane: Plane,
    /// Its pages; none where the whole plane is lost.
    pages: Vec<PageRef>,
    /// Tiles that are bare since theirs are lost.
    pub(crate) lost: Vec<TileAt>,
}

impl FoundPlane {
    pub(crate) fn is_whole(&self) -> bool {
        self.lost.is_empty()
    }
}

impl Loader<'_> {
    /// A plane. One that is lost, or has another extent than it must have, is bare, and all its tiles are
    /// told to be lost.
    pub(crate) fn plane(
        &mut self,
        hash: &Hash,
        of: PlaneOf,
        extent: Option<Extent>,
    ) -> Result<Rc<FoundPlane>, StoreError> {
        let known = self.memo.planes.get(hash);
        if let Some(known) = known.filter(|plane| extent.is_none_or(|e| e == plane.plane.extent()))
        {
            return Ok(Rc::clone(known));
        }
        let node = self.node::<PlaneNode>(hash)?;
        let fits = |node: &PlaneNode| extent.is_none_or(|extent| extent == node.extent);
        let found = if let Some(node) = node.filter(fits) {
            self.read_plane(&node, of)?
        } else {
            self.lose(Lost::Plane(of));
            let extent = extent.unwrap_or(Extent { width: 64, height: 64 });
            let lost = extent.tile_places().collect();
            FoundPlane { plane: bare_plane(extent), pages: Vec::new(), lost }
        };
        if found.is_whole() {
            self.known.insert_plane(&found.plane, *hash);
        }
        let found = Rc::new(found);
        self.memo.planes.insert(*hash, Rc::clone(&found));
        let place = self.place_of(of);
        self.memo.last_planes.insert(place, Rc::clone(&found));
        Ok(found)
    }

    /// Reads the pages that the plane that was in this place before does not have.
    fn read_plane(&mut self, node: &PlaneNode, of: PlaneOf) -> Result<FoundPlane, StoreError> {
        let extent = node.extent;
        let last = self.memo.last_planes.get(&self.place_of(of)).cloned();
        let last = last
            .filter(|last| last.plane.extent() == extent && last.pages.len() == node.pages.len());
        let mut plane = last.as_ref().map_or_else(|| bare_plane(extent), |last| last.plane.clone());
        let mut lost = Vec::new();
        for (index, page) in node.pages.iter().enumerate() {
            let places = page_places(extent, index);
            if let Some(last) = last.as_ref().filter(|last| last.pages[index] == *page) {
                lost.extend(places.filter(|at| last.lost.contains(at)));
                continue;
            }
            match page {
                PageRef::Uniform(value) => {
                    places.for_each(|at| plane.set_tile(at, Tile::Uniform(*value)));
                }
                PageRef::Stored(hash) => {
                    let places: Vec<TileAt> = places.collect();
                    self.read_page(hash, &places, of, &mut plane, &mut lost)?;
                }
            }
        }
        Ok(FoundPlane { plane, pages: node.pages.clone(), lost })
    }

    fn read_page(
        &mut self,
        hash: &Hash,
        places: &[TileAt],
        of: PlaneOf,
        plane: &mut Plane,
        lost: &mut Vec<TileAt>,
    ) -> Result<(), StoreError> {
        let node = self.node::<PageNode>(hash)?;
        let Some(node) = node.filter(|node| node.tiles.len() == places.len()) else {
            if let (Some(first), Some(last)) = (places.first(), places.last()) {
                self.lose(Lost::Tiles { plane: of, first: *first, last: *last });
            }
            for at in places {
                plane.set_tile(*at, Tile::Uniform(0));
            }
            lost.extend(places);
            return Ok(());
        };
        self.read_tiles(&node)?;
        for (at, tile) in places.iter().zip(node.tiles) {
            let tile = match tile {
                TileRef::Uniform(value) => Tile::Uniform(value),
                TileRef::Stored(hash) => self.tile(&hash)?.unwrap_or_else(|| {
                    self.lose(Lost::Tiles { plane: of, first: *at, last: *at });
                    lost.push(*at);
                    Tile::Uniform(0)
                }),
            };
            plane.set_tile(*at, tile);
        }
        Ok(())
    }

    fn tile(&mut self, hash: &Hash) -> Result<Option<Tile>, StoreError> {
        if let Some(known) = self.memo.tiles.get(hash) {
            return Ok(known.clone());
        }
        let content = self.content(Kind::Tile, hash)?;
        let tile = content
            .as_deref()
            .and_then(texels_of)
            .map(|texels| tile_of(&texels, (!self.resident).then(|| PackedTexels::of(&texels))));
        self.remember(*hash, tile.clone());
        Ok(tile)
    }

    fn remember(&mut self, hash: Hash, tile: Option<Tile>) {
        if let Some(Tile::Texels(body)) = &tile {
            self.known.tiles.insert(body, TileRef::Stored(hash));
        }
        self.memo.tiles.insert(hash, tile);
    }

    /// Reads the tiles of a page that are new, and looks at them side by side. Those that are not found right
    /// are left for [`Loader::tile`].
    fn read_tiles(&mut self, node: &PageNode) -> Result<(), StoreError> {
        let mut fetched = Vec::new();
        for tile in &node.tiles {
            if let TileRef::Stored(hash) = tile
                && !self.memo.tiles.contains_key(hash)
                && let Some(stored) = self.objects.fetch(hash)?
            {
                fetched.push((*hash, stored));
            }
        }
        let resident = self.resident;
        let decode = |(hash, stored): (Hash, StoredObject)| {
            let texels = texels_of(&stored.content(Kind::Tile, &hash)?)?;
            let packed = (!resident).then(|| stored.packed(&texels));
            Some((hash, tile_of(&texels, packed)))
        };
        let decoded: Vec<_> = fetched.into_par_iter().filter_map(decode).collect();
        for (hash, tile) in decoded {
            self.remember(hash, Some(tile));
        }
        Ok(())
    }
}

/// A tile of these values, kept packed where a packed form is given.
fn tile_of(texels: &Texels, packed: Option<PackedTexels>) -> Tile {
    let tile = Tile::of(texels);
    if let (Tile::Texels(body), Some(packed)) = (&tile, packed) {
        body.page_out(Arc::new(packed));
    }
    tile
}
