//! The sheet that asks where the project is to be.

use egui::{Context, Key, RichText, TextEdit};

use super::sheet;
use crate::desk::Desk;
use crate::on_disk::PROJECT;
use crate::path_field::PathField;
use crate::theme;
use crate::widgets::remark;

pub(super) fn show(context: &Context, desk: &mut Desk) {
    let mut keep = false;
    let open = sheet(context, "Keep as a project", 560.0, |ui| {
        let colours = theme::colours(ui);
        let edit = TextEdit::singleline(&mut desk.path.text)
            .id(egui::Id::unique("project path"))
            .hint_text("Path of the project")
            .desired_width(f32::INFINITY)
            .margin(egui::Margin::symmetric(8, 6));
        let response = ui.add(edit).accessible_name("Path of the project");
        let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        if ui.memory(|memory| memory.focused().is_none()) {
            response.request_focus();
        }
        if response.changed() {
            desk.path.fault = None;
        }
        match &desk.path.fault {
            Some(fault) => ui.label(RichText::new(fault).color(colours.error)),
            None => remark(
                ui,
                "One file with model, layers, strokes and history. From then on each edit is in it at once.",
            ),
        };
        ui.add_space(12.0);
        let text = RichText::new("Keep it here").color(colours.on_accent);
        let button = ui.add(egui::Button::new(text).fill(colours.accent_deep));
        keep = button.clicked() || entered;
    });
    if keep {
        let mut path = desk.path.path();
        if path.extension().is_none() && path.file_name().is_some() {
            path.set_extension(PROJECT);
        }
        desk.path.fault = Desk::fault_of_place(&path);
        if desk.path.fault.is_none() {
            desk.sheet = None;
            desk.path = PathField::default();
            desk.keep_in(path);
        }
    } else if !open {
        desk.sheet = None;
        desk.path = PathField::default();
    }
}
