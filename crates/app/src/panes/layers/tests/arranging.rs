use egui::vec2;

use super::*;
use crate::commands::{Command, FileCommand, LayerCommand};

// From the top: group Age (11) with Wear (12), Base (10), Layer 1 (0).
const START: [(u32, usize); 4] = [(11, 0), (12, 1), (10, 0), (0, 0)];

fn undo(harness: &mut Harness<'_, Desk>) {
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    harness.run();
}

#[test]
fn a_layer_dragged_by_its_grip_lands_below_another_as_one_edit() {
    let mut harness = layered();
    assert_eq!(order(&harness), START);
    let before = edits(&harness);
    let (from, to) = (centre(&harness, "Move Base"), centre(&harness, "Move Layer 1"));
    drag(&mut harness, from, to + vec2(0.0, 12.0));
    assert_eq!(order(&harness), [(11, 0), (12, 1), (0, 0), (10, 0)]);
    assert_eq!(edits(&harness), before + 1);
    undo(&mut harness);
    assert_eq!(order(&harness), START);
}

#[test]
fn a_layer_dragged_onto_a_group_by_its_name_lands_in_it_as_one_edit() {
    let mut harness = layered();
    let before = edits(&harness);
    let (from, to) = (centre(&harness, "Base"), centre(&harness, "Age"));
    drag(&mut harness, from, to);
    assert_eq!(order(&harness), [(11, 0), (10, 1), (12, 1), (0, 0)]);
    assert_eq!(edits(&harness), before + 1);
    undo(&mut harness);
    assert_eq!(order(&harness), START);
}

#[test]
fn a_layer_let_go_where_it_is_or_off_the_table_is_no_edit() {
    let mut harness = layered();
    let before = edits(&harness);
    let from = centre(&harness, "Move Base");
    drag(&mut harness, from, from + vec2(0.0, 10.0));
    drag(&mut harness, from, egui::pos2(1200.0, 300.0));
    assert_eq!((order(&harness), edits(&harness)), (START.to_vec(), before));
}

#[test]
fn keys_move_a_layer_up_into_a_group_and_out_again() {
    let mut harness = layered();
    harness.get_by_label("Layer 1").click();
    harness.run();
    let mut does = |command, expected: [(u32, usize); 4]| {
        harness.state_mut().perform(Command::Layer(command));
        harness.run();
        assert_eq!(order(&harness), expected, "{command:?}");
    };
    does(LayerCommand::MoveUp, [(11, 0), (12, 1), (0, 0), (10, 0)]);
    does(LayerCommand::MoveInto, [(11, 0), (12, 1), (0, 1), (10, 0)]);
    does(LayerCommand::MoveUp, [(11, 0), (0, 1), (12, 1), (10, 0)]);
    does(LayerCommand::MoveOut, [(0, 0), (11, 0), (12, 1), (10, 0)]);
    does(LayerCommand::MoveUp, [(0, 0), (11, 0), (12, 1), (10, 0)]);
    does(LayerCommand::MoveDown, [(11, 0), (12, 1), (0, 0), (10, 0)]);
}

#[test]
fn a_folded_group_hides_its_rows_and_rows_are_chosen_by_keys() {
    let mut harness = layered();
    harness.get_by_label("Age open").click();
    harness.run();
    assert!(harness.query_by_label("Wear").is_none());
    harness.get_by_label("Age").click();
    harness.run();
    harness.state_mut().perform(Command::Layer(LayerCommand::ChooseBelow));
    assert_eq!(harness.state().chosen.layer, Some(LayerId(10)));
    harness.state_mut().perform(Command::Layer(LayerCommand::ChooseAbove));
    harness.state_mut().perform(Command::Layer(LayerCommand::Fold));
    harness.run();
    assert!(harness.query_by_label("Wear").is_some());
}

#[test]
fn duplicating_merging_and_clearing_are_one_edit_each() {
    let mut harness = layered();
    harness.get_by_label("Layer 1").click();
    harness.run();
    let before = edits(&harness);
    harness.get_by_label("Duplicate layer").click();
    harness.run();
    let copy = harness.state().chosen.layer.unwrap();
    assert_eq!(order(&harness)[3..], [(copy.0, 0), (0, 0)]);
    harness.get_by_label("Merge down").click();
    harness.run();
    assert_eq!((order(&harness), edits(&harness)), (START.to_vec(), before + 2));
    assert_eq!(harness.state().chosen.layer, Some(LayerId(0)));
}
