//! All that a document holds, as lines: a place and what stands there. Two documents are equal when their
//! lines are. Floats are written so that each value has its own text.

use std::collections::BTreeMap;

use document::{Document, History, Material, Model, PassMap};
use layers::{Content, Layer, Mask, MaskSource, PaintedCell};
use raster::{Bitmap, Plane, TileRead};

pub(crate) type Lines = BTreeMap<String, String>;

/// Every entry of a history by its number: its label and its document.
pub(crate) fn entries(history: &History) -> BTreeMap<u64, (String, Lines)> {
    let entries = history.entries().0;
    entries.map(|entry| (entry.number, (entry.label.clone(), lines(&entry.document)))).collect()
}

/// The number of the entry that is shown.
pub(crate) fn present(history: &History) -> u64 {
    let (mut entries, present) = history.entries();
    entries.nth(present).unwrap().number
}

pub(crate) fn lines(document: &Document) -> Lines {
    let mut lines = Lines::new();
    put(&mut lines, "channels", &document.channels);
    if let Some(model) = &document.model {
        of_model(&mut lines, model);
    }
    for (index, material) in document.materials.iter().enumerate() {
        of_material(&mut lines, &format!("material {index}"), material);
    }
    lines
}

fn put(lines: &mut Lines, place: impl Into<String>, what: impl std::fmt::Debug) {
    let place = place.into();
    assert!(lines.insert(place.clone(), format!("{what:?}")).is_none(), "{place} twice");
}

fn of_model(lines: &mut Lines, model: &Model) {
    put(lines, "model/hash", model.hash());
    let data = model.mesh().data();
    let bits = |floats: &[f32]| floats.iter().map(|f| f.to_bits()).collect::<Vec<_>>();
    put(lines, "model/mesh", data);
    put(lines, "model/positions", bits(bytemuck::cast_slice(&data.positions)));
    for (index, came) in model.materials().iter().enumerate() {
        let place = format!("model/material {index}");
        put(lines, format!("{place}/base"), came.base_colour);
        put(lines, format!("{place}/factors"), (came.roughness, came.metalness));
        let maps = [&came.base_colour_map, &came.roughness_map, &came.metalness_map];
        for (map, bitmap) in maps.into_iter().enumerate() {
            if let Some(bitmap) = bitmap {
                put(lines, format!("{place}/map {map}"), of_bitmap(bitmap));
            }
        }
        for (map, pass) in came.pass_maps.iter().enumerate() {
            put(lines, format!("{place}/pass map {:?} {map}", pass.kind), of_pass_map(pass));
        }
    }
}

fn of_bitmap(bitmap: &Bitmap<u16>) -> String {
    format!("{:?} {} {:?}", bitmap.extent(), bitmap.components(), bitmap.values())
}

fn of_pass_map(map: &PassMap) -> String {
    format!("{} {:?} {:?}", map.media_type, map.factor, map.bytes)
}

fn of_material(lines: &mut Lines, place: &str, material: &Material) {
    put(lines, format!("{place}/id"), material.id);
    put(lines, format!("{place}/name"), &material.name);
    put(lines, format!("{place}/size"), material.size);
    put(lines, format!("{place}/blend space"), material.blend_space);
    put(lines, format!("{place}/ground"), &material.ground);
    let ids: Vec<_> = material.stack.layers.iter().map(|layer| layer.id).collect();
    put(lines, format!("{place}/layers"), ids);
    for layer in material.stack.walk() {
        of_layer(lines, &format!("{place}/layer {}", layer.id), layer);
    }
    for (layer, recipe) in &material.recipes {
        let place = format!("{place}/recipe {layer}");
        put(lines, format!("{place}/base"), recipe.base.is_some());
        for (channel, cell) in recipe.base.iter().flat_map(|base| &base.cells) {
            of_cell(lines, &format!("{place}/base/{channel}"), cell);
        }
        for (number, step) in recipe.steps.iter().enumerate() {
            put(lines, format!("{place}/step {number}"), (&step.step, step.blend_space));
            if let Some(within) = &step.within {
                of_plane(lines, &format!("{place}/step {number}/selection"), within.plane());
            }
        }
    }
    put(lines, format!("{place}/is selected"), material.selection.is_some());
    if let Some(selection) = &material.selection {
        of_plane(lines, &format!("{place}/selection"), selection.plane());
    }
    for (field, plane) in &material.fields {
        of_plane(lines, &format!("{place}/field {}", field.key()), plane);
    }
    for (number, map) in material.pass_maps.iter().enumerate() {
        put(lines, format!("{place}/pass map {number}"), (map.kind, of_pass_map(map)));
    }
}

fn of_layer(lines: &mut Lines, place: &str, layer: &Layer) {
    put(lines, format!("{place}/name"), &layer.name);
    put(lines, format!("{place}/visible"), layer.visible);
    put(lines, format!("{place}/opacity"), layer.opacity);
    of_mask(lines, &format!("{place}/mask"), &layer.mask);
    for (channel, cell) in &layer.cells {
        let place = format!("{place}/cell {channel}");
        put(lines, format!("{place}/settings"), (cell.on, cell.blend, cell.opacity));
        of_mask(lines, &format!("{place}/mask"), &cell.mask);
    }
    match &layer.content {
        Content::Painted(cells) => {
            put(lines, format!("{place}/painted"), cells.keys().collect::<Vec<_>>());
            for (channel, cell) in cells {
                of_cell(lines, &format!("{place}/painted/{channel}"), cell);
            }
        }
        Content::Solid(values) => put(lines, format!("{place}/solid"), values),
        Content::Group { isolation, children } => {
            let ids: Vec<_> = children.iter().map(|child| child.id).collect();
            put(lines, format!("{place}/isolation"), isolation);
            put(lines, format!("{place}/layers"), ids);
        }
    }
}

fn of_mask(lines: &mut Lines, place: &str, mask: &Mask) {
    put(lines, format!("{place}/terms"), mask.terms.iter().map(|term| term.id).collect::<Vec<_>>());
    for term in &mask.terms {
        let place = format!("{place}/term {}", term.id.0);
        let settings = (term.on, term.invert, term.strength, term.combine);
        put(lines, format!("{place}/settings"), settings);
        match &term.source {
            MaskSource::Painted(plane) => of_plane(lines, &place, plane),
            MaskSource::Field(expr) => put(lines, format!("{place}/field"), expr),
        }
    }
}

fn of_cell(lines: &mut Lines, place: &str, cell: &PaintedCell) {
    for (component, plane) in cell.values.iter().enumerate() {
        of_plane(lines, &format!("{place}/values {component}"), plane);
    }
    of_plane(lines, &format!("{place}/coverage"), &cell.coverage);
}

fn of_plane(lines: &mut Lines, place: &str, plane: &Plane) {
    put(lines, format!("{place}/extent"), plane.extent());
    for at in plane.extent().tile_places() {
        let text = match plane.tile(at).read().unwrap() {
            TileRead::Texels(texels) if texels.iter().any(|value| *value != texels[0]) => {
                blake3::hash(bytemuck::cast_slice(&texels[..])).to_string()
            }
            read => format!("uniform {}", read.at(0)),
        };
        lines.insert(format!("{place}/tile {} {}", at.x, at.y), text);
    }
}

/// The first place where two documents differ.
pub(crate) fn difference(a: &Lines, b: &Lines) -> Option<String> {
    let places = a.keys().chain(b.keys());
    let differs = places.filter(|place| a.get(*place) != b.get(*place)).min()?;
    let short =
        |lines: &Lines| lines.get(differs).map(|text| text.chars().take(200).collect::<String>());
    Some(format!("{differs}: {:?} and {:?}", short(a), short(b)))
}

/// Looks whether two histories have the same entries and show the same one.
#[track_caller]
pub(crate) fn assert_same(a: &History, b: &History) {
    assert_eq!(present(a), present(b));
    let (a, b) = (entries(a), entries(b));
    assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>());
    for (number, (label, lines)) in &a {
        assert_eq!(*label, b[number].0);
        assert_eq!(difference(lines, &b[number].1), None, "revision {number}");
    }
}
