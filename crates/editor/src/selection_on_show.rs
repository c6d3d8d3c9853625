//! What is selected, on show: 8 bits a texel, and only where it changed since it was shown.

use std::collections::BTreeMap;

use document::MaterialId;
use raster::{PageError, Plane, RasterError, TILE_TEXELS, TileAt, TileSet};
use rayon::prelude::*;

use crate::{Editor, EditorError};

/// What was shown last of each material's selections.
#[derive(Debug, Default)]
pub(crate) struct SelectionsOnShow(BTreeMap<MaterialId, Plane>);

impl SelectionsOnShow {
    /// Shows nothing any more: another model has come.
    pub(crate) fn clear(&mut self) {
        self.0.clear();
    }

    /// The next look at this material's selection is at all of it.
    pub(crate) fn forget(&mut self, material: MaterialId) {
        self.0.remove(&material);
    }
}

impl Editor {
    /// Gives the tiles of what is selected, from [`Editor::shown`], that changed since this was called last. 255 may be
    /// painted. Each is handed to `sink`, on several threads and in any order. Gives how many there were; `None` where
    /// nothing is selected, so that all may be painted.
    ///
    /// # Errors
    /// [`EditorError::Document`] where there is no such material, or a tile can't be read. The next call then gives the
    /// same tiles again.
    pub fn selection_tiles(
        &mut self,
        material: MaterialId,
        sink: &(dyn Fn(TileAt, &[u8; TILE_TEXELS]) + Sync),
    ) -> Result<Option<usize>, EditorError> {
        let Some(selection) = self.shown().material(material)?.selection.clone() else {
            return Ok(None);
        };
        let plane = selection.plane();
        let changed = match self.selections.0.get(&material) {
            Some(before) => plane.changed_tiles(before),
            None => TileSet::all(plane.extent()),
        };
        let places: Vec<TileAt> = changed.iter().collect();
        let handed = self.pools.interactive(|| {
            places.par_iter().try_for_each(|&at| {
                let tile = plane.tile(at).read()?;
                let byte = |index| ((u32::from(tile.at(index)) * 255 + 32_767) / 65_535) as u8;
                sink(at, &std::array::from_fn(byte));
                Ok::<(), PageError>(())
            })
        });
        handed.map_err(|error| document::DocumentError::from(RasterError::from(error)))?;
        self.selections.0.insert(material, plane.clone());
        Ok(Some(places.len()))
    }
}
