//! The sheet that names a point to return to, or gives one another name.

use egui::{Context, RichText};

use super::{line_field, main_button, sheet};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::remark;

pub(super) fn show(context: &Context, desk: &mut Desk) {
    let Some(naming) = &mut desk.files.naming else {
        desk.sheet = None;
        return;
    };
    let is_new = naming.renamed.is_none();
    let heading = if is_new { "Name a point" } else { "Rename a point" };
    let mut keep = false;
    let open = sheet(context, heading, 420.0, |ui| {
        let (response, entered) = line_field(ui, "Name of the point", &mut naming.text);
        if response.gained_focus() {
            select_all(ui, response.id, naming.text.chars().count());
        }
        if response.changed() {
            naming.fault = None;
        }
        match &naming.fault {
            Some(fault) => {
                let colour = theme::colours(ui).error;
                ui.label(RichText::new(fault).color(colour))
            }
            None if is_new => remark(
                ui,
                "All edits are on disk already. A point is the work as it is now, to return to from the history.",
            ),
            None => remark(ui, "Only the name changes."),
        };
        ui.add_space(12.0);
        let does = if is_new { "Keep this point" } else { "Rename it" };
        keep = main_button(ui, does).clicked() || entered;
    });
    if keep && desk.name_point() {
        desk.sheet = None;
    } else if !keep && !open {
        desk.sheet = None;
        desk.files.naming = None;
    }
}

/// So that typing replaces the name that is suggested.
fn select_all(ui: &egui::Ui, id: egui::Id, count: usize) {
    use egui::text::{CCursor, CCursorRange};
    let mut state = egui::TextEdit::load_state(ui.ctx(), id).unwrap_or_default();
    state.cursor.set_char_range(Some(CCursorRange::two(CCursor::new(0), CCursor::new(count))));
    state.store(ui.ctx(), id);
}
