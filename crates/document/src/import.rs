//! Import: a model becomes a document with one material for each of the model's.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{
    BlendSpace, ChannelId, ChannelKind, Content, Ground, Layer, LayerId, PaintedCell, Stack, Value,
};
use raster::{Bitmap, Plane, TextureSize, from_unit, resample_covered};

use crate::{
    Document, DocumentError, Material, MaterialId, Model, ModelMaterial, Recipe, RecipeBase,
    Recipes,
};

/// The document with a model brought in. Factors become the ground; maps become a painted layer.
pub(crate) fn imported(
    document: &Document,
    model: &Arc<Model>,
    size: TextureSize,
) -> Result<Document, DocumentError> {
    if document.model.is_some() {
        return Err(DocumentError::HasModel);
    }
    let names = model.mesh().material_names();
    let materials = (0u32..)
        .zip(model.materials().iter().zip(names))
        .map(|(number, (came, name))| material(MaterialId(number), name, came, size).map(Arc::new));
    Ok(Document {
        channels: Arc::clone(&document.channels),
        model: Some(Arc::clone(model)),
        materials: materials.collect::<Result<_, _>>()?,
    })
}

fn material(
    id: MaterialId,
    name: &str,
    came: &ModelMaterial,
    size: TextureSize,
) -> Result<Material, DocumentError> {
    let ground = Ground::from([
        (ChannelId::BASE_COLOUR, Value::Colour(came.base_colour.to_stored())),
        (ChannelId::ROUGHNESS, Value::Scalar(from_unit(came.roughness))),
        (ChannelId::METALNESS, Value::Scalar(from_unit(came.metalness))),
    ]);
    let mut material = Material {
        id,
        name: name.to_owned(),
        size,
        blend_space: BlendSpace::Encoded,
        ground,
        stack: Stack::default(),
        recipes: Recipes::default(),
        fields: BTreeMap::new(),
        selection: None,
        pass_maps: came.pass_maps.clone().into(),
    };
    let base = base_of(came);
    if !base.cells.is_empty() {
        let layer = Layer::new(LayerId(0), "imported", Content::Painted(at_size(&base, size)?));
        material.stack = Stack { layers: vec![Arc::new(layer)] };
        let recipe = Recipe { base: Some(Arc::new(base)), steps: rpds::VectorSync::default() };
        material.recipes = material.recipes.insert(LayerId(0), recipe);
    }
    Ok(material)
}

/// The maps at their own sizes, each covering all of its texture.
fn base_of(came: &ModelMaterial) -> RecipeBase {
    let cell = |map: &Arc<Bitmap<u16>>| PaintedCell {
        values: (0..map.components()).map(|component| map.plane(component)).collect(),
        coverage: Plane::uniform(map.extent(), u16::MAX),
    };
    let maps = [
        (ChannelId::BASE_COLOUR, &came.base_colour_map),
        (ChannelId::ROUGHNESS, &came.roughness_map),
        (ChannelId::METALNESS, &came.metalness_map),
    ];
    let cells = maps.into_iter().filter_map(|(id, map)| Some((id, cell(map.as_ref()?))));
    RecipeBase { cells: cells.collect() }
}

fn at_size(
    base: &RecipeBase,
    size: TextureSize,
) -> Result<BTreeMap<ChannelId, PaintedCell>, DocumentError> {
    let cells = base.cells.iter().map(|(id, cell)| {
        let encoded = cell.values.len() == ChannelKind::Colour.components();
        let (values, coverage) =
            resample_covered(&cell.values, &cell.coverage, size.extent(), encoded)?;
        Ok((*id, PaintedCell { values, coverage }))
    });
    cells.collect()
}
