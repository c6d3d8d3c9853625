//! One frame of the window: the stage bar, what is to be read, the panels, the status line.

mod at_pointer;
mod dropped;
mod empty;
mod first_steps;
mod notice_bar;
pub(crate) mod sheets;
mod stage_bar;
mod status_line;
mod task_line;
#[cfg(test)]
mod tests;

use std::time::Duration;

use egui::{CentralPanel, Context, ThemePreference, Ui};

pub(crate) use at_pointer::AtPointer;

use crate::commands::{Command, FileCommand};
use crate::desk::Desk;
use crate::file_dialog::{Answer, Asked};
use crate::panes;
use crate::preferences::ThemeChoice;

/// Shows everything, and does what keys asked for.
pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let context = ui.ctx().clone();
    look(&context, desk);
    desk.take_results();
    if desk.is_trying() {
        context.request_repaint_after(Duration::from_millis(8));
    }
    desk.thumbnails.take_done(&context);
    take_answer(desk);
    dropped::take(&context, desk);
    // Keys that are waited for are no commands; and under a sheet nothing is to happen unseen.
    let covered = desk.is_covered();
    let pressed = if desk.rebinding.is_none() { desk.bindings.pressed(ui) } else { Vec::new() };
    let allowed = |command: &Command| !covered || acts_under_sheets(*command);
    // A stroke that ends in this frame is part of what a file is to hold.
    let (later, now): (Vec<Command>, Vec<Command>) = pressed
        .into_iter()
        .filter(allowed)
        .partition(|command| matches!(command, Command::File(_)));
    for command in now {
        desk.perform(command);
    }
    stage_bar::show(ui, desk);
    status_line::show(ui, desk);
    CentralPanel::no_frame().show(ui, |ui| {
        if desk.document().model.is_some() {
            panes::show(desk, ui);
        } else {
            desk.end_in_lost_view(ui.ctx().cumulative_pass_nr());
            empty::show(ui, desk);
        }
    });
    for command in later {
        desk.perform(command);
    }
    at_pointer::show(&context, desk);
    notice_bar::show(&context, desk);
    first_steps::show(&context, desk);
    dropped::show_hovering(&context);
    sheets::show(&context, desk);
    desk.keep_what_was_tried(ui);
    desk.keep_on_disk(&context);
}

fn acts_under_sheets(command: Command) -> bool {
    use FileCommand::{Redo, Undo};
    match command {
        Command::Window(_) => true,
        Command::File(command) => !matches!(command, Undo | Redo),
        _ => false,
    }
}

/// Theme and size, as the preferences have them.
fn look(context: &Context, desk: &Desk) {
    let theme = match desk.preferences.theme {
        ThemeChoice::System => ThemePreference::System,
        ThemeChoice::Dark => ThemePreference::Dark,
        ThemeChoice::Light => ThemePreference::Light,
    };
    if context.options(|options| options.theme_preference) != theme {
        context.set_theme(theme);
    }
    // Ours are in the table of commands.
    if context.options(|options| options.zoom_with_keyboard) {
        context.options_mut(|options| options.zoom_with_keyboard = false);
    }
    context.set_zoom_factor(desk.preferences.ui_scale);
}

/// What came of the system's dialog.
fn take_answer(desk: &mut Desk) {
    let Some(dialog) = &desk.dialog else { return };
    let asked = dialog.asked();
    let Some(answer) = dialog.answer() else { return };
    desk.dialog = None;
    match (answer, asked) {
        (Answer::Path(path), Asked::Model) => {
            desk.sheet = None;
            desk.open_file(path);
        }
        (Answer::Path(path), Asked::Picture) => desk.add_reference(path),
        (Answer::Path(path), Asked::BrushImage(of)) => desk.take_brush_image(of, path),
        (Answer::Path(path), Asked::Brush) => desk.bring_in_brush(&path),
        (Answer::Path(path), Asked::ShareBrush) => desk.share_brush(&path),
        (Answer::Path(path), Asked::Folder) => desk.export.folder = path.display().to_string(),
        (Answer::Nothing, _) => {}
        (Answer::NoDialog, Asked::Model) => {
            desk.path.fault = Some("The system shows no dialog here: type the path".to_owned());
        }
        (Answer::NoDialog, Asked::Picture | Asked::BrushImage(_)) => {
            desk.notices.note("The system shows no dialog here: type the picture's path.");
        }
        (Answer::NoDialog, Asked::Brush) => {
            desk.notices
                .note("The system shows no dialog here: drop the brush's file on the window.");
        }
        (Answer::NoDialog, Asked::ShareBrush) => {
            desk.notices.note(
                "The system shows no dialog here: scumble brushes --share NAME --out FILE writes it.",
            );
        }
        (Answer::NoDialog, Asked::Folder) => {
            desk.notices.note("The system shows no dialog here: type the folder's path.");
        }
    }
}
