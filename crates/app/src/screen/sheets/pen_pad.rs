//! A small pad to try the pen on: how its pressure is felt, as a curve and as a line that is drawn.

use egui::{Pos2, Sense, Stroke, Ui, pos2, vec2};

use crate::desk::Desk;
use crate::hand::Deed;
use crate::theme;

/// Most points of a line that are kept.
const MOST: usize = 600;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let size = vec2(ui.available_width(), 96.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::drag());
    response.widget_info(|| {
        egui::WidgetInfo::labeled(egui::Role::Image, true, "Pad to try the pen on")
    });
    let colours = theme::colours(ui);
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, f32::from(theme::RADIUS), colours.well);
    let id = response.id;
    let mut line: Vec<(Pos2, f32)> = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    if response.drag_started() {
        line.clear();
    }
    if response.dragged() {
        for deed in desk.hand.deeds(ui) {
            if let Deed::Move(sample) = deed {
                line.push((sample.position, sample.pressure));
            }
        }
        let surplus = line.len().saturating_sub(MOST);
        line.drain(..surplus);
    }
    for ends in line.windows(2) {
        let width = 1.0 + 11.0 * ends[1].1;
        painter.line_segment([ends[0].0, ends[1].0], Stroke::new(width, colours.accent));
    }
    if line.is_empty() {
        let curve: Vec<Pos2> = (0..=40)
            .map(|step| {
                let pressed = step as f32 / 40.0;
                let felt = desk.preferences.felt_pressure(pressed);
                let inner = rect.shrink(12.0);
                pos2(
                    inner.left() + inner.height() * pressed,
                    inner.bottom() - inner.height() * felt,
                )
            })
            .collect();
        painter.line(curve, Stroke::new(2.0, colours.accent));
        let at = pos2(rect.left() + rect.height() + 12.0, rect.center().y);
        let font = egui::FontId::proportional(12.0);
        let text = "Try the pen here: a line as wide as its pressure is felt";
        painter.text(at, egui::Align2::LEFT_CENTER, text, font, colours.text_weak);
    }
    ui.data_mut(|data| data.insert_temp(id, line));
}
