//! What a stroke does: a row of choices, and the strength of the one that is chosen.

use egui::Ui;
use lucide_icons::Icon;

use super::{command_toggle, share_row};
use crate::brush_in_hand::Pick;
use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::does::{Does, Strengths};
use crate::theme;
use crate::tool::Tool;
use crate::widgets::{ValueRow, icon_text, remark};

/// One row, or two where there is little room; the chosen one is lit. Those that only a stroke can do are off where
/// areas are painted.
pub(crate) fn choices(ui: &mut Ui, desk: &mut Desk) {
    let room = ui.available_width();
    let is_narrow = room < Does::ALL.len() as f32 * theme::ROW;
    let a_row = if is_narrow { Does::ALL.len() / 2 } else { Does::ALL.len() };
    for row in Does::ALL.chunks(a_row) {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = (room / a_row as f32 - theme::ROW).clamp(0.0, 8.0);
            for &does in row {
                choice(ui, desk, does);
            }
        });
    }
}

fn choice(ui: &mut Ui, desk: &mut Desk, does: Does) {
    let on = desk.brush.does == does;
    let fits = desk.tool.tool == Tool::Brush || !does.moves_paint();
    ui.add_enabled_ui(fits, |ui| {
        command_toggle(ui, desk, does.icon(), Command::Brush(BrushCommand::Does(does)), on);
    });
}

/// How strongly it does what is chosen.
pub(crate) fn strength(ui: &mut Ui, desk: &mut Desk) {
    let (does, usual) = (desk.brush.does, Strengths::USUAL);
    let strengths = &mut desk.brush.strengths;
    match does {
        Does::Paint | Does::Erase => {}
        Does::Smudge => {
            let about = "How long the brush carries paint before it has taken up other paint";
            share_row(ui, ("Hold", about), &mut strengths.hold, usual.hold);
        }
        Does::Soften => {
            let about = "How far the brush mixes, in shares of its radius";
            if share_row(ui, ("Reach", about), &mut strengths.reach, usual.reach) {
                strengths.reach = strengths.reach.clamp(0.01, 1.0);
            }
        }
        Does::Lighten | Does::Darken => {
            let about = "How much one stroke changes at full opacity";
            share_row(ui, ("By", about), &mut strengths.by, usual.by);
        }
        Does::Shift => {
            signed(ui, ("Hue", "Turns hues, in degrees", 180.0), &mut strengths.hue, usual.hue);
            let about = "Makes colours stronger, or greyer";
            signed(ui, ("Saturation", about, 1.0), &mut strengths.saturation, usual.saturation);
            let about = "Makes colours brighter, and other values higher; or the other way round";
            signed(ui, ("Value", about, 1.0), &mut strengths.value, usual.value);
        }
        Does::Clone => source(ui, desk),
    }
}

/// A row for a number of either sign.
fn signed(ui: &mut Ui, (name, about, most): (&str, &str, f64), number: &mut f32, usual: f32) {
    let mut value = f64::from(*number);
    let spoken = format!("{name} shift");
    let row = ValueRow::new(name, about, -most..=most).spoken(&spoken);
    let row = if most > 1.0 { row.unit("°", 0) } else { row.percent() };
    if row.usual(f64::from(usual)).show(ui, &mut value).changed() {
        *number = value as f32;
    }
}

/// Where a clone comes from, and how to say so.
fn source(ui: &mut Ui, desk: &mut Desk) {
    let command = Command::Brush(BrushCommand::PickSource);
    let picks = desk.brush.picking == Some(Pick::Source);
    let (name, hint) = match (picks, desk.brush.source.is_some()) {
        (true, _) => ("Click the point to clone from", "Click in the model view or the flat view"),
        (false, true) => ("Pick another source", "The cross shows where paint comes from"),
        (false, false) => ("Pick the source", "Pick the point that paint comes from"),
    };
    let label = (icon_text(Icon::Crosshair, 14.0), name);
    let button = egui::Button::selectable(picks, label);
    let width = ui.available_width();
    let button = ui.add_sized([width, theme::ROW], button);
    if button.on_hover_text(desk.tooltip(command)).clicked() {
        desk.perform(command);
    }
    remark(ui, hint);
}
