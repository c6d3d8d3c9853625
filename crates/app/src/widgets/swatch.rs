//! A patch of one value.

use egui::{Color32, Response, Role, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo};
use layers::Value;

use crate::theme;

/// The stored value as it is shown: sRGB-encoded as it is, a scalar as grey.
pub(crate) fn to_colour32(value: Value) -> Color32 {
    let byte = |stored: u16| ((u32::from(stored) + 128) / 257) as u8;
    match value {
        Value::Colour([r, g, b]) => Color32::from_rgb(byte(r), byte(g), byte(b)),
        Value::Scalar(level) => Color32::from_gray(byte(level)),
    }
}

/// A patch that can be clicked.
pub(crate) fn swatch(ui: &mut Ui, value: Value, size: Vec2, name: &str) -> Response {
    let colours = theme::colours(ui);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
    let edge = if response.hovered() || response.has_focus() { colours.text } else { colours.line };
    ui.painter().rect(rect, 4.0, to_colour32(value), Stroke::new(1.0, edge), StrokeKind::Inside);
    response
}
