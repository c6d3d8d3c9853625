//! The layer table: layers as rows, the topmost first; channels as columns.

use egui::Ui;

use super::scrolled;
use crate::desk::Desk;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    scrolled(ui, "layers", |ui| {
        let Some(material) = desk.material().cloned() else { return };
        let layers: Vec<_> = material.stack.walk().cloned().collect();
        for layer in layers.iter().rev() {
            let chosen = desk.chosen.layer == Some(layer.id);
            if ui.selectable_label(chosen, &layer.name).clicked() {
                desk.chosen.layer = Some(layer.id);
            }
        }
    });
}
