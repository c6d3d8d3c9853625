//! The table as a person uses it: controls found by their names, edits counted in the history.

mod aims;
mod arranging;
mod looks;
mod settings;

use std::sync::Arc;

use document::{CellEdit, LayerEdit, MaterialEdit, NewContent};
use egui::Pos2;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use layers::{BlendMode, ChannelId, Isolation, Layer, LayerId, Place, Value};

use crate::desk::Desk;
use crate::testing::{bell_desk, harness};

const SIZE: [f32; 2] = [1280.0, 800.0];

/// The bell with these layers more, over the painted "Layer 1" that it has: a solid "Base" with values in two
/// channels, and a group "Age" that holds a painted "Wear".
fn layered_desk() -> Desk {
    let mut desk = bell_desk();
    let solid = [
        (ChannelId::BASE_COLOUR, Value::Colour([40_000, 25_000, 12_000])),
        (ChannelId::ROUGHNESS, Value::Scalar(27_000)),
    ];
    add(&mut desk, 10, "Base", NewContent::Solid(solid.into()), (None, 1));
    add(&mut desk, 11, "Age", NewContent::Group(Isolation::Isolated), (None, 2));
    add(&mut desk, 12, "Wear", NewContent::Painted, (Some(11), 0));
    desk
}

fn add(desk: &mut Desk, id: u32, name: &str, content: NewContent, at: (Option<u32>, usize)) {
    let place = Place { parent: at.0.map(LayerId), index: at.1 };
    let (layer, name) = (LayerId(id), name.to_owned());
    assert!(desk.edit_material(MaterialEdit::AddLayer { layer, name, content, place }));
}

fn layered() -> Harness<'static, Desk> {
    let mut harness = harness(layered_desk(), SIZE);
    harness.run();
    harness
}

fn edits(harness: &Harness<'_, Desk>) -> usize {
    harness.state().editor.history().entries().0.len()
}

fn layer(harness: &Harness<'_, Desk>, id: u32) -> Arc<Layer> {
    Arc::clone(harness.state().material().unwrap().stack.find(LayerId(id)).unwrap())
}

/// Every layer's id from the top, with the number of groups that it lies in.
fn order(harness: &Harness<'_, Desk>) -> Vec<(u32, usize)> {
    let stack = &harness.state().material().unwrap().stack;
    let rows = super::rows::rows(stack, &[].into());
    rows.iter().map(|row| (row.layer.id.0, row.depth)).collect()
}

fn centre(harness: &Harness<'_, Desk>, label: &str) -> Pos2 {
    harness.get_by_label(label).rect().center()
}

fn drag(harness: &mut Harness<'_, Desk>, from: Pos2, to: Pos2) {
    harness.hover_at(from);
    harness.run_ok();
    harness.drag_at(from);
    harness.run_ok();
    for step in 1..=4 {
        harness.hover_at(from + (to - from) * (step as f32 / 4.0));
        harness.step();
    }
    harness.drop_at(to);
    harness.run_ok();
}

fn set_blend(harness: &mut Harness<'_, Desk>, id: u32, channel: ChannelId, mode: BlendMode) {
    let edit = LayerEdit::Cells(vec![channel], CellEdit::Blend(mode));
    assert!(harness.state_mut().edit_layer(LayerId(id), edit));
    harness.run();
}
