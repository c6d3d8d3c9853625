//! Materials and their parts.

use document::MaterialId;
use egui::Ui;

use super::scrolled;
use crate::chosen::Chosen;
use crate::desk::Desk;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    scrolled(ui, "materials", |ui| {
        let materials = desk.document().materials.clone();
        for material in &materials {
            let chosen = material.id == desk.chosen.material;
            if ui.selectable_label(chosen, &material.name).clicked() && !chosen {
                choose(desk, material.id);
            }
        }
    });
}

fn choose(desk: &mut Desk, material: MaterialId) {
    desk.chosen = Chosen::of(desk.document(), material);
}
