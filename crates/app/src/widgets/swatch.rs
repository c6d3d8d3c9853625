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
    patch(ui, value, size, name, None)
}

/// A patch among its like, one of which may be chosen. It can be dragged.
pub(crate) fn choosable_swatch(
    ui: &mut Ui,
    value: Value,
    size: Vec2,
    name: &str,
    chosen: bool,
) -> Response {
    patch(ui, value, size, name, Some(chosen))
}

fn patch(ui: &mut Ui, value: Value, size: Vec2, name: &str, chosen: Option<bool>) -> Response {
    let colours = theme::colours(ui);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let enabled = ui.is_enabled();
    response.widget_info(|| match chosen {
        Some(chosen) => WidgetInfo::selected(Role::Button, enabled, chosen, name),
        None => WidgetInfo::labeled(Role::Button, enabled, name),
    });
    let fill = to_colour32(value);
    let edge = if response.has_focus() || chosen == Some(true) {
        Stroke::new(2.0, colours.accent)
    } else if response.hovered() {
        Stroke::new(1.0, colours.text)
    } else {
        Stroke::new(1.0, colours.line)
    };
    // The ring stands off from the colour, so that it shows on a colour of its own kind.
    let inner = if edge.width > 1.0 { rect.shrink(3.0) } else { rect.shrink(1.0) };
    ui.painter().rect_filled(inner, 3.0, fill);
    ui.painter().rect_stroke(rect, 4.0, edge, StrokeKind::Inside);
    response
}
