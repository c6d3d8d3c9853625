//! The model view.

use egui::{Image, Sense, Ui, pos2, vec2};
use glam::DVec2;
use viewport::Shown;

use crate::commands::{Command, ViewCommand, entry};
use crate::desk::Desk;
use crate::widgets::segments;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let rect = ui.available_rect_before_wrap();
    let scale = f64::from(ui.ctx().pixels_per_point());
    let (width, height) = (f64::from(rect.width()) * scale, f64::from(rect.height()) * scale);
    desk.model_view.camera.viewport_px = DVec2::new(width.round(), height.round());
    let _view = ui.allocate_rect(rect, Sense::click_and_drag());
    if let Some(picture) = desk.pictures.model {
        Image::new((picture, rect.size())).paint_at(ui, rect);
    }
    let bar = egui::Rect::from_min_size(rect.min + vec2(12.0, 12.0), vec2(rect.width(), 32.0));
    ui.scope_builder(egui::UiBuilder::new().max_rect(bar), |ui| {
        let shown = [Shown::Lit, Shown::Colour, Shown::Roughness, Shown::Metalness, Shown::Checker];
        let tips = shown.map(|shown| desk.tooltip(Command::View(ViewCommand::Show(shown))));
        let choices: Vec<(Shown, &str, &str)> = shown
            .iter()
            .zip(&tips)
            .filter_map(|(&shown, tip)| {
                let row = entry(Command::View(ViewCommand::Show(shown)))?;
                Some((shown, row.label, tip.as_str()))
            })
            .collect();
        if let Some(chosen) = segments(ui, &choices, |shown| shown == desk.model_view.shown) {
            desk.perform(Command::View(ViewCommand::Show(chosen)));
        }
    });
    let _corner = pos2(rect.right(), rect.bottom());
}
