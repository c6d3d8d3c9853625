//! What can be done with a row: under its right button, and under the three dots.

use egui::Ui;
use layers::Layer;

use super::blend;
use super::columns::Columns;
use super::head::menu_item;
use crate::commands::LayerCommand;
use crate::desk::Desk;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, layer: &Layer, columns: &Columns) {
    let place = desk.material().and_then(|material| material.stack.place_of(layer.id));
    let Some(place) = place else { return };
    if columns.blend.is_none() {
        ui.menu_button("Blend", |ui| blend::row_modes(ui, desk, layer));
        ui.separator();
    }
    menu_item(ui, desk, LayerCommand::Rename, true);
    menu_item(ui, desk, LayerCommand::ToggleVisible, true);
    menu_item(ui, desk, LayerCommand::Duplicate, true);
    menu_item(ui, desk, LayerCommand::MergeDown, place.index > 0);
    menu_item(ui, desk, LayerCommand::Clear, true);
    ui.separator();
    menu_item(ui, desk, LayerCommand::AddWhiteMask, true);
    menu_item(ui, desk, LayerCommand::AddBlackMask, true);
    ui.separator();
    menu_item(ui, desk, LayerCommand::MoveUp, true);
    menu_item(ui, desk, LayerCommand::MoveDown, true);
    menu_item(ui, desk, LayerCommand::MoveInto, true);
    menu_item(ui, desk, LayerCommand::MoveOut, place.parent.is_some());
    ui.separator();
    menu_item(ui, desk, LayerCommand::Delete, true);
}
