//! The flat view: the chosen material's texture.

use egui::{Image, Sense, Ui};

use crate::desk::Desk;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let rect = ui.available_rect_before_wrap();
    let scale = ui.ctx().pixels_per_point();
    desk.flat_view.size_px =
        [rect.width(), rect.height()].map(|points| (points * scale).round().max(0.0) as u32);
    ui.allocate_rect(rect, Sense::click_and_drag());
    if let Some(picture) = desk.pictures.flat {
        Image::new((picture, rect.size())).paint_at(ui, rect);
    }
}
