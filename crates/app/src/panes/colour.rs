//! The base colour: before and now, as a code, and a field to choose it from.

pub(super) mod field;

use egui::{Align, Layout, Sense, TextEdit, Ui, WidgetInfo, pos2, vec2};
use layers::{ChannelId, Value};
use lucide_icons::Icon;

use super::brush::{command_button, command_toggle};
use crate::brush_in_hand::Pick;
use crate::colour::{hex_text, parse_hex};
use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{focus_ring, swatch, to_colour32};

/// Width of the patch that shows the colour before and now.
const WELL_WIDTH: f32 = 64.0;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, channel: ChannelId) {
    ui.horizontal(|ui| {
        ui.set_min_height(theme::ROW);
        well(ui, desk);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            let command = Command::Brush(BrushCommand::PickOne(channel));
            let on = desk.brush.picking == Some(Pick::One(channel));
            command_toggle(ui, desk, Icon::Pipette, command, on);
            let command = Command::Brush(BrushCommand::SwapColours);
            command_button(ui, desk, Icon::ArrowLeftRight, command);
            ui.add_space(4.0);
            hex(ui, desk);
        });
    });
    unread_code(ui, desk);
    let mut hsv = desk.brush.hsv();
    if field::show(ui, &mut hsv) {
        desk.brush.set_hsv(hsv);
    }
    recent(ui, desk);
    ui.add_space(4.0);
}

/// The colour before at the left, the present one at the right. A click goes back.
fn well(ui: &mut Ui, desk: &mut Desk) {
    let (before, now) = (desk.brush.before, desk.brush.colour());
    let size = vec2(WELL_WIDTH.min(ui.available_width() * 0.3), theme::ROW - 4.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let enabled = ui.is_enabled();
    let name = format!("Colour {}, before {}", hex_text(now), hex_text(before));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, enabled, &name));
    let shown = |colour| to_colour32(Value::Colour(colour));
    let middle = (rect.left() + rect.width() * 0.3).round();
    let (left, right) = rect.split_left_right_at_x(middle);
    let painter = ui.painter();
    let corner = 4;
    let at_left = egui::CornerRadius { nw: corner, sw: corner, ..egui::CornerRadius::ZERO };
    let at_right = egui::CornerRadius { ne: corner, se: corner, ..egui::CornerRadius::ZERO };
    painter.rect_filled(left, at_left, shown(before));
    painter.rect_filled(right, at_right, shown(now));
    focus_ring(ui, &response, rect, 4.0);
    let tip = "At the left the colour before, at the right the present one. Click to go back";
    if response.on_hover_text(tip).clicked() {
        desk.brush.swap_colours();
    }
}

fn hex(ui: &mut Ui, desk: &mut Desk) {
    let present = desk.brush.colour();
    // Where the colour came from elsewhere meanwhile, what was typed is over.
    desk.brush_panel.hex.take_if(|(_, colour)| *colour != present);
    let shown = hex_text(present);
    let mut text =
        desk.brush_panel.hex.as_ref().map_or_else(|| shown.clone(), |(text, _)| text.clone());
    let width = (ui.available_width() - 4.0).clamp(40.0, 84.0);
    let field = TextEdit::singleline(&mut text).desired_width(width).char_limit(32);
    let response = ui
        .add(field.margin(vec2(8.0, 4.0)))
        .on_hover_text("The colour as #rgb or #rrggbb, sRGB")
        .accessible_name("Colour code");
    if response.changed() {
        // The code shown is rounded to 8 bits: where it was only touched, the finer colour stays.
        if let Some(colour) = parse_hex(&text).filter(|_| text != shown) {
            desk.brush.set_colour(colour);
        }
        desk.brush_panel.hex = Some((text.clone(), desk.brush.colour()));
    }
    let given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
    if response.lost_focus() && (given_up || parse_hex(&text).is_some()) {
        desk.brush_panel.hex = None;
    }
}

/// Says what is wrong with a code that can't be read; the colour stays as it was.
fn unread_code(ui: &mut Ui, desk: &Desk) {
    let Some((text, _)) = &desk.brush_panel.hex else { return };
    if parse_hex(text).is_none() {
        let colours = theme::colours(ui);
        let line = "Write the colour as #5f8f7f or #583; the old one is kept";
        let text = egui::RichText::new(line).color(colours.error).size(12.0);
        ui.add(egui::Label::new(text).wrap());
    }
}

/// Colours that were painted lately.
fn recent(ui: &mut Ui, desk: &mut Desk) {
    let recent = desk.brush.recent.clone();
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(4.0, 4.0);
        // Kept free from the start, so that nothing below moves after the first stroke.
        ui.set_min_height(20.0);
        for colour in recent {
            let name = format!("Recent {}", hex_text(colour));
            let patch = swatch(ui, Value::Colour(colour), vec2(20.0, 20.0), &name);
            if patch.on_hover_text(format!("{}, painted lately", hex_text(colour))).clicked() {
                desk.brush.set_colour(colour);
            }
        }
    });
}

/// Where a point lies in a rectangle, 0..1 from its top left, kept inside.
fn place_in(rect: egui::Rect, at: egui::Pos2) -> egui::Vec2 {
    let inside = pos2(at.x.clamp(rect.left(), rect.right()), at.y.clamp(rect.top(), rect.bottom()));
    (inside - rect.min) / rect.size()
}
