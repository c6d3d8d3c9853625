//! What is derived from a model, made on demand and kept within a budget.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use document::{ContentHash, DocumentError, Model, Surfaces};
use raster::{Observer, TextureSize};
use surface::{DecodedTiles, MaterialSlot, Surface, TexelMap};

/// Bytes that decoded tiles may take: a few hundred tiles, those under and around the brush.
const DECODED_BYTES: usize = 128 << 20;

/// Bytes of them that are kept however short memory is: what a wide brush touches.
const LEAST_DECODED_BYTES: usize = 24 << 20;

type MapKey = (ContentHash, MaterialSlot, TextureSize);

/// Surfaces and texel maps. Any of them can be made again from its model.
#[derive(Debug, Default)]
pub struct Derived {
    surface: Mutex<Option<(ContentHash, Arc<Surface>)>>,
    /// Least recently used first.
    maps: Mutex<Vec<(MapKey, Arc<TexelMap>)>>,
    /// Those of the map that was painted on last.
    decoded: Mutex<Option<(MapKey, Arc<DecodedTiles>)>>,
}

impl Derived {
    /// Bytes of memory that texel maps take.
    pub(crate) fn map_bytes(&self) -> usize {
        self.maps
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .iter()
            .map(|(_, m)| m.bytes())
            .sum()
    }

    /// Bytes of memory that the surface takes, its mesh not counted.
    pub(crate) fn surface_bytes(&self) -> usize {
        self.kept_surface().as_ref().map_or(0, |(_, surface)| surface.bytes())
    }

    fn kept_surface(&self) -> MutexGuard<'_, Option<(ContentHash, Arc<Surface>)>> {
        self.surface.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes over all that another one keeps.
    pub(crate) fn adopt(&self, other: Self) {
        let surface = other.surface.into_inner().unwrap_or_else(PoisonError::into_inner);
        if surface.is_some() {
            *self.kept_surface() = surface;
        }
        let maps = other.maps.into_inner().unwrap_or_else(PoisonError::into_inner);
        maps.into_iter().for_each(|(key, map)| self.keep_map(key, map));
    }

    /// Lets go of all texel maps but the one used last, and of what was decoded of them; false when there
    /// are no others.
    pub(crate) fn drop_idle_maps(&self) -> bool {
        let mut maps = self.maps.lock().unwrap_or_else(PoisonError::into_inner);
        let idle = maps.len().saturating_sub(1);
        maps.drain(..idle);
        let mut decoded = self.decoded.lock().unwrap_or_else(PoisonError::into_inner);
        decoded.take_if(|(of, _)| maps.iter().all(|(known, _)| known != of));
        idle > 0
    }

    fn kept_map(&self, key: MapKey) -> Option<Arc<TexelMap>> {
        let mut maps = self.maps.lock().unwrap_or_else(PoisonError::into_inner);
        let index = maps.iter().position(|(known, _)| *known == key)?;
        let found = maps.remove(index);
        let map = Arc::clone(&found.1);
        maps.push(found);
        Some(map)
    }

    fn keep_map(&self, key: MapKey, map: Arc<TexelMap>) {
        let mut maps = self.maps.lock().unwrap_or_else(PoisonError::into_inner);
        maps.retain(|(known, _)| *known != key);
        maps.push((key, map));
    }
}

impl Derived {
    /// The points that the texels of a material show, tile by tile as they are asked for.
    pub(crate) fn decoded_tiles(
        &self,
        model: &Model,
        material: MaterialSlot,
        size: TextureSize,
        observer: &dyn Observer,
    ) -> Result<Arc<DecodedTiles>, DocumentError> {
        let key = (model.hash(), material, size);
        let map = self.texel_map(model, material, size, observer)?;
        let surface = self.surface(model, observer)?;
        let mut kept = self.decoded.lock().unwrap_or_else(PoisonError::into_inner);
        match &*kept {
            Some((known, tiles)) if *known == key && Arc::ptr_eq(tiles.map(), &map) => {
                Ok(Arc::clone(tiles))
            }
            _ => {
                let tiles = Arc::new(DecodedTiles::new(surface, map, DECODED_BYTES));
                *kept = Some((key, Arc::clone(&tiles)));
                Ok(tiles)
            }
        }
    }

    /// Bytes of memory that decoded tiles take.
    pub(crate) fn decoded_bytes(&self) -> usize {
        let kept = self.decoded.lock().unwrap_or_else(PoisonError::into_inner);
        kept.as_ref().map_or(0, |(_, tiles)| tiles.bytes())
    }

    /// Keeps no more than half of the decoded tiles; false when they are down to what a stroke needs.
    pub(crate) fn halve_decoded(&self) -> bool {
        let kept = self.decoded.lock().unwrap_or_else(PoisonError::into_inner);
        kept.as_ref().is_some_and(|(_, tiles)| {
            let before = tiles.bytes();
            if before > LEAST_DECODED_BYTES {
                tiles.evict_to(before / 2);
            }
            tiles.bytes() < before
        })
    }
}

impl Surfaces for Derived {
    fn surface(
        &self,
        model: &Model,
        observer: &dyn Observer,
    ) -> Result<Arc<Surface>, DocumentError> {
        if let Some((hash, surface)) = &*self.kept_surface()
            && *hash == model.hash()
        {
            return Ok(Arc::clone(surface));
        }
        // Not under the lock: the hand must not wait for work in the background.
        let surface = Arc::new(Surface::prepare(Arc::clone(model.mesh()), observer)?);
        *self.kept_surface() = Some((model.hash(), Arc::clone(&surface)));
        Ok(surface)
    }

    fn texel_map(
        &self,
        model: &Model,
        material: MaterialSlot,
        size: TextureSize,
        observer: &dyn Observer,
    ) -> Result<Arc<TexelMap>, DocumentError> {
        let key = (model.hash(), material, size);
        if let Some(map) = self.kept_map(key) {
            return Ok(map);
        }
        let surface = self.surface(model, observer)?;
        let map = Arc::new(TexelMap::build(&surface, material, size, observer)?);
        self.keep_map(key, Arc::clone(&map));
        Ok(map)
    }
}
