//! Asks once before what was painted is lost.

use egui::{Context, RichText};

use super::sheet;
use crate::desk::{Desk, Leaving};
use crate::opening::shown_name;
use crate::theme;

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
            let text = RichText::new("Keep as a project").color(colours.on_accent);
            let button = ui.add(egui::Button::new(text).fill(colours.accent_deep));
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
        desk.ask_where_to_keep();
    }
    if go {
        leave(desk, leaving);
    }
}

fn leave(desk: &mut Desk, leaving: Leaving) {
    match leaving {
        Leaving::Close => desk.closed = true,
        Leaving::Open(path) => desk.open_file_at_once(path),
        Leaving::Demo => {
            if let Some(demo) = desk.demo {
                desk.open_demo_at_once(demo);
            }
        }
    }
}
