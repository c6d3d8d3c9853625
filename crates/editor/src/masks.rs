//! A mask on show: 8 bits a texel, and only where it changed since it was shown.

use std::collections::BTreeMap;

use document::{Document, MaskOwner, MaterialId};
use layers::{LayerId, LayersError, changed_mask_tiles};
use raster::{TILE_TEXELS, TileAt, TileSet};
use rayon::prelude::*;

use crate::thumbnail::{layer_of, mask_of};
use crate::{Editor, EditorError};

/// One mask of each material, and the document that it was shown of last.
#[derive(Debug, Default)]
pub(crate) struct MasksOnShow(BTreeMap<MaterialId, (LayerId, MaskOwner, Document)>);

impl MasksOnShow {
    /// Shows nothing any more: another model has come.
    pub(crate) fn clear(&mut self) {
        self.0.clear();
    }

    /// The next look at a mask of this material is at all of it.
    pub(crate) fn forget(&mut self, material: MaterialId) {
        self.0.remove(&material);
    }
}

impl Editor {
    /// Gives the tiles of a mask, from [`Editor::shown`], that changed since this was called last for the
    /// same mask: all of them when another mask of the material was looked at since. 255 lets all through.
    /// Each is handed to `sink`, on several threads and in any order. Gives how many there were.
    ///
    /// # Errors
    /// [`EditorError::Document`] or [`EditorError::Layers`] where there is no such material or layer, where a
    /// mask reads a field that is not baked, or a tile can't be read. The next call then gives the same
    /// tiles again.
    pub fn mask_tiles(
        &mut self,
        material: MaterialId,
        layer: LayerId,
        owner: MaskOwner,
        sink: &(dyn Fn(TileAt, &[u8; TILE_TEXELS]) + Sync),
    ) -> Result<usize, EditorError> {
        let shown = self.shown().clone();
        let now = shown.composition(material)?;
        let mask = mask_of(layer_of(&shown, material, layer)?, owner);
        let known =
            self.masks.0.get(&material).filter(|(of, whose, _)| (*of, *whose) == (layer, owner));
        let changed = match known {
            Some((.., before)) => {
                let was = mask_of(layer_of(before, material, layer)?, owner);
                changed_mask_tiles(&before.composition(material)?, &now, [was, mask])
            }
            None => TileSet::all(now.size.extent()),
        };
        let places: Vec<TileAt> = changed.iter().collect();
        self.pools.interactive(|| {
            places.par_iter().try_for_each(|&at| {
                let mut bytes = [0; TILE_TEXELS];
                now.mask_tile(mask, at)?.write_bytes(&mut bytes);
                sink(at, &bytes);
                Ok::<(), LayersError>(())
            })
        })?;
        self.masks.0.insert(material, (layer, owner, shown.clone()));
        Ok(places.len())
    }
}
