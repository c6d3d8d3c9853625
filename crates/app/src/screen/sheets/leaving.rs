//! Asks once before what was painted is lost.

use egui::{Context, RichText};

use super::{main_button, sheet};
use crate::desk::{Desk, Leaving};
use crate::on_disk::Purpose;
use crate::opening::shown_name;
use crate::theme;
use crate::widgets::remark;

/// Writing that takes no longer is not told of.
const UNNOTICED: std::time::Duration = std::time::Duration::from_millis(700);

/// Says what is waited for before the document is left.
pub(super) fn show_waiting(context: &Context, desk: &mut Desk) {
    if desk.files.leaving.as_ref().is_none_or(|(_, since)| since.elapsed() < UNNOTICED) {
        return;
    }
    let mut stay = false;
    let open = sheet(context, "Writing the last edits", 420.0, |ui| {
        remark(ui, "This goes on by itself as soon as everything is on disk.");
        ui.add_space(12.0);
        stay = ui.button("Stay here").clicked();
    });
    if stay || !open {
        desk.files.leaving = None;
    }
}

pub(super) fn show(context: &Context, desk: &mut Desk) {
    let Some(leaving) = desk.leaving.clone() else { return };
    let (heading, does) = match &leaving {
        Leaving::Close => ("Close without keeping it?", "Close and lose it".to_owned()),
        Leaving::Open(path) => {
            ("Open without keeping it?", format!("Open {} and lose it", shown_name(path)))
        }
        Leaving::Demo => {
            ("Open without keeping it?", "Open the harbour bell and lose it".to_owned())
        }
    };
    let mut go = false;
    let mut stay = false;
    let mut keep = false;
    let open = sheet(context, heading, 460.0, |ui| {
        let colours = theme::colours(ui);
        let text = format!(
            "What you painted on {} is in no file yet. A project has all of it; an export has maps and model, not the \
             layers.",
            desk.title
        );
        ui.add(egui::Label::new(RichText::new(text).color(colours.text_soft)).wrap());
        ui.add_space(16.0);
        ui.horizontal_wrapped(|ui| {
            let button = main_button(ui, "Keep as a project");
            if ui.memory(|memory| memory.focused().is_none()) {
                button.request_focus();
            }
            keep = button.clicked();
            stay = ui.button("Stay here").clicked();
            go = ui.button(does).clicked();
        });
    });
    if go || stay || keep || !open {
        desk.leaving = None;
    }
    if keep {
        desk.ask_where(Purpose::Keep);
    }
    if go {
        desk.leave(leaving);
    }
}
