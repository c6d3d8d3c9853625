//! A row with a name, a slider and a number that can be typed.
//!
//! A drag moves the value along the slider, with Shift ten times as finely; a double click brings the usual
//! value back. With the focus: arrows, Page Up and Down, Home and End; the wheel only then, so that it scrolls
//! the panel otherwise.

use std::ops::RangeInclusive;

use egui::accesskit::{Action, ActionData};
use egui::{
    Align, Color32, DragValue, EventFilter, Id, Key, Layout, Modifiers, Rect, Response, Sense, Ui,
    WidgetInfo, pos2, vec2,
};

use crate::theme;

/// How a slider's length is shared out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scale {
    /// Evenly.
    Even,
    /// Each step a share of the value: for sizes. The range must not hold 0.
    Ratio,
}

/// Shares of the slider's length that keys and the wheel go.
const STEP: f64 = 0.01;
const PAGE: f64 = 0.1;
/// What Shift makes of a drag or a step.
const FINE: f64 = 0.1;
/// Width of the number.
const NUMBER_WIDTH: f32 = 52.0;
/// Half the handle: the track ends this far inside.
const HANDLE: f32 = 6.0;

/// See the module. Made with [`ValueRow::new`], shown with [`ValueRow::show`].
#[derive(Debug)]
pub(crate) struct ValueRow<'a> {
    name: &'a str,
    spoken: &'a str,
    tooltip: &'a str,
    range: RangeInclusive<f64>,
    scale: Scale,
    factor: f64,
    decimals: usize,
    suffix: &'a str,
    usual: Option<f64>,
}

impl<'a> ValueRow<'a> {
    /// A row for a value in this range, shown as it is with two decimals.
    pub(crate) const fn new(name: &'a str, tooltip: &'a str, range: RangeInclusive<f64>) -> Self {
        Self {
            name,
            spoken: name,
            tooltip,
            range,
            scale: Scale::Even,
            factor: 1.0,
            decimals: 2,
            suffix: "",
            usual: None,
        }
    }

    /// Shown in hundredths.
    pub(crate) const fn percent(self) -> Self {
        Self { factor: 100.0, decimals: 0, suffix: " %", ..self }
    }

    /// With a unit after the number.
    pub(crate) const fn unit(self, suffix: &'a str, decimals: usize) -> Self {
        Self { decimals, suffix, ..self }
    }

    /// With another scale.
    pub(crate) const fn scale(self, scale: Scale) -> Self {
        Self { scale, ..self }
    }

    /// With another name for screen readers, where the shown one stands twice in a panel.
    pub(crate) const fn spoken(self, spoken: &'a str) -> Self {
        Self { spoken, ..self }
    }

    /// With the value that a double click brings back.
    pub(crate) const fn usual(self, value: f64) -> Self {
        Self { usual: Some(value), ..self }
    }

    /// Shows the row; the response has changed when the value has.
    pub(crate) fn show(&self, ui: &mut Ui, value: &mut f64) -> Response {
        let before = *value;
        let colours = theme::colours(ui);
        let row = ui.horizontal(|ui| {
            ui.set_min_height(theme::ROW);
            ui.spacing_mut().item_spacing.x = 4.0;
            let name_size = vec2(theme::NAME_WIDTH.min(ui.available_width() * 0.4), theme::ROW);
            let (name_at, _) = ui.allocate_exact_size(name_size, Sense::hover());
            ui.painter().with_clip_rect(name_at.intersect(ui.clip_rect())).text(
                name_at.left_center(),
                egui::Align2::LEFT_CENTER,
                self.name,
                egui::FontId::proportional(13.0),
                colours.text_soft,
            );
            let width = (ui.available_width() - NUMBER_WIDTH - 4.0).max(32.0);
            let slider = self.slider(ui, width, value);
            let number = self.number(ui, value);
            slider.union(number)
        });
        let mut response = row.inner;
        if !self.tooltip.is_empty() {
            response = response.on_hover_text(self.tooltip).on_disabled_hover_text(self.tooltip);
        }
        if *value != before {
            response.mark_changed();
        }
        response
    }

    fn number(&self, ui: &mut Ui, value: &mut f64) -> Response {
        let mut shown = *value * self.factor;
        let range = self.range.start() * self.factor..=self.range.end() * self.factor;
        let speed = (range.end() - range.start()) / 400.0;
        let speed = if self.scale == Scale::Ratio { shown / 50.0 } else { speed };
        let suffix = self.suffix.trim();
        let field = DragValue::new(&mut shown)
            .range(range)
            .speed(speed)
            .fixed_decimals(self.decimals)
            .suffix(self.suffix)
            .update_while_editing(false)
            .custom_parser(|text| typed(text, suffix));
        let name = format!("{} number", self.spoken);
        let size = vec2(NUMBER_WIDTH, theme::ROW);
        let response = ui
            .allocate_ui_with_layout(size, Layout::right_to_left(Align::Center), |ui| {
                ui.set_min_size(size);
                let spacing = ui.spacing_mut();
                spacing.button_padding = vec2(4.0, 2.0);
                spacing.interact_size = vec2(NUMBER_WIDTH - 4.0, theme::ROW - 4.0);
                ui.visuals_mut().widgets.inactive.weak_bg_fill = Color32::TRANSPARENT;
                ui.add(field.min_size(vec2(24.0, theme::ROW - 4.0)))
            })
            .inner
            .accessible_name(name);
        if response.changed() {
            *value = shown / self.factor;
        }
        response
    }

    fn slider(&self, ui: &mut Ui, width: f32, value: &mut f64) -> Response {
        let (rect, response) =
            ui.allocate_exact_size(vec2(width, theme::ROW), Sense::click_and_drag());
        let track =
            Rect::from_center_size(rect.center().round(), vec2(rect.width() - 2.0 * HANDLE, 4.0));
        if ui.is_enabled() {
            self.follow_pointer(ui, &response, track, value);
            self.follow_keys(ui, &response, value);
            self.follow_requests(ui, response.id, value);
        }
        let (name, shown, enabled) = (self.spoken, *value * self.factor, ui.is_enabled());
        response.widget_info(|| WidgetInfo::slider(enabled, shown, name));
        self.tell_range(ui, response.id);
        self.draw(ui, &response, track, *value);
        response
    }

    fn follow_pointer(&self, ui: &Ui, response: &Response, track: Rect, value: &mut f64) {
        if response.double_clicked() {
            *value = self.usual.unwrap_or(*value);
            return;
        }
        let Some(pointer) = response.interact_pointer_pos() else { return };
        let (pressed, moved, fine) = ui.input(|input| {
            let pointer = &input.pointer;
            (pointer.any_pressed(), f64::from(pointer.delta().x), input.modifiers.shift)
        });
        let width = f64::from(track.width());
        let place = response.id.with("where the drag is");
        let share = if response.clicked() || pressed {
            if fine { self.share(*value) } else { f64::from(pointer.x - track.left()) / width }
        } else if response.is_pointer_button_down_on() && moved != 0.0 {
            let kept = ui.data(|data| data.get_temp(place)).unwrap_or(self.share(*value));
            kept + moved / width * if fine { FINE } else { 1.0 }
        } else {
            return;
        };
        // Beyond the ends too: who comes back gets the handle again where they left it.
        ui.data_mut(|data| data.insert_temp(place, share));
        if !(fine && pressed) {
            *value = self.at(share.clamp(0.0, 1.0));
        }
    }

    fn follow_keys(&self, ui: &Ui, response: &Response, value: &mut f64) {
        if !response.has_focus() {
            return;
        }
        let filter = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
        let hovered = response.hovered();
        let (steps, end) = ui.input_mut(|input| {
            let fine = if input.modifiers.shift { FINE } else { 1.0 };
            let mut presses = |key| {
                let plain = input.count_and_consume_key(Modifiers::NONE, key);
                (plain + input.count_and_consume_key(Modifiers::SHIFT, key)) as f64
            };
            let arrows = presses(Key::ArrowRight) + presses(Key::ArrowUp)
                - presses(Key::ArrowLeft)
                - presses(Key::ArrowDown);
            let pages = presses(Key::PageUp) - presses(Key::PageDown);
            let end = match (presses(Key::Home) > 0.0, presses(Key::End) > 0.0) {
                (true, _) => Some(0.0),
                (_, true) => Some(1.0),
                _ => None,
            };
            let mut steps = arrows * STEP * fine + pages * PAGE;
            if hovered && input.smooth_scroll_delta.y != 0.0 {
                steps += f64::from(input.smooth_scroll_delta.y) / 50.0 * STEP * fine;
                input.smooth_scroll_delta.y = 0.0;
            }
            (steps, end)
        });
        if let Some(end) = end {
            *value = self.at(end);
        } else if steps != 0.0 {
            *value = self.at((self.share(*value) + steps).clamp(0.0, 1.0));
        }
    }

    /// What a screen reader asks for.
    fn follow_requests(&self, ui: &Ui, id: Id, value: &mut f64) {
        let (steps, wanted) = ui.input(|input| {
            let asked = |action| input.num_accesskit_action_requests(id, action) as f64;
            let wanted =
                input.accesskit_action_requests(id, Action::SetValue).filter_map(|request| {
                    match request.data {
                        Some(ActionData::NumericValue(wanted)) => Some(wanted),
                        _ => None,
                    }
                });
            (asked(Action::Increment) - asked(Action::Decrement), wanted.last())
        });
        if steps != 0.0 {
            *value = self.at((self.share(*value) + steps * STEP).clamp(0.0, 1.0));
        }
        if let Some(wanted) = wanted.filter(|wanted| wanted.is_finite()) {
            *value = (wanted / self.factor).clamp(*self.range.start(), *self.range.end());
        }
    }

    fn tell_range(&self, ui: &Ui, id: Id) {
        let (low, high) = (self.range.start() * self.factor, self.range.end() * self.factor);
        let enabled = ui.is_enabled();
        ui.ctx().accesskit_node_builder(id, |node| {
            node.set_min_numeric_value(low);
            node.set_max_numeric_value(high);
            if enabled {
                node.add_action(Action::SetValue);
                node.add_action(Action::Increment);
                node.add_action(Action::Decrement);
            }
        });
    }

    fn draw(&self, ui: &Ui, response: &Response, track: Rect, value: f64) {
        let (colours, enabled) = (theme::colours(ui), ui.is_enabled());
        let painter = ui.painter();
        let x = track.left() + track.width() * self.share(value) as f32;
        let x = ui.painter().round_to_pixel_center(x);
        let (fill, handle) = if enabled {
            (colours.accent, colours.handle)
        } else {
            (colours.text_weak, colours.text_weak)
        };
        painter.rect_filled(track, 2.0, colours.well);
        let filled = Rect::from_min_max(track.min, pos2(x, track.max.y));
        painter.rect_filled(filled, 2.0, fill);
        let lively = enabled && (response.hovered() || response.dragged());
        let radius = if lively { HANDLE + 1.0 } else { HANDLE };
        let centre = pos2(x, track.center().y);
        painter.circle_filled(centre, radius + 1.0, colours.panel);
        painter.circle_filled(centre, radius, handle);
        if response.has_focus() {
            let ring = egui::Stroke::new(2.0, colours.accent);
            painter.circle_stroke(centre, HANDLE + 3.0, ring);
        }
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

/// A number as people type it: with a comma for the point, with its unit or without.
fn typed(text: &str, unit: &str) -> Option<f64> {
    let text = text.trim();
    let number = text.strip_suffix(unit).unwrap_or(text).trim_end().replace(',', ".");
    number.parse().ok().filter(|number: &f64| number.is_finite())
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

    #[test]
    fn numbers_are_read_as_people_type_them() {
        let table = [
            ("12", Some(12.0)),
            (" 12.5 ", Some(12.5)),
            ("12,5", Some(12.5)),
            ("40 %", Some(40.0)),
            ("40%", Some(40.0)),
            ("-3", Some(-3.0)),
            ("", None),
            ("forty", None),
            ("inf", None),
            ("NaN", None),
        ];
        for (text, expected) in table {
            assert_eq!(typed(text, "%"), expected, "{text:?}");
        }
    }
}
