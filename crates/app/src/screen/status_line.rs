//! What lies under the pointer, and how large the textures are.

use egui::{Align, FontId, Frame, Layout, Margin, Panel, RichText, Sense, Ui, UiBuilder, vec2};

use super::task_line;
use crate::desk::Desk;
use crate::theme;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let colours = theme::colours(ui);
    let frame = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(12, 0));
    Panel::bottom("status").frame(frame).exact_size(theme::ROW).show(ui, |ui| {
        // Tasks come and go in it: its height is not theirs.
        let size = vec2(ui.available_width(), theme::ROW);
        let (line, _) = ui.allocate_exact_size(size, Sense::hover());
        let centred = Layout::left_to_right(Align::Center);
        ui.scope_builder(UiBuilder::new().max_rect(line).layout(centred), |ui| {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if let Some(material) = desk.material() {
                    let (size, layers) = (material.size.edge(), material.stack.walk().count());
                    let word = if layers == 1 { "layer" } else { "layers" };
                    let text = format!("{size} px   {layers} {word}");
                    ui.label(RichText::new(text).color(colours.text_soft));
                    ui.add_space(12.0);
                }
                if desk.material().is_some_and(|material| material.selection.is_some()) {
                    ui.label(RichText::new("Held within the selection").color(colours.accent));
                    ui.add_space(12.0);
                }
                task_line::show(ui, desk);
                ui.with_layout(Layout::left_to_right(Align::Center), |ui| under_pointer(ui, desk));
            });
        });
    });
}

/// Part, material, texel and values.
fn under_pointer(ui: &mut Ui, desk: &Desk) {
    let colours = theme::colours(ui);
    let Some(under) = &desk.under_pointer else {
        let name = desk.material().map_or("", |material| material.name.as_str());
        ui.label(RichText::new(name).color(colours.text_soft));
        return;
    };
    for (name, value) in under.texts(desk.document()) {
        ui.spacing_mut().item_spacing.x = 4.0;
        let font = FontId::proportional(13.0);
        let wide = |text: &str| {
            ui.painter().layout_no_wrap(text.to_owned(), font.clone(), colours.text).size().x
        };
        // What has no room is left out, not laid over what stands beside it.
        if wide(&name) + wide(&value) + 20.0 > ui.available_width() {
            return;
        }
        if !name.is_empty() {
            ui.label(RichText::new(name).color(colours.text_soft));
        }
        ui.label(RichText::new(value).color(colours.text));
        ui.add_space(12.0);
    }
}
