//! Paths: a button that begins one, and those that the chosen layer has.

use brush::Curve;
use egui::{Align, Button, Layout, Ui};
use lucide_icons::Icon;

use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{icon_button, icon_text, remark};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let command = Command::Brush(BrushCommand::DrawPath);
    let is_on = desk.laying.as_ref().is_some_and(|path| path.kept.is_none());
    let button = Button::selectable(is_on, (icon_text(Icon::Spline, 14.0), "Draw a path"));
    let width = ui.available_width();
    let button = ui.add_sized([width, theme::ROW], button);
    if button.on_hover_text(desk.tooltip(command)).clicked() {
        desk.perform(command);
    }
    let paths = desk.kept_paths();
    let Some(layer) = desk.chosen.layer else { return };
    if paths.is_empty() {
        remark(ui, "A stroke through points that can be moved later: a seam, a trim, a weld");
    }
    for (place, (number, guide)) in (1..).zip(paths) {
        ui.horizontal(|ui| {
            let curve = match guide.curve {
                Curve::Smooth => "smooth",
                Curve::Straight => "straight",
            };
            let name = format!("Path {place}: {} points, {curve}", guide.knots.len());
            let chosen = desk
                .laying
                .as_ref()
                .is_some_and(|path| path.kept.as_ref().is_some_and(|kept| kept.number == number));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let remove = format!("Remove path {place}");
                let tip = "Take the path away, with what it painted";
                if icon_button(ui, Icon::Trash2, &remove, tip).clicked() {
                    desk.remove_path(layer, number);
                }
                let width = ui.available_width();
                let row = ui.add_sized([width, theme::ROW], Button::selectable(chosen, name));
                if row.on_hover_text("Show its points, to move them").clicked() {
                    if chosen {
                        desk.drop_path();
                    } else {
                        desk.take_path(layer, number);
                    }
                }
            });
        });
    }
}
