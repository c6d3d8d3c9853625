//! A row with a name, a slider and a number that can be typed.

use std::ops::RangeInclusive;

use egui::{DragValue, Key, Rect, Response, Role, Sense, Ui, WidgetInfo, pos2, vec2};

use crate::theme;

/// How a slider's length is shared out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scale {
    /// Evenly.
    Even,
    /// Each step a share of the value: for sizes. The range must not hold 0.
    Ratio,
}

/// See the module. Made with [`ValueRow::new`], shown with [`ValueRow::show`].
#[derive(Debug)]
pub(crate) struct ValueRow<'a> {
    name: &'a str,
    tooltip: &'a str,
    range: RangeInclusive<f64>,
    scale: Scale,
    factor: f64,
    decimals: usize,
    suffix: &'a str,
}

impl<'a> ValueRow<'a> {
    /// A row for a value in this range, shown as it is with two decimals.
    pub(crate) const fn new(name: &'a str, tooltip: &'a str, range: RangeInclusive<f64>) -> Self {
        Self { name, tooltip, range, scale: Scale::Even, factor: 1.0, decimals: 2, suffix: "" }
    }

    /// Shown in hundredths.
    pub(crate) const fn percent(self) -> Self {
        Self { factor: 100.0, decimals: 0, suffix: " %", ..self }
    }

    /// With a unit after the number.
    pub(crate) const fn unit(self, suffix: &'a str, decimals: usize) -> Self {
        Self { suffix, decimals, ..self }
    }

    /// With another scale.
    pub(crate) const fn scale(self, scale: Scale) -> Self {
        Self { scale, ..self }
    }

    /// Shows the row; the response has changed when the value has.
    pub(crate) fn show(&self, ui: &mut Ui, value: &mut f64) -> Response {
        let before = *value;
        let colours = theme::colours(ui);
        let row = ui.horizontal(|ui| {
            ui.set_min_height(theme::ROW);
            let (name_at, _) =
                ui.allocate_exact_size(vec2(theme::NAME_WIDTH, theme::ROW), Sense::hover());
            let colour = if ui.is_enabled() { colours.text_soft } else { colours.text_weak };
            ui.painter().text(
                name_at.left_center(),
                egui::Align2::LEFT_CENTER,
                self.name,
                egui::FontId::proportional(13.0),
                colour,
            );
            let number_width = 56.0;
            let width = (ui.available_width() - number_width - theme::GAP).max(32.0);
            let slider = self.slider(ui, width, value);
            let number = self.number(ui, number_width, value);
            slider.union(number)
        });
        let mut response = row.inner;
        if !self.tooltip.is_empty() {
            response = response.on_hover_text(self.tooltip);
        }
        if *value != before {
            response.mark_changed();
        }
        response
    }

    fn number(&self, ui: &mut Ui, width: f32, value: &mut f64) -> Response {
        let mut shown = *value * self.factor;
        let range = self.range.start() * self.factor..=self.range.end() * self.factor;
        let speed = (range.end() - range.start()) / 400.0;
        let field = DragValue::new(&mut shown)
            .range(range)
            .speed(speed)
            .fixed_decimals(self.decimals)
            .suffix(self.suffix);
        let name = format!("{} number", self.name);
        let response = ui
            .scope(|ui| {
                ui.visuals_mut().widgets.inactive.weak_bg_fill = egui::Color32::TRANSPARENT;
                ui.spacing_mut().button_padding.x = 4.0;
                ui.add_sized([width, theme::ROW - 4.0], field)
            })
            .inner
            .accessible_name(name);
        if response.changed() {
            *value = shown / self.factor;
        }
        response
    }

    fn slider(&self, ui: &mut Ui, width: f32, value: &mut f64) -> Response {
        let colours = theme::colours(ui);
        let (rect, response) =
            ui.allocate_exact_size(vec2(width, theme::ROW), Sense::click_and_drag());
        let track = Rect::from_center_size(rect.center(), vec2(rect.width() - 12.0, 4.0));
        if let Some(pointer) = response.interact_pointer_pos() {
            let share = f64::from((pointer.x - track.left()) / track.width()).clamp(0.0, 1.0);
            *value = self.at(share);
        }
        if response.has_focus() {
            let steps = ui.input(|input| {
                let pressed = |key| input.num_presses(key) as f64;
                pressed(Key::ArrowRight) - pressed(Key::ArrowLeft)
            });
            if steps != 0.0 {
                *value = self.at((self.share(*value) + steps * 0.02).clamp(0.0, 1.0));
            }
            ui.memory_mut(|memory| {
                let filter = egui::EventFilter { horizontal_arrows: true, ..Default::default() };
                memory.set_focus_lock_filter(response.id, filter);
            });
        }
        let (name, shown, enabled) = (self.name, *value * self.factor, ui.is_enabled());
        response.widget_info(|| WidgetInfo {
            value: Some(shown),
            ..WidgetInfo::labeled(Role::Slider, enabled, name)
        });
        let painter = ui.painter();
        painter.rect_filled(track, 2.0, colours.well);
        let x = track.left() + track.width() * self.share(*value) as f32;
        let filled = Rect::from_min_max(track.min, pos2(x, track.max.y));
        let (fill, handle) = if enabled {
            (colours.accent, colours.handle)
        } else {
            (colours.line, colours.text_weak)
        };
        painter.rect_filled(filled, 2.0, fill);
        let radius = if response.hovered() || response.dragged() { 7.0 } else { 6.0 };
        painter.circle_filled(pos2(x, track.center().y), radius, handle);
        if response.has_focus() {
            let ring = egui::Stroke::new(2.0, colours.accent);
            painter.circle_stroke(pos2(x, track.center().y), 9.0, ring);
        }
        response
    }

    /// Where a value lies on the slider, 0..1.
    fn share(&self, value: f64) -> f64 {
        let (low, high) = (*self.range.start(), *self.range.end());
        let share = match self.scale {
            Scale::Even => (value - low) / (high - low),
            Scale::Ratio => (value / low).ln() / (high / low).ln(),
        };
        share.clamp(0.0, 1.0)
    }

    /// The value at a place of the slider.
    fn at(&self, share: f64) -> f64 {
        let (low, high) = (*self.range.start(), *self.range.end());
        match self.scale {
            Scale::Even => low + (high - low) * share,
            Scale::Ratio => low * (high / low).powf(share),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_on_the_slider_and_its_value_are_one() {
        for scale in [Scale::Even, Scale::Ratio] {
            let row = ValueRow::new("size", "", 1.0..=1000.0).scale(scale);
            for share in [0.0, 0.25, 0.5, 1.0] {
                assert!((row.share(row.at(share)) - share).abs() < 1e-12);
            }
        }
        let size = ValueRow::new("size", "", 1.0..=10_000.0).scale(Scale::Ratio);
        assert!((size.at(0.5) - 100.0).abs() < 1e-9);
    }
}
