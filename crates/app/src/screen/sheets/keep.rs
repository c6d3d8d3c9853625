//! The sheet that asks for a place: for the project, for a copy to go on in, for one that is left.

use egui::{Context, RichText, Ui};

use super::{line_field, main_button, sheet};
use crate::desk::Desk;
use crate::on_disk::{PROJECT, Purpose};
use crate::path_field::PathField;
use crate::theme;
use crate::widgets::remark;

/// Heading, what it does, and what its button says.
fn words(purpose: Purpose) -> [&'static str; 3] {
    match purpose {
        Purpose::Keep => [
            "Keep as a project",
            "One file with model, layers, strokes and history. From then on each edit is in it at once.",
            "Keep it here",
        ],
        Purpose::GoOn => [
            "Keep in another place",
            "Everything is copied there, and your edits go into that file from then on. The one that you are in \
             stays as it is.",
            "Go on there",
        ],
        Purpose::Copy => [
            "Keep a copy",
            "Everything as it is now, with history and named points. You go on in the file that you are in.",
            "Leave a copy there",
        ],
        Purpose::Pack => [
            "Pack",
            "A small file: model, layers and strokes as they are now, without history and named points. You go on \
             in the file that you are in.",
            "Pack into it",
        ],
    }
}

pub(super) fn show(context: &Context, desk: &mut Desk, purpose: Purpose) {
    let [heading, about, does] = words(purpose);
    let mut keep = false;
    let open = sheet(context, heading, 560.0, |ui| {
        let colours = theme::colours(ui);
        if let Some(fault) = &desk.files.fault {
            let text = format!("Writing failed: {fault}. Choose a place on another disk.");
            ui.add(egui::Label::new(RichText::new(text).color(colours.error)).wrap());
            ui.add_space(8.0);
        }
        let (response, entered) = line_field(ui, "Path of the project", &mut desk.path.text);
        if response.changed() {
            desk.path.fault = None;
        }
        match &desk.path.fault {
            Some(fault) => ui.label(RichText::new(fault).color(colours.error)),
            None => remark(ui, about),
        };
        warning(ui, desk);
        ui.add_space(12.0);
        keep = main_button(ui, does).clicked() || entered;
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
            desk.take_place(purpose, path);
        }
    } else if !open {
        desk.sheet = None;
        desk.files.fault = None;
        desk.path = PathField::default();
    }
}

/// What may go wrong with the place that is typed.
fn warning(ui: &mut Ui, desk: &mut Desk) {
    let known = desk.path.warned.as_ref().filter(|(text, _)| *text == desk.path.text);
    let warning = if let Some((_, warning)) = known {
        *warning
    } else {
        let warning = Desk::warning_of_place(&desk.path.path());
        desk.path.warned = Some((desk.path.text.clone(), warning));
        warning
    };
    if let Some(warning) = warning {
        ui.add_space(4.0);
        let colour = theme::colours(ui).text;
        ui.horizontal_top(|ui| {
            let icon = crate::widgets::icon_text(lucide_icons::Icon::TriangleAlert, 16.0);
            ui.label(icon.color(theme::colours(ui).error));
            ui.add(egui::Label::new(RichText::new(warning).color(colour)).wrap());
        });
    }
}
