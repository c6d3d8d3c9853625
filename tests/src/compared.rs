//! What two documents have in common, down to the texel.

use std::collections::BTreeSet;
use std::sync::Arc;

use document::{Document, MaterialId};
use layers::{ChannelId, Composite, Content, Layer, Mask, MaskSource, composite};
use raster::{Plane, Unobserved};

/// Where two planes differ first.
pub(crate) fn plane_difference(a: &Plane, b: &Plane) -> Option<String> {
    if a.extent() != b.extent() {
        return Some(format!("extents {:?} and {:?}", a.extent(), b.extent()));
    }
    a.extent().tile_places().find_map(|at| {
        let (a, b) = (a.tile(at), b.tile(at));
        if a.same(b) {
            return None;
        }
        let (a, b) = (a.read().unwrap(), b.read().unwrap());
        let index = (0..4096).find(|&index| a.at(index) != b.at(index))?;
        Some(format!("tile {at:?}, texel {index}: {} and {}", a.at(index), b.at(index)))
    })
}

/// Every plane of a layer, and what it is.
pub(crate) fn planes_of(layer: &Layer) -> Vec<(String, Plane)> {
    let mut planes = Vec::new();
    if let Content::Painted(cells) = &layer.content {
        for (channel, cell) in cells {
            for (component, plane) in cell.values.iter().enumerate() {
                planes.push((format!("cell {channel} value {component}"), plane.clone()));
            }
            planes.push((format!("cell {channel} coverage"), cell.coverage.clone()));
        }
    }
    let cells = layer.cells.iter().map(|(channel, cell)| (format!("cell {channel}"), &cell.mask));
    for (whose, mask) in std::iter::once(("layer".to_owned(), &layer.mask)).chain(cells) {
        for term in &mask.terms {
            if let MaskSource::Painted(plane) = &term.source {
                planes.push((format!("{whose} mask term {}", term.id.0), plane.clone()));
            }
        }
    }
    planes
}

/// All of a layer but its texels.
fn settings_of(layer: &Layer) -> String {
    let terms = |mask: &Mask| -> Vec<String> {
        let field = |source: &MaskSource| match source {
            MaskSource::Painted(_) => "painted".to_owned(),
            MaskSource::Field(expr) => format!("{expr:?}"),
        };
        let terms = mask.terms.iter();
        terms
            .map(|t| {
                format!("{:?}", (t.id, t.on, t.invert, t.strength, t.combine, field(&t.source)))
            })
            .collect()
    };
    let content = match &layer.content {
        Content::Painted(cells) => format!("painted {:?}", cells.keys().collect::<Vec<_>>()),
        Content::Solid(values) => format!("solid {values:?}"),
        Content::Group { isolation, children } => format!("{isolation:?} of {}", children.len()),
    };
    let cells: Vec<_> = layer
        .cells
        .iter()
        .map(|(channel, cell)| (channel, cell.on, cell.blend, cell.opacity, terms(&cell.mask)))
        .collect();
    let own = (layer.id, &layer.name, layer.visible, layer.opacity, terms(&layer.mask));
    format!("{own:?} {content} {cells:?}")
}

/// The first difference of two documents in anything that is painted or set.
pub(crate) fn difference(a: &Document, b: &Document) -> Option<String> {
    if a.materials.len() != b.materials.len() {
        return Some("numbers of materials".to_owned());
    }
    a.materials.iter().zip(&b.materials).find_map(|(a, b)| {
        let head = |m: &document::Material| {
            let ids: Vec<_> = m.stack.ids().collect();
            format!("{:?}", (m.id, &m.name, m.size, m.blend_space, &m.ground, ids))
        };
        if head(a) != head(b) {
            return Some(format!("{} and {}", head(a), head(b)));
        }
        if let Some(found) = selection_difference(a, b) {
            return Some(found);
        }
        a.stack.walk().zip(b.stack.walk()).find_map(|(a, b)| layer_difference(a, b))
    })
}

fn selection_difference(a: &document::Material, b: &document::Material) -> Option<String> {
    match (&a.selection, &b.selection) {
        (Some(a), Some(b)) => {
            plane_difference(a.plane(), b.plane()).map(|found| format!("selection: {found}"))
        }
        (None, None) => None,
        _ => Some("one has a selection".to_owned()),
    }
}

pub(crate) fn layer_difference(a: &Layer, b: &Layer) -> Option<String> {
    if settings_of(a) != settings_of(b) {
        return Some(format!("{} and {}", settings_of(a), settings_of(b)));
    }
    let planes = planes_of(a).into_iter().zip(planes_of(b));
    planes.into_iter().find_map(|((what, a_plane), (_, b_plane))| {
        let found = plane_difference(&a_plane, &b_plane)?;
        Some(format!("layer {}, {what}: {found}", a.id))
    })
}

/// True for documents that are one: not only equal.
pub(crate) fn is_same(a: &Document, b: &Document) -> bool {
    let model = match (&a.model, &b.model) {
        (Some(a), Some(b)) => Arc::ptr_eq(a, b),
        (None, None) => true,
        _ => false,
    };
    model
        && Arc::ptr_eq(&a.channels, &b.channels)
        && a.materials.len() == b.materials.len()
        && a.materials.iter().zip(&b.materials).all(|(a, b)| Arc::ptr_eq(a, b))
}

pub(crate) fn composite_difference(
    a: &Composite,
    b: &Composite,
    channel: ChannelId,
) -> Option<String> {
    let (a, b) = (&a.channels[&channel], &b.channels[&channel]);
    let planes = a.values.iter().zip(&b.values).chain([(&a.painted, &b.painted)]);
    planes.into_iter().find_map(|(a, b)| plane_difference(a, b))
}

pub(crate) fn whole_composite(document: &Document, material: MaterialId) -> Composite {
    composite(&document.composition(material).unwrap(), &Unobserved).unwrap()
}

/// Every distinct tile that the document's layers and its recipes hold.
pub(crate) fn tiles_of(document: &Document) -> BTreeSet<usize> {
    let layers = document.materials.iter().flat_map(|material| material.stack.walk());
    let planes = layers.flat_map(|layer| planes_of(layer)).map(|(_, plane)| plane);
    let recipes = document.materials.iter().flat_map(|material| material.recipes.values());
    let bases = recipes.filter_map(|recipe| recipe.base.as_ref());
    let cells = bases.flat_map(|base| base.cells.values());
    let merged = cells.flat_map(|cell| cell.values.iter().chain([&cell.coverage]).cloned());
    let steps = document.materials.iter().flat_map(|material| material.recipes.values());
    let within =
        steps.flat_map(|recipe| recipe.steps.iter()).filter_map(|step| step.within.clone());
    let selected = document.materials.iter().filter_map(|material| material.selection.clone());
    let selections = within.chain(selected).map(|held| held.plane().clone());
    planes
        .chain(merged)
        .chain(selections)
        .flat_map(|plane| plane.tiles().filter_map(raster::Tile::address).collect::<Vec<_>>())
        .collect()
}

/// Every distinct step of the document's recipes, and the bytes that it takes.
pub(crate) fn steps_of(document: &Document) -> BTreeSet<(usize, usize)> {
    let recipes = document.materials.iter().flat_map(|material| material.recipes.values());
    let steps = recipes.flat_map(|recipe| recipe.steps.iter());
    steps.map(|painted| (Arc::as_ptr(&painted.step).addr(), painted.step.bytes())).collect()
}
