//! One choice of a few, side by side.

use egui::{Align2, FontId, Frame, Margin, Role, Sense, Ui, WidgetInfo, vec2};

use crate::theme;

/// Shows the choices with their tooltips and gives the one that was clicked. Several may be chosen.
pub(crate) fn segments<T: Copy + PartialEq>(
    ui: &mut Ui,
    choices: &[(T, &str, &str)],
    is_chosen: impl Fn(T) -> bool,
) -> Option<T> {
    let colours = theme::colours(ui);
    let mut clicked = None;
    let frame =
        Frame::new().fill(colours.well).corner_radius(theme::RADIUS).inner_margin(Margin::same(2));
    frame.show(ui, |ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        ui.horizontal(|ui| {
            for &(choice, name, tooltip) in choices {
                let chosen = is_chosen(choice);
                let colour = if chosen { colours.text } else { colours.text_soft };
                let font = FontId::proportional(13.0);
                let galley = ui.painter().layout_no_wrap(name.to_owned(), font, colour);
                let size = vec2(galley.size().x + 20.0, theme::ROW - 4.0);
                let (rect, response) = ui.allocate_exact_size(size, Sense::click());
                let enabled = ui.is_enabled();
                response
                    .widget_info(|| WidgetInfo::selected(Role::RadioButton, enabled, chosen, name));
                let fill = if chosen {
                    colours.chosen
                } else if response.hovered() || response.has_focus() {
                    colours.raised
                } else {
                    colours.well
                };
                ui.painter().rect_filled(rect, f32::from(theme::RADIUS) - 2.0, fill);
                let at = Align2::CENTER_CENTER.align_size_within_rect(galley.size(), rect);
                ui.painter().galley(at.min, galley, colour);
                let response =
                    if tooltip.is_empty() { response } else { response.on_hover_text(tooltip) };
                if response.clicked() {
                    clicked = Some(choice);
                }
            }
        });
    });
    clicked
}
