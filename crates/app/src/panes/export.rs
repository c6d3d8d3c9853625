//! What is exported: where to, under which name, which files.

use egui::{RichText, TextEdit, Ui};
use exchange::{BitDepth, safe_file_stem};

use super::scrolled;
use crate::commands::{Command, FileCommand};
use crate::desk::Desk;
use crate::file_dialog::{Asked, FileDialog};
use crate::theme;
use crate::widgets::{divide, heading, remark, segments};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    scrolled(ui, "export", |ui| {
        heading(ui, "Where to");
        folder(ui, desk);
        name(ui, desk);
        divide(ui);
        heading(ui, "What");
        what(ui, desk);
        divide(ui);
        // Before the list, which may be long.
        button(ui, desk);
        divide(ui);
        files(ui, desk);
    });
}

fn field<'a>(text: &'a mut String, hint: &str) -> TextEdit<'a> {
    TextEdit::singleline(text)
        .hint_text(hint)
        .desired_width(f32::INFINITY)
        .margin(egui::Margin::symmetric(8, 6))
}

fn folder(ui: &mut Ui, desk: &mut Desk) {
    let label = ui.label("Folder");
    ui.add(field(&mut desk.export.folder, "A folder; made where it is missing"))
        .labelled_by(label.id)
        .on_hover_text("Files of the same names in it are replaced");
    let waiting = desk.dialog.is_some();
    let text = if waiting { "The dialog is open" } else { "Browse" };
    let browse = ui.add_enabled(!waiting, egui::Button::new(text));
    if browse.on_hover_text("Choose the folder in the system's dialog").clicked() {
        desk.dialog = Some(FileDialog::open(Asked::Folder, ui.ctx().clone()));
    }
}

fn name(ui: &mut Ui, desk: &mut Desk) {
    let label = ui.label("Name");
    ui.add(field(&mut desk.export.name, "What the files' names begin with")).labelled_by(label.id);
}

fn what(ui: &mut Ui, desk: &mut Desk) {
    let export = &mut desk.export;
    ui.checkbox(&mut export.maps, "Maps as PNG")
        .on_hover_text("Base colour, roughness and metalness of each material");
    ui.add_enabled_ui(export.maps, |ui| {
        let choices = [
            (BitDepth::Sixteen, "16 bit", "All that was painted"),
            (BitDepth::Eight, "8 bit", "Smaller, for readers that take no more"),
        ];
        ui.horizontal(|ui| {
            ui.add_space(24.0);
            if let Some(depth) = segments(ui, &choices, |depth| depth == export.depth) {
                export.depth = depth;
            }
        });
    });
    ui.checkbox(&mut export.glb, "Model as GLB").on_hover_text("One file with all maps in it");
    ui.checkbox(&mut export.obj, "Model as OBJ and MTL")
        .on_hover_text("The MTL names the maps, where they are written too");
}

fn files(ui: &mut Ui, desk: &Desk) {
    let names = desk.export.names(desk.document());
    let count = names.len();
    heading(ui, &format!("{count} {}", if count == 1 { "file" } else { "files" }));
    let colours = theme::colours(ui);
    let stem = format!("{}_", safe_file_stem(&desk.export.name));
    for name in names {
        // What all begin with tells nothing.
        let (before, rest) = match name.strip_prefix(&stem) {
            Some(rest) => ("\u{2026}_", rest),
            None => ("", name.as_str()),
        };
        let text = RichText::new(format!("{before}{rest}")).color(colours.text_soft);
        let label = ui.add(egui::Label::new(text).truncate());
        label.on_hover_text(&name);
    }
}

fn button(ui: &mut Ui, desk: &mut Desk) {
    let colours = theme::colours(ui);
    let fault = desk.export.fault(desk.document());
    let going_on = desk.is_exporting();
    ui.add_enabled_ui(fault.is_none() && !going_on, |ui| {
        let text = RichText::new("Export").font(theme::semibold(13.0)).color(colours.on_accent);
        let button = egui::Button::new(text).fill(colours.accent_deep);
        let button = ui.add_sized([ui.available_width(), theme::ROW + 4.0], button);
        let button = button.accessible_name("Export these files");
        if button.on_hover_text(desk.tooltip(Command::File(FileCommand::Export))).clicked() {
            desk.perform(Command::File(FileCommand::Export));
        }
    });
    match fault {
        Some(fault) => remark(ui, fault),
        None if going_on => {
            remark(ui, "Being written. You can go on painting: what is written is how it was.")
        }
        None => remark(ui, "Written while you go on painting, from what there is now."),
    };
}
