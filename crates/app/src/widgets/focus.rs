//! What has the keyboard shows it: a ring in the accent around it.

use egui::{Rect, Response, Stroke, StrokeKind, Ui};

use crate::theme;

/// Draws the ring where a control has the focus; `radius` is that of the control's corners.
pub(crate) fn focus_ring(ui: &Ui, response: &Response, rect: Rect, radius: f32) {
    if response.has_focus() {
        let stroke = Stroke::new(2.0, theme::colours(ui).accent);
        ui.painter().rect_stroke(rect, radius, stroke, StrokeKind::Inside);
    }
}
