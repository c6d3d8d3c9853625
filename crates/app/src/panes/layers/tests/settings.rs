use egui::{Key, vec2};

use super::*;
use crate::commands::{Command, FileCommand, LayerCommand};
use crate::testing::double_click;

#[test]
fn a_drag_of_the_opacity_is_one_edit_and_undo_restores_it() {
    let mut harness = layered();
    let before = edits(&harness);
    let from = centre(&harness, "Opacity of Wear");
    drag(&mut harness, from, from - vec2(60.0, 0.0));
    let opacity = layer(&harness, 12).opacity.get();
    assert!(opacity < 0.9, "{opacity}");
    assert_eq!(edits(&harness), before + 1);
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    harness.run();
    assert_eq!(layer(&harness, 12).opacity.get(), 1.0);
}

#[test]
fn a_number_in_a_solid_cell_is_changed_by_a_drag_as_one_edit() {
    let mut harness = layered();
    let before = edits(&harness);
    let from = centre(&harness, "Base, Roughness");
    drag(&mut harness, from, from + vec2(40.0, 0.0));
    let layers::Content::Solid(values) = layer(&harness, 10).content.clone() else {
        panic!("solid stays solid")
    };
    assert!(matches!(values[&ChannelId::ROUGHNESS], Value::Scalar(level) if level > 30_000));
    assert_eq!(edits(&harness), before + 1);
}

#[test]
fn a_mode_chosen_for_a_row_goes_to_all_its_channels_as_one_edit() {
    let mut harness = layered();
    let before = edits(&harness);
    harness.get_by_label("Blend of Base").click();
    harness.run();
    harness.get_by_label("Overlay").click();
    harness.run();
    let changed = layer(&harness, 10);
    for channel in [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS, ChannelId::METALNESS] {
        assert_eq!(changed.cell(channel).blend, BlendMode::Overlay);
    }
    assert_eq!(edits(&harness), before + 1);
}

#[test]
fn cells_that_blend_otherwise_make_the_row_mixed() {
    let mut harness = layered();
    let shown = |harness: &Harness<'_, Desk>| harness.get_by_label("Blend of Base").value();
    assert_eq!(shown(&harness).as_deref(), Some("Normal"));
    set_blend(&mut harness, 10, ChannelId::ROUGHNESS, BlendMode::Multiply);
    assert_eq!(shown(&harness).as_deref(), Some("mixed"));
    set_blend(&mut harness, 10, ChannelId::BASE_COLOUR, BlendMode::Multiply);
    assert_eq!(shown(&harness).as_deref(), Some("Multiply"), "the third channel is empty");
}

#[test]
fn a_double_click_renames_and_enter_keeps_the_name() {
    let mut harness = layered();
    let before = edits(&harness);
    double_click(&mut harness, "Wear");
    let field = harness.get_by_label("Name of the layer");
    field.type_text("Handling wear");
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(layer(&harness, 12).name, "Handling wear");
    assert_eq!(edits(&harness), before + 1);
    harness.state_mut().perform(Command::Layer(LayerCommand::Rename));
    harness.run();
    harness.get_by_label("Name of the layer").type_text("never mind");
    harness.run();
    harness.key_press(Key::Escape);
    harness.run();
    assert_eq!(layer(&harness, 12).name, "Handling wear");
    assert_eq!(edits(&harness), before + 1);
}

#[test]
fn the_eye_and_the_settings_of_a_cell_are_edits() {
    let mut harness = layered();
    let before = edits(&harness);
    harness.get_by_label("Wear visible").click();
    harness.run();
    assert!(!layer(&harness, 12).visible);
    harness.get_by_label("Wear, Metalness").click_secondary();
    harness.run();
    harness.get_by_label("On").click();
    harness.run();
    assert!(!layer(&harness, 12).cell(ChannelId::METALNESS).on);
    harness.get_by_label("Mask this cell, black").click();
    harness.run();
    assert_eq!(layer(&harness, 12).cell(ChannelId::METALNESS).mask.terms.len(), 1);
    assert_eq!(edits(&harness), before + 3);
}

#[test]
fn the_terms_of_a_mask_are_listed_with_all_that_they_are_set_to() {
    let mut harness = layered();
    harness.get_by_label("Wear").click();
    harness.run();
    harness.state_mut().perform(Command::Layer(LayerCommand::AddWhiteMask));
    harness.state_mut().perform(Command::Layer(LayerCommand::AddBlackMask));
    harness.state_mut().perform(Command::Layer(LayerCommand::CellSettings));
    harness.run();
    let before = edits(&harness);
    harness.get_by_label("Invert Painted 2").click();
    harness.run();
    harness.get_by_label("Combine Painted 2 earlier").click();
    harness.run();
    let terms = layer(&harness, 12).mask.terms.clone();
    assert_eq!((terms[0].id.0, terms[0].invert), (1, true));
    harness.get_by_label("Remove Painted 1").click();
    harness.run();
    assert_eq!(layer(&harness, 12).mask.terms.len(), 1);
    assert_eq!(edits(&harness), before + 3);
}

#[test]
fn the_colour_of_a_solid_cell_is_drawn_in_the_picker_as_one_edit() {
    let mut harness = layered();
    let before = edits(&harness);
    let colour = |harness: &Harness<'_, Desk>| {
        let layers::Content::Solid(values) = layer(harness, 10).content.clone() else {
            panic!("solid stays solid")
        };
        values[&ChannelId::BASE_COLOUR]
    };
    let old = colour(&harness);
    harness.get_by_label("Base, Base colour").click_secondary();
    harness.run();
    // The brush panel has one too, at the right.
    let fields = harness.query_all_by_label("Saturation and value").map(|field| field.rect());
    let field = fields.min_by(|a, b| a.left().total_cmp(&b.left())).unwrap().center();
    drag(&mut harness, field, field + vec2(50.0, 20.0));
    assert_ne!(colour(&harness), old);
    assert_eq!(edits(&harness), before + 1);
    harness.get_by_label("Take the brush's colour").click();
    harness.run();
    assert_eq!(colour(&harness), Value::Colour(harness.state().brush.colour()));
    assert_eq!(edits(&harness), before + 2);
}
