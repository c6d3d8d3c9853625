//! What lies under the pointer, and how large the textures are.

use egui::{Align, Frame, Layout, Margin, Panel, RichText, Ui};

use crate::desk::Desk;
use crate::theme;

pub(super) fn show(ui: &mut Ui, desk: &Desk) {
    let colours = theme::colours(ui);
    let frame = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(12, 2));
    Panel::bottom("status").frame(frame).exact_size(theme::ROW).show(ui, |ui| {
        ui.horizontal_centered(|ui| {
            let Some(material) = desk.material() else { return };
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let (size, layers) = (material.size.edge(), material.stack.walk().count());
                let word = if layers == 1 { "layer" } else { "layers" };
                let text = format!("{size} px   {layers} {word}");
                ui.label(RichText::new(text).color(colours.text_soft));
                ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                    ui.label(RichText::new(&material.name).color(colours.text));
                });
            });
        });
    });
}
