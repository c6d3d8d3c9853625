//! Decals in hand: nothing else that is done loses them, and they are painted over nothing else.

use document::{MaterialId, Shape, Step};
use egui::{PointerButton, Pos2, vec2};
use egui_kittest::Harness;
use layers::Opacity;

use super::{button, drag, edits, on_chosen, open};
use crate::chosen::Chosen;
use crate::commands::{Command, FileCommand};
use crate::desk::Desk;
use crate::lettering::lettering;

/// The chosen layer's decals.
fn decals(desk: &Desk) -> Vec<brush::Decal> {
    let Some(layer) = desk.chosen.layer else { return Vec::new() };
    let recipe = desk.material().unwrap().recipe(layer);
    let of = |step: &document::RecipeStep| match &*step.step {
        Step::Deposit { shape: Shape::Decal(decal), .. } => Some(decal.clone()),
        _ => None,
    };
    recipe.steps.iter().filter_map(of).collect()
}

fn until(harness: &mut Harness<'static, Desk>, so: impl Fn(&Desk) -> bool) {
    while !so(harness.state()) {
        harness.step();
        std::thread::yield_now();
    }
}

/// A decal that was set down, and is not kept.
fn set_down() -> (Harness<'static, Desk>, Pos2) {
    let mut harness = open();
    let at = on_chosen(harness.state());
    harness.state_mut().take_decal(lettering("No 7").unwrap());
    drag(&mut harness, PointerButton::Primary, at, vec2(3.0, 0.0));
    until(&mut harness, |desk| !desk.is_trying());
    assert!(harness.state().editor.tried_step().is_some());
    (harness, at)
}

#[test]
fn it_becomes_one_edit_when_it_is_kept_and_none_when_it_is_undone() {
    let (mut harness, _) = set_down();
    let before = edits(harness.state());
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    harness.run();
    assert!(harness.state().decal.is_none() && harness.state().editor.tried_step().is_none());
    assert_eq!(edits(harness.state()), before);
    let (mut harness, _) = set_down();
    harness.state_mut().keep_decal();
    harness.run();
    assert_eq!((edits(harness.state()), decals(harness.state()).len()), (before + 1, 1));
}

#[test]
fn whatever_else_is_done_keeps_it_first() {
    let opacity = Opacity::new(0.5).unwrap();
    let others: [fn(&mut Desk, Opacity); 3] = [
        |desk, opacity| {
            let layer = desk.chosen.layer.unwrap();
            let edit = document::LayerEdit::Opacity(opacity);
            assert!(desk.edit_material(document::MaterialEdit::Layer(layer, edit)));
        },
        |desk, _| desk.take_decal(lettering("another").unwrap()),
        |desk, _| desk.draw_path(1.0),
    ];
    for other in others {
        let (mut harness, _) = set_down();
        let before = edits(harness.state());
        other(harness.state_mut(), opacity);
        harness.run();
        assert!(edits(harness.state()) > before);
        assert_eq!(decals(harness.state()).len(), 1);
    }
}

#[test]
fn another_material_gets_nothing_of_it() {
    let (mut harness, _) = set_down();
    let first = harness.state().chosen.clone();
    let other = Chosen::of(harness.state().document(), MaterialId(1));
    assert_ne!(first.material, other.material);
    harness.state_mut().chosen = other;
    harness.run();
    assert!(harness.state().decal.is_none() && decals(harness.state()).is_empty());
    harness.state_mut().chosen = first;
    assert_eq!(decals(harness.state()).len(), 1);
}

#[test]
fn a_kept_one_is_moved_by_one_edit_and_undo_brings_it_back() {
    let (mut harness, at) = set_down();
    harness.state_mut().keep_decal();
    let (layer, before) = (harness.state().chosen.layer.unwrap(), edits(harness.state()));
    let was = decals(harness.state());
    let number = harness.state().kept_decals()[0];
    harness.state_mut().take_kept_decal(layer, number);
    harness.run();
    harness.hover_at(at);
    button(&harness, at, PointerButton::Primary, true);
    harness.hover_at(at + vec2(12.0, 6.0));
    button(&harness, at + vec2(12.0, 6.0), PointerButton::Primary, false);
    harness.step();
    until(&mut harness, |desk| desk.tasks.is_empty());
    for _ in 0..4 {
        harness.step();
    }
    assert!(harness.state().tasks.is_empty());
    assert_eq!(edits(harness.state()), before + 1);
    assert_ne!(decals(harness.state()), was);
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    for _ in 0..4 {
        harness.step();
    }
    assert_eq!(decals(harness.state()), was);
    assert!(harness.state().tasks.is_empty() && harness.state().decal.is_none());
}
