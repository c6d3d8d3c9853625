use document::{MaskAt, MaskOwner};
use egui::Modifiers;
use layers::TermId;
use viewport::Shown;

use super::*;
use crate::chosen::{Aim, Chosen};
use crate::commands::{Command, FileCommand, LayerCommand};

#[test]
fn a_click_on_a_cell_aims_at_it_and_a_click_on_the_name_at_all_channels() {
    let mut harness = layered();
    let before = edits(&harness);
    harness.get_by_label("Wear, Roughness").click();
    harness.run();
    let chosen = &harness.state().chosen;
    assert_eq!(chosen.layer, Some(LayerId(12)));
    assert_eq!(chosen.aim, Aim::Cells([ChannelId::ROUGHNESS].into()));
    harness.get_by_label("Layer 1").click();
    harness.run();
    let desk = harness.state();
    assert_eq!(desk.chosen.layer, Some(LayerId(0)));
    assert_eq!(desk.chosen.aim, Chosen::all_cells(desk.document()));
    assert_eq!(edits(&harness), before, "choosing is no edit");
}

#[test]
fn a_cell_clicked_with_a_key_held_is_aimed_at_too() {
    let mut harness = layered();
    harness.get_by_label("Wear, Roughness").click();
    harness.run();
    harness.get_by_label("Wear, Metalness").click_modifiers(Modifiers::COMMAND);
    harness.run();
    let both = Aim::Cells([ChannelId::ROUGHNESS, ChannelId::METALNESS].into());
    assert_eq!(harness.state().chosen.aim, both);
    harness.get_by_label("Wear, Metalness").click_modifiers(Modifiers::COMMAND);
    harness.run();
    assert_eq!(harness.state().chosen.aim, Aim::Cells([ChannelId::ROUGHNESS].into()));
}

#[test]
fn a_click_on_a_head_shows_the_channel_alone_and_another_all_of_it_lit() {
    let mut harness = layered();
    harness.get_by_label("Roughness column").click();
    harness.run();
    assert_eq!(harness.state().model_view.shown, Shown::Roughness);
    harness.get_by_label("Roughness column").click();
    harness.run();
    assert_eq!(harness.state().model_view.shown, Shown::Lit);
}

#[test]
fn a_new_mask_is_aimed_at_and_its_cell_aims_there_again() {
    let mut harness = layered();
    harness.get_by_label("Wear").click();
    harness.run();
    let before = edits(&harness);
    harness.state_mut().perform(Command::Layer(LayerCommand::AddBlackMask));
    harness.run();
    let aim = Aim::Mask(MaskAt { owner: MaskOwner::Layer, term: TermId(0) });
    assert_eq!((edits(&harness), &harness.state().chosen.aim), (before + 1, &aim));
    harness.get_by_label("Layer 1").click();
    harness.run();
    harness.get_by_label("Mask of Wear").click();
    harness.run();
    assert_eq!(harness.state().chosen.aim, aim);
    assert_eq!(harness.state().chosen.layer, Some(LayerId(12)));
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    harness.run();
    let desk = harness.state();
    assert_eq!(desk.chosen.aim, Chosen::all_cells(desk.document()), "the term is gone");
}

#[test]
fn a_new_layer_is_chosen_and_the_one_below_where_it_goes() {
    let mut harness = layered();
    harness.get_by_label("Base").click();
    harness.run();
    // The brush panel offers it too, as a solid layer takes no paint.
    harness.get_all_by_label("Add painted layer").next().unwrap().click();
    harness.run();
    let added = harness.state().chosen.layer.unwrap();
    assert_eq!(order(&harness)[2..], [(added.0, 0), (10, 0), (0, 0)]);
    harness.get_by_label("Delete layer").click();
    harness.run();
    assert_eq!(harness.state().chosen.layer, Some(LayerId(10)));
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    harness.run();
    assert_eq!(harness.state().chosen.layer, Some(added), "it came back");
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    harness.run();
    assert_eq!(harness.state().chosen.layer, Some(LayerId(10)), "it was never added");
}
