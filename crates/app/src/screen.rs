//! One frame of the window: the stage bar, what is to be read, the panels, the status line.

mod notice_bar;
mod stage_bar;
mod status_line;

use egui::{CentralPanel, Ui};

use crate::desk::Desk;
use crate::panes;

/// Shows everything, and does what keys asked for.
pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    desk.take_results();
    desk.thumbnails.take_done(ui.ctx());
    for command in desk.bindings.pressed(ui) {
        desk.perform(command);
    }
    stage_bar::show(ui, desk);
    notice_bar::show(ui, desk);
    status_line::show(ui, desk);
    CentralPanel::no_frame().show(ui, |ui| panes::show(desk, ui));
    desk.keep_what_was_tried(ui);
}
