//! Rows with a name before a control, their names all in one column; and a switch.

use egui::{Align2, FontId, Response, Role, Sense, Ui, Vec2, WidgetInfo, pos2, vec2};

use super::focus_ring;
use crate::theme;

/// A row with a name, and beside it whatever `contents` shows.
pub(crate) fn named_row<R>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    let row = ui.horizontal(|ui| {
        ui.set_min_height(theme::ROW);
        let width = theme::NAME_WIDTH.min(ui.available_width() * 0.4);
        let (rect, _) = ui.allocate_exact_size(vec2(width, theme::ROW), Sense::hover());
        let colours = theme::colours(ui);
        let colour =
            if ui.is_enabled() { colours.text_soft } else { theme::faded(colours.text_soft) };
        let at = rect.left_center();
        ui.painter().text(at, Align2::LEFT_CENTER, name, FontId::proportional(13.0), colour);
        contents(ui)
    });
    row.inner
}

/// A row that is on or off; the response has changed when it was switched.
pub(crate) fn switch_row(ui: &mut Ui, name: &str, tooltip: &str, on: &mut bool) -> Response {
    let colours = theme::colours(ui);
    let size = vec2(ui.available_width(), theme::ROW);
    let (rect, mut response) = ui.allocate_exact_size(size, Sense::click());
    if response.clicked() {
        *on = !*on;
        response.mark_changed();
    }
    let (enabled, is_on) = (ui.is_enabled(), *on);
    response.widget_info(|| WidgetInfo::selected(Role::Switch, enabled, is_on, name));
    let colour = if enabled { colours.text_soft } else { theme::faded(colours.text_soft) };
    let painter = ui.painter();
    let at = rect.left_center();
    painter.text(at, Align2::LEFT_CENTER, name, FontId::proportional(13.0), colour);
    let centre = pos2(rect.right() - 14.0, rect.center().y);
    let body = egui::Rect::from_center_size(centre, vec2(28.0, 16.0));
    let fill = if is_on && enabled { colours.accent_deep } else { colours.well };
    painter.rect_filled(body, 8.0, fill);
    let knob = if is_on { body.right_center() - vec2(8.0, 0.0) } else { body.left_center() + vec2(8.0, 0.0) };
    let handle = if enabled { colours.handle } else { colours.line };
    painter.circle_filled(knob, 5.0, handle);
    focus_ring(ui, &response, body.expand2(Vec2::splat(3.0)), 11.0);
    response.on_hover_text(tooltip).on_disabled_hover_text(tooltip)
}
