//! While a decal is in hand: a bar over the model that says what to do, with its size and turn.

use egui::{Rect, Ui};
use lucide_icons::Icon;

use super::path_bar::floating;
use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{Scale, ValueRow, icon_text};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk, rect: Rect) {
    if desk.decal.is_none() {
        return;
    }
    keys(ui, desk);
    floating(ui, "decal bar", rect, |ui| bar(ui, desk));
}

/// Keys that are the decal's while one is in hand, and nobody types.
fn keys(ui: &Ui, desk: &mut Desk) {
    if desk.is_covered() || ui.ctx().text_edit_focused() {
        return;
    }
    let pressed = |key| ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key));
    if pressed(egui::Key::Enter) {
        desk.keep_decal();
    } else if pressed(egui::Key::Escape) {
        desk.drop_decal();
    }
}

fn bar(ui: &mut Ui, desk: &mut Desk) {
    let Some(held) = &desk.decal else { return };
    let (is_new, is_placed) = (held.kept.is_none(), held.decal.is_some());
    let (mut half, mut degrees) = (held.half, held.turn.to_degrees());
    let whole = desk.model_box().map_or(1.0, |(low, high)| low.distance(high)).max(1e-9);
    ui.horizontal(|ui| {
        let hint = if is_placed {
            "Drag on the model to move it"
        } else {
            "Click on the model to set it down"
        };
        ui.label(hint);
        ui.add_space(theme::GAP);
        let keep = if is_new { "Keep" } else { "Done" };
        let button = egui::Button::new((icon_text(Icon::Check, 14.0), keep));
        if ui.add_enabled(is_placed, button).on_hover_text("Paint it  (Enter)").clicked() {
            desk.perform(Command::Brush(BrushCommand::KeepDecal));
        }
        if is_new && ui.button("Give up").on_hover_text("Leave it unpainted  (Escape)").clicked() {
            desk.perform(Command::Brush(BrushCommand::DropDecal));
        }
    });
    ui.set_max_width(360.0);
    let size = ValueRow::new("Size", "Half of its longer edge", whole * 1e-3..=whole * 0.5);
    let decimals = (3.0 - whole.log10()).round().clamp(0.0, 6.0) as usize;
    let size = size.scale(Scale::Ratio).unit("", decimals).spoken("Size of the decal");
    let turn = ValueRow::new("Turn", "Counterclockwise", -180.0..=180.0).unit("°", 0);
    let turn = turn.usual(0.0).spoken("Turn of the decal");
    let changed = size.show(ui, &mut half).changed() | turn.show(ui, &mut degrees).changed();
    if changed && let Some(held) = &mut desk.decal {
        (held.half, held.turn) = (half, degrees.to_radians());
        desk.try_decal();
    }
    if !ui.input(|input| input.pointer.any_down()) {
        desk.repaint_decal();
    }
}
