//! What to do while nothing is open.

use egui::{RichText, Ui, vec2};

use super::sheets::{left_work, recent_files};
use crate::commands::{Command, FileCommand};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{heading, remark};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let colours = theme::colours(ui);
    let room = ui.max_rect();
    ui.painter().rect_filled(room, 0.0, colours.surround);
    if !desk.tasks.is_empty() {
        let text = desk.tasks.0.first().map_or("", |task| task.label.as_str());
        let font = theme::semibold(14.0);
        let middle = egui::Align2::CENTER_CENTER;
        ui.painter().text(room.center(), middle, text, font, colours.text);
        return;
    }
    let is_left = !desk.files.untitled.left.is_empty();
    let (width, height) = if is_left { (520.0_f32, 520.0_f32) } else { (420.0, 360.0) };
    let size = vec2(width.min(room.width() - 48.0), height.min(room.height() - 24.0));
    let card = egui::Rect::from_center_size(room.center(), size);
    ui.painter().rect_filled(card, 8.0, colours.panel);
    let mut opened = None;
    ui.scope_builder(egui::UiBuilder::new().max_rect(card.shrink(24.0)), |ui| {
        ui.label(RichText::new("Nothing is open").font(theme::semibold(16.0)).color(colours.text));
        remark(ui, "Open a model with UVs, or drop its file anywhere on this window.");
        ui.add_space(12.0);
        ui.horizontal(|ui| {
            // What was left is what the person most likely came for.
            let button = if is_left {
                egui::Button::new("Open a model")
            } else {
                let text = RichText::new("Open a model").color(colours.on_accent);
                egui::Button::new(text).fill(colours.accent_deep)
            };
            let open = ui.add(button);
            if open.on_hover_text(desk.tooltip(Command::File(FileCommand::Open))).clicked() {
                desk.perform(Command::File(FileCommand::Open));
            }
            if desk.demo.is_some() {
                let tip = desk.tooltip(Command::File(FileCommand::OpenDemo));
                if ui.button("Open the harbour bell").on_hover_text(tip).clicked() {
                    desk.perform(Command::File(FileCommand::OpenDemo));
                }
            }
        });
        if is_left {
            ui.add_space(12.0);
        }
        left_work(ui, desk);
        if !desk.preferences.recent.is_empty() {
            ui.add_space(12.0);
            heading(ui, "Opened lately");
            opened = recent_files(ui, desk);
        }
    });
    if let Some(path) = opened {
        desk.open_file(path);
    }
}
