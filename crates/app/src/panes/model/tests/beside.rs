//! Edits that take long: none is lost, and undo gives them up.

use egui::{PointerButton, vec2};

use super::{drag, edits, on_chosen, open};
use crate::commands::{AreaCommand, Command, FileCommand};
use crate::desk::Desk;

fn mirror(desk: &mut Desk) {
    desk.perform(Command::Area(AreaCommand::CopyAcross));
}

#[test]
fn one_waits_for_the_other_and_a_stroke_that_comes_between_is_kept_too() {
    let mut harness = open();
    let at = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, at, vec2(10.0, 0.0));
    let before = edits(harness.state());
    mirror(harness.state_mut());
    mirror(harness.state_mut());
    drag(&mut harness, PointerButton::Primary, at, vec2(0.0, 12.0));
    while !harness.state().tasks.is_empty() {
        harness.step();
        std::thread::yield_now();
    }
    assert_eq!(edits(harness.state()), before + 3);
    assert!(harness.state().notices.all().is_empty());
}

#[test]
fn undo_gives_up_what_is_being_made() {
    let mut harness = open();
    let at = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, at, vec2(10.0, 0.0));
    let (before, document) = (edits(harness.state()), harness.state().document().clone());
    mirror(harness.state_mut());
    mirror(harness.state_mut());
    assert!(!harness.state().tasks.is_empty());
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    for _ in 0..3 {
        harness.step();
    }
    assert!(harness.state().tasks.is_empty());
    assert_eq!(edits(harness.state()), before);
    assert!(super::is_same(&document, harness.state().document()));
}
