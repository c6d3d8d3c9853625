//! Asks what to do with a project that another window has open.

use egui::{Context, RichText};

use super::{main_button, sheet};
use crate::desk::Desk;
use crate::opening::shown_name;
use crate::theme;

pub(super) fn show(context: &Context, desk: &mut Desk) {
    let Some(path) = desk.files.in_use.clone() else { return };
    let (mut look, mut again, mut leave) = (false, false, false);
    let open = sheet(context, "Open elsewhere", 460.0, |ui| {
        let colours = theme::colours(ui);
        let text = format!(
            "Another Scumble window has {} open, and only one at a time writes to it. You can look at it here, as it \
             is on disk now; or close it there and try again.",
            shown_name(&path)
        );
        ui.add(egui::Label::new(RichText::new(text).color(colours.text_soft)).wrap());
        ui.add_space(16.0);
        ui.horizontal_wrapped(|ui| {
            let button = main_button(ui, "Look at it only");
            if ui.memory(|memory| memory.focused().is_none()) {
                button.request_focus();
            }
            look = button.clicked();
            again = ui.button("Try again").clicked();
            leave = ui.button("Leave it").clicked();
        });
    });
    if look || again || leave || !open {
        desk.files.in_use = None;
    }
    if look {
        desk.look_at(path);
    } else if again {
        desk.open_file_at_once(path);
    }
}
