//! What was done, the last at the bottom; what was taken back is fainter.

use egui::Ui;

use super::scrolled;
use crate::desk::Desk;
use crate::theme;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    scrolled(ui, "history", |ui| {
        let (entries, present) = desk.editor.history().entries();
        for (index, entry) in entries.enumerate() {
            let colours = theme::colours(ui);
            let colour = if index > present { colours.text_weak } else { colours.text_soft };
            let text = egui::RichText::new(&entry.label).color(colour);
            let _ = ui.selectable_label(index == present, text);
        }
    });
}
