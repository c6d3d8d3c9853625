//! What is derived from a model, made on demand and kept within a budget.

use std::sync::{Arc, Mutex, PoisonError};

use document::{ContentHash, DocumentError, Model, Surfaces};
use raster::{Observer, TextureSize};
use surface::{MaterialSlot, Surface, TexelMap};

type MapKey = (ContentHash, MaterialSlot, TextureSize);

/// Surfaces and texel maps. Any of them can be made again from its model.
#[derive(Debug, Default)]
pub struct Derived {
    surface: Mutex<Option<(ContentHash, Arc<Surface>)>>,
    /// Least recently used first.
    maps: Mutex<Vec<(MapKey, Arc<TexelMap>)>>,
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
        let kept = self.surface.lock().unwrap_or_else(PoisonError::into_inner);
        kept.as_ref().map_or(0, |(_, surface)| surface.bytes())
    }

    /// Lets go of all texel maps but the one used last; false when there are no others.
    pub(crate) fn drop_idle_maps(&self) -> bool {
        let mut maps = self.maps.lock().unwrap_or_else(PoisonError::into_inner);
        let idle = maps.len().saturating_sub(1);
        maps.drain(..idle);
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
        maps.push((key, map));
    }
}

impl Surfaces for Derived {
    fn surface(
        &self,
        model: &Model,
        observer: &dyn Observer,
    ) -> Result<Arc<Surface>, DocumentError> {
        let mut kept = self.surface.lock().unwrap_or_else(PoisonError::into_inner);
        match &*kept {
            Some((hash, surface)) if *hash == model.hash() => Ok(Arc::clone(surface)),
            _ => {
                let surface = Arc::new(Surface::prepare(Arc::clone(model.mesh()), observer)?);
                *kept = Some((model.hash(), Arc::clone(&surface)));
                Ok(surface)
            }
        }
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
