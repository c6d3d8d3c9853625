//! Buttons that are a picture: always with a tooltip that says what they do and which key does it too.

use egui::{Align2, Response, RichText, Role, Sense, Ui, WidgetInfo};
use lucide_icons::Icon;

use super::focus_ring;
use crate::theme;

/// An icon as text, beside words.
pub(crate) fn icon_text(icon: Icon, size: f32) -> RichText {
    RichText::new(char::from(icon)).font(theme::icons(size))
}

/// A button with an icon.
pub(crate) fn icon_button(ui: &mut Ui, icon: Icon, name: &str, tooltip: &str) -> Response {
    drawn(ui, icon, name, tooltip, None)
}

/// A button with an icon that is on or off.
pub(crate) fn icon_toggle(
    ui: &mut Ui,
    icon: Icon,
    name: &str,
    tooltip: &str,
    on: bool,
) -> Response {
    drawn(ui, icon, name, tooltip, Some(on))
}

fn drawn(ui: &mut Ui, icon: Icon, name: &str, tooltip: &str, on: Option<bool>) -> Response {
    let colours = theme::colours(ui);
    let (rect, response) = ui.allocate_exact_size(theme::square(theme::ROW), Sense::click());
    let enabled = ui.is_enabled();
    response.widget_info(|| match on {
        Some(on) => WidgetInfo::selected(Role::Button, enabled, on, name),
        None => WidgetInfo::labeled(Role::Button, enabled, name),
    });
    let radius = f32::from(theme::RADIUS);
    let down = response.is_pointer_button_down_on();
    let ground = match on {
        _ if down => Some(colours.chosen),
        Some(true) => Some(colours.accent_deep),
        _ if response.hovered() => Some(colours.raised),
        _ => None,
    };
    if let Some(ground) = ground.filter(|_| enabled) {
        ui.painter().rect_filled(rect.shrink(1.0), radius - 1.0, ground);
    }
    let colour = match on {
        Some(true) => colours.on_accent,
        _ if response.hovered() => colours.text,
        Some(false) => colours.text_weak,
        None => colours.text_soft,
    };
    let glyph = char::from(icon);
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, glyph, theme::icons(16.0), colour);
    focus_ring(ui, &response, rect, radius);
    response.on_hover_text(tooltip).on_disabled_hover_text(tooltip)
}
