//! Merging a layer into the one right below it: their texels become those of one painted layer that looks
//! the same.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{
    BlendMode, ChannelId, Content, Isolation, Layer, LayerId, LayersError, Opacity, PaintedCell,
    Stack,
};
use raster::{Observer, Tile};

use crate::apply::without_layer;
use crate::{Document, DocumentError, Material, MaterialId, Recipe, RecipeBase};

/// The material with a layer merged down. The one below keeps its id, name and place; what comes of both
/// is the base of its recipe.
pub(crate) fn merged_down(
    document: &Document,
    id: MaterialId,
    upper: LayerId,
    observer: &dyn Observer,
) -> Result<Material, DocumentError> {
    let material = document.material(id)?;
    let (above, below) = pair(material, upper)?;
    for layer in [above, below] {
        let through = Isolation::PassThrough;
        let gives_nothing = !layer.visible || layer.opacity == Opacity::NONE;
        if gives_nothing
            || matches!(&layer.content, Content::Group { isolation, .. } if *isolation == through)
        {
            return Err(DocumentError::CannotMerge { layer: layer.id });
        }
    }
    let children = vec![Arc::clone(below), Arc::clone(above)];
    let content = Content::Group { isolation: Isolation::Isolated, children };
    let both = Layer::new(below.id, below.name.clone(), content);
    let composition = document.composition(id)?;
    let mut cells: BTreeMap<ChannelId, PaintedCell> = BTreeMap::new();
    for channel in document.channels.iter() {
        check_looks(above, below, channel.id)?;
        cells.extend(
            composition.flattened(&both, channel, observer)?.map(|cell| (channel.id, cell)),
        );
    }
    let mut merged = without_layer(Material::clone(material), above.id)?;
    merged.recipes = merged.recipes.remove(&below.id);
    let held = Stack { layers: below.children().to_vec() };
    for child in held.ids() {
        merged.recipes = merged.recipes.remove(&child);
    }
    let base = Some(Arc::new(RecipeBase { cells: cells.clone() }));
    let recipe = Recipe { base, ..Recipe::default() };
    merged.recipes = merged.recipes.insert(below.id, recipe);
    let layer = Layer::new(below.id, below.name.clone(), Content::Painted(cells));
    let stack = merged.stack.replaced(below.id, |_| Ok::<_, DocumentError>(layer))?;
    Ok(Material { stack, ..merged })
}

/// A layer and the one right below it.
fn pair(material: &Material, upper: LayerId) -> Result<(&Arc<Layer>, &Arc<Layer>), DocumentError> {
    let stack = &material.stack;
    let place = stack.place_of(upper).ok_or(LayersError::UnknownLayer(upper))?;
    let list = match place.parent {
        Some(parent) => stack.find(parent).map_or(&[][..], |group| group.children()),
        None => &stack.layers,
    };
    let lower = place.index.checked_sub(1).and_then(|below| list.get(below));
    let lower = lower.ok_or(DocumentError::NothingBelow { layer: upper })?;
    let upper = stack.find(upper).ok_or(LayersError::UnknownLayer(upper))?;
    Ok((upper, lower))
}

/// Refuses what would look otherwise. Normal over normal is the same in whichever order it is joined;
/// another mode of the upper layer is only where the lower one covers all. Another mode of the lower one
/// needs what lies below that.
fn check_looks(above: &Layer, below: &Layer, channel: ChannelId) -> Result<(), DocumentError> {
    let mode = |layer: &Layer| layer.cell(channel).blend;
    if mode(below) != BlendMode::Normal {
        return Err(DocumentError::MergeLooks { layer: below.id, mode: mode(below) });
    }
    if mode(above) != BlendMode::Normal && !covers_all(below, channel) {
        return Err(DocumentError::MergeLooks { layer: above.id, mode: mode(above) });
    }
    Ok(())
}

/// True where a layer lets nothing of what is below it through.
fn covers_all(layer: &Layer, channel: ChannelId) -> bool {
    let cell = layer.cell(channel);
    let full = Tile::Uniform(u16::MAX);
    let opaque = match &layer.content {
        Content::Solid(values) => values.contains_key(&channel),
        Content::Painted(cells) => cells
            .get(&channel)
            .is_some_and(|cell| cell.coverage.tiles().all(|tile| tile.same(&full))),
        Content::Group { .. } => false,
    };
    let masks = layer.mask.terms.is_empty() && cell.mask.terms.is_empty();
    let factors = layer.opacity == Opacity::FULL && cell.opacity == Opacity::FULL;
    opaque && masks && factors && cell.on
}
