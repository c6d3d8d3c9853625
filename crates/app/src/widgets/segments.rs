//! A few choices side by side: one of them, or each on or off.

use egui::{Align2, FontId, Frame, Margin, Role, Sense, Ui, WidgetInfo, vec2};

use super::focus_ring;
use crate::theme;

/// How a strip of choices is laid out and read out.
#[derive(Debug, Clone, Copy)]
struct Strip {
    role: Role,
    /// As wide as there is room, all alike; else each as wide as its name.
    fills: bool,
}

/// Shows the choices with their tooltips and gives the one that was clicked. Several may be chosen.
pub(crate) fn segments<T: Copy + PartialEq>(
    ui: &mut Ui,
    choices: &[(T, &str, &str)],
    is_chosen: impl Fn(T) -> bool,
) -> Option<T> {
    Strip { role: Role::RadioButton, fills: false }.show(ui, choices, is_chosen)
}

/// The same, as wide as there is room.
pub(crate) fn wide_segments<T: Copy + PartialEq>(
    ui: &mut Ui,
    choices: &[(T, &str, &str)],
    is_chosen: impl Fn(T) -> bool,
) -> Option<T> {
    Strip { role: Role::RadioButton, fills: true }.show(ui, choices, is_chosen)
}

/// Things that are on or off, each for itself, as wide as there is room. Gives the one that was clicked.
pub(crate) fn wide_toggles<T: Copy + PartialEq>(
    ui: &mut Ui,
    choices: &[(T, &str, &str)],
    is_on: impl Fn(T) -> bool,
) -> Option<T> {
    Strip { role: Role::CheckBox, fills: true }.show(ui, choices, is_on)
}

impl Strip {
    fn show<T: Copy + PartialEq>(
        self,
        ui: &mut Ui,
        choices: &[(T, &str, &str)],
        is_chosen: impl Fn(T) -> bool,
    ) -> Option<T> {
        let frame = Frame::new()
            .fill(theme::colours(ui).well)
            .corner_radius(theme::RADIUS)
            .inner_margin(Margin::same(2));
        let inside = ui.available_width() - 4.0 - 2.0 * (choices.len() as f32 - 1.0);
        let width = self.fills.then(|| (inside / choices.len() as f32).floor().max(24.0));
        let strip = frame.show(ui, |ui| {
            ui.spacing_mut().item_spacing.x = 2.0;
            ui.spacing_mut().interact_size.y = theme::ROW - 4.0;
            let row = ui.horizontal(|ui| {
                let shown = choices.iter().map(|&(choice, name, tooltip)| {
                    let chosen = is_chosen(choice);
                    self.segment(ui, (name, tooltip), width, chosen).then_some(choice)
                });
                shown.fold(None, Option::or)
            });
            row.inner
        });
        strip.inner
    }

    fn segment(
        self,
        ui: &mut Ui,
        (name, tooltip): (&str, &str),
        width: Option<f32>,
        chosen: bool,
    ) -> bool {
        let colours = theme::colours(ui);
        let enabled = ui.is_enabled();
        let colour = if chosen { colours.text } else { colours.text_soft };
        let font = FontId::proportional(13.0);
        let galley = ui.painter().layout_no_wrap(name.to_owned(), font, colour);
        let size = vec2(width.unwrap_or(galley.size().x.ceil() + 20.0), theme::ROW - 4.0);
        let (rect, response) = ui.allocate_exact_size(size, Sense::click());
        response.widget_info(|| WidgetInfo::selected(self.role, enabled, chosen, name));
        let radius = f32::from(theme::RADIUS) - 2.0;
        if chosen {
            ui.painter().rect_filled(rect, radius, colours.chosen);
        } else if response.hovered() && enabled {
            ui.painter().rect_filled(rect, radius, colours.raised);
        }
        let at = Align2::CENTER_CENTER.align_size_within_rect(galley.size(), rect);
        let clip = rect.intersect(ui.clip_rect());
        ui.painter().with_clip_rect(clip).galley(at.min.round(), galley, colour);
        focus_ring(ui, &response, rect, radius);
        let clicked = response.clicked();
        if !tooltip.is_empty() {
            response.on_hover_text(tooltip).on_disabled_hover_text(tooltip);
        }
        clicked
    }
}
