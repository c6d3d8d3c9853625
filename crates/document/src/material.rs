//! A material: what shares one set of textures and one layer stack.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{BlendSpace, FieldId, Fields, Ground, LayerId, LayersError, Stack};
use raster::{Plane, TextureSize, Tile, TileAt};
use surface::MaterialSlot;

use crate::{PassMap, Recipe, Recipes, Selection};

/// Which material of a document; the same number as its slot in the mesh.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MaterialId(pub u32);

impl MaterialId {
    /// The mesh's material of the same number.
    pub const fn slot(self) -> MaterialSlot {
        MaterialSlot(self.0)
    }
}

/// One material. A value: an edit makes a new one that shares what did not change.
#[derive(Debug, Clone)]
pub struct Material {
    /// Which it is.
    pub id: MaterialId,
    /// Its name, as imported.
    pub name: String,
    /// The edge of its textures.
    pub size: TextureSize,
    /// In which values colours blend.
    pub blend_space: BlendSpace,
    /// The opaque value of each channel under all layers.
    pub ground: Ground,
    /// Its layers.
    pub stack: Stack,
    /// What was painted into each layer, to be painted again at another size.
    pub recipes: Recipes,
    /// Baked fields, at the size of its textures.
    pub fields: BTreeMap<FieldId, Plane>,
    /// What may be painted; everything where there is none.
    pub selection: Option<Arc<Selection>>,
    /// Maps that go through unpainted.
    pub pass_maps: Arc<[PassMap]>,
}

impl Material {
    /// What was painted into a layer; empty when nothing was.
    pub fn recipe(&self, layer: LayerId) -> Recipe {
        self.recipes.get(&layer).cloned().unwrap_or_default()
    }
}

impl Fields for Material {
    fn tile(&self, field: FieldId, at: TileAt) -> Result<Option<Tile>, LayersError> {
        Ok(self.fields.get(&field).map(|plane| plane.tile(at).clone()))
    }
}
