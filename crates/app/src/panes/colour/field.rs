//! The picker: hue along a band; under it, all that the hue gives, grey at the left, pure at the right, black at
//! the bottom. And the three numbers.

use egui::{
    Color32, DragValue, EventFilter, Key, Mesh, Modifiers, Rect, Response, Role, Sense, Stroke, Ui,
    WidgetInfo, pos2, vec2,
};

use super::place_in;
use crate::colour::Hsv;
use crate::theme;
use crate::widgets::focus_ring;

const FIELD_HEIGHT: f32 = 84.0;
const BAND_HEIGHT: f32 = 14.0;
/// Steps of the arrow keys.
const STEP: f64 = 0.01;
const HUE_STEP: f64 = 1.0;
/// Patches across and down that the field is drawn with: it is not linear in both at once.
const ACROSS: usize = 16;
const DOWN: usize = 12;

/// Shows the picker; true when it changed the colour.
pub(in crate::panes) fn show(ui: &mut Ui, hsv: &mut Hsv) -> bool {
    let before = *hsv;
    hue_band(ui, hsv);
    field(ui, hsv);
    numbers(ui, hsv);
    *hsv != before
}

fn hue_band(ui: &mut Ui, hsv: &mut Hsv) {
    let size = vec2(ui.available_width(), BAND_HEIGHT + 6.0);
    let (outer, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let rect = outer.shrink2(vec2(0.0, 3.0));
    if let Some(at) = response.interact_pointer_pos() {
        hsv.hue = f64::from(place_in(rect, at).x).min(0.9999) * 360.0;
    }
    let [across, _] = arrows(ui, &response);
    hsv.hue = (hsv.hue + across * HUE_STEP).rem_euclid(360.0);
    let (hue, enabled) = (hsv.hue, ui.is_enabled());
    response.widget_info(|| WidgetInfo::slider(enabled, hue.round(), "Hue"));
    let colour = |x: f64| shown(Hsv { hue: x * 360.0, saturation: 1.0, value: 1.0 });
    let mesh = patches(rect, [36, 1], |x, _| colour(x));
    ui.painter().add(mesh);
    let x = rect.left() + rect.width() * (hsv.hue / 360.0) as f32;
    let colours = theme::colours(ui);
    let mark = Rect::from_center_size(pos2(x, rect.center().y), vec2(6.0, rect.height() + 4.0));
    if enabled {
        ui.painter().rect(
            mark,
            3.0,
            colour(hsv.hue / 360.0),
            Stroke::new(2.0, colours.handle),
            egui::StrokeKind::Inside,
        );
    }
    focus_ring(ui, &response, outer, 3.0);
    response.on_hover_text("Hue");
}

fn field(ui: &mut Ui, hsv: &mut Hsv) {
    let size = vec2(ui.available_width(), FIELD_HEIGHT);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    if let Some(at) = response.interact_pointer_pos() {
        let place = place_in(rect, at);
        (hsv.saturation, hsv.value) = (f64::from(place.x), f64::from(1.0 - place.y));
    }
    let [across, up] = arrows(ui, &response);
    hsv.saturation = (hsv.saturation + across * STEP).clamp(0.0, 1.0);
    hsv.value = (hsv.value + up * STEP).clamp(0.0, 1.0);
    let enabled = ui.is_enabled();
    let told =
        format!("Saturation {:.0} %, value {:.0} %", hsv.saturation * 100.0, hsv.value * 100.0);
    response.widget_info(|| WidgetInfo {
        current_text_value: Some(told.clone()),
        ..WidgetInfo::labeled(Role::Canvas, enabled, "Saturation and value")
    });
    let hue = hsv.hue;
    let mesh =
        patches(rect, [ACROSS, DOWN], |x, y| shown(Hsv { hue, saturation: x, value: 1.0 - y }));
    ui.painter().add(mesh);
    if enabled {
        let centre = rect.min + rect.size() * vec2(hsv.saturation as f32, (1.0 - hsv.value) as f32);
        // Two rings, so that one of them shows on any colour.
        let painter = ui.painter().with_clip_rect(rect.expand(7.0));
        painter.circle_stroke(centre, 6.0, Stroke::new(1.0, Color32::BLACK));
        painter.circle(centre, 5.0, shown(*hsv), Stroke::new(2.0, Color32::WHITE));
    }
    focus_ring(ui, &response, rect, 0.0);
    response.on_hover_text("To the right purer, upwards brighter");
}

/// How often the arrows were pressed: to the right, and up. With Shift ten at a time.
fn arrows(ui: &Ui, response: &Response) -> [f64; 2] {
    if !response.has_focus() {
        return [0.0; 2];
    }
    let filter =
        EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
    ui.input_mut(|input| {
        let mut presses = |key| {
            let coarse = input.count_and_consume_key(Modifiers::SHIFT, key) * 10;
            (input.count_and_consume_key(Modifiers::NONE, key) + coarse) as f64
        };
        [
            presses(Key::ArrowRight) - presses(Key::ArrowLeft),
            presses(Key::ArrowUp) - presses(Key::ArrowDown),
        ]
    })
}

/// Hue in degrees, saturation and value in hundredths, each to be typed or dragged.
fn numbers(ui: &mut Ui, hsv: &mut Hsv) {
    ui.columns(3, |columns| {
        let one =
            |ui: &mut Ui, name: &str, letter: &str, suffix: &str, value: &mut f64, most: f64| {
                let mut shown = *value;
                ui.visuals_mut().widgets.inactive.weak_bg_fill = theme::colours(ui).well;
                ui.spacing_mut().button_padding.x = 6.0;
                let field = DragValue::new(&mut shown)
                    .range(0.0..=most)
                    .speed(most / 400.0)
                    .fixed_decimals(0)
                    .prefix(format!("{letter} "))
                    .suffix(suffix)
                    .update_while_editing(false);
                let size = vec2(ui.available_width(), theme::ROW - 4.0);
                let response = ui.add_sized(size, field).on_hover_text(name).accessible_name(name);
                if response.changed() {
                    *value = shown;
                }
            };
        let mut hue = hsv.hue;
        one(&mut columns[0], "Hue in degrees", "H", "°", &mut hue, 360.0);
        if hue != hsv.hue {
            hsv.hue = hue.rem_euclid(360.0);
        }
        let mut saturation = hsv.saturation * 100.0;
        one(&mut columns[1], "Saturation", "S", " %", &mut saturation, 100.0);
        if saturation != hsv.saturation * 100.0 {
            hsv.saturation = saturation / 100.0;
        }
        let mut value = hsv.value * 100.0;
        one(&mut columns[2], "Value", "V", " %", &mut value, 100.0);
        if value != hsv.value * 100.0 {
            hsv.value = value / 100.0;
        }
    });
}

fn shown(hsv: Hsv) -> Color32 {
    let [r, g, b] = hsv.components().map(|component| (component * 255.0).round() as u8);
    Color32::from_rgb(r, g, b)
}

/// A rectangle in colours that depend on the place, 0..1 across and down.
fn patches(rect: Rect, [across, down]: [usize; 2], colour: impl Fn(f64, f64) -> Color32) -> Mesh {
    let mut mesh = Mesh::default();
    for row in 0..=down {
        for column in 0..=across {
            let (x, y) = (column as f64 / across as f64, row as f64 / down as f64);
            let at = rect.min + rect.size() * vec2(x as f32, y as f32);
            mesh.colored_vertex(at, colour(x, y));
        }
    }
    let index = |column: usize, row: usize| (row * (across + 1) + column) as u32;
    for row in 0..down {
        for column in 0..across {
            let [a, b] = [index(column, row), index(column + 1, row)];
            let [c, d] = [index(column, row + 1), index(column + 1, row + 1)];
            mesh.add_triangle(a, b, c);
            mesh.add_triangle(b, d, c);
        }
    }
    mesh
}
