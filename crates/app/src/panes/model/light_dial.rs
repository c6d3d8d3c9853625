//! The light dial: a flat compass ring, seen from above with the viewer at its foot. A bead on it is the key light:
//! round turns it, towards the middle raises it.

use std::f64::consts::{FRAC_PI_2, PI};

use brush::Camera;
use egui::accesskit::Action;
use egui::{
    Align2, Color32, EventFilter, FontId, Key, Pos2, Rect, Response, Role, Sense, Stroke, Ui, Vec2,
    WidgetInfo, pos2, vec2,
};

use super::light_panel;
use crate::commands::{Command, LightCommand};
use crate::desk::{Desk, ModelViewState, wrapped};
use crate::theme;

/// The ring's radius, and that of the disc it lies on, in points.
const RING: f32 = 38.0;
const DISC: f32 = 46.0;

/// A step by key, in radians.
const STEP: f64 = PI / 36.0;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, view: Rect) {
    let centre = view.max - Vec2::splat(12.0 + DISC);
    let disc = Rect::from_center_size(centre, Vec2::splat(2.0 * DISC));
    if view.width() < 220.0 || view.height() < 180.0 {
        return;
    }
    let about = desk.tooltip(Command::Light(LightCommand::HoldToTurn));
    let direction =
        ui.interact(disc, ui.scope_id().with("light direction"), Sense::click_and_drag());
    let inner = Rect::from_center_size(centre, Vec2::splat(RING));
    let height =
        ui.interact(inner, ui.scope_id().with("light height"), Sense::focusable_noninteractive());
    if let Some(pointer) = direction.interact_pointer_pos() {
        put_bead(&mut desk.model_view, (pointer - centre) / RING);
    }
    by_keys(ui, &mut desk.model_view, &direction, &height);
    name(&desk.model_view, &direction, &height);
    draw(ui, &desk.model_view, centre, &direction, &height);
    let direction = direction.on_hover_text(format!(
        "The light, from above, with you at the foot. Round turns it, towards the middle raises it. {about}"
    ));
    if direction.hovered() {
        ui.ctx().set_cursor_icon(egui::CursorIcon::Grab);
    }
    light_panel::show(ui, desk, disc);
    badge(ui, &desk.model_view, disc);
}

/// From +Z about +Y to where the camera stands, in radians.
fn camera_azimuth(camera: &Camera) -> f64 {
    let away = camera.eye - camera.target;
    let level = if away.x.hypot(away.z) > 1e-6 * away.length() {
        away
    } else {
        // Straight down the picture's foot is where the viewer stands; straight up its head.
        -camera.up * away.y.signum()
    };
    level.x.atan2(level.z)
}

/// Where the bead is, in ring radii from the middle, y down.
fn bead(view: &ModelViewState) -> Vec2 {
    let key = &view.lighting.key;
    let angle = f64::from(key.azimuth_rad) - camera_azimuth(&view.camera);
    let reach = 1.0 - f64::from(key.elevation_rad).clamp(0.0, FRAC_PI_2) / FRAC_PI_2;
    let side = if view.mirrored { -1.0 } else { 1.0 };
    vec2((angle.sin() * reach * side) as f32, (angle.cos() * reach) as f32)
}

/// Turns and raises the light so that the bead is there, as near as the ring lets it.
fn put_bead(view: &mut ModelViewState, at: Vec2) {
    let side = if view.mirrored { -1.0 } else { 1.0 };
    let (x, y) = (f64::from(at.x) * side, f64::from(at.y));
    let reach = x.hypot(y);
    let azimuth = camera_azimuth(&view.camera) + x.atan2(y);
    let key = &mut view.lighting.key;
    // In the very middle it keeps its direction.
    if reach > 0.02 {
        key.azimuth_rad = wrapped(azimuth);
    }
    key.elevation_rad = ((1.0 - reach.min(1.0)) * FRAC_PI_2) as f32;
}

/// The arrow keys of whichever of the two has the focus.
fn by_keys(ui: &Ui, view: &mut ModelViewState, direction: &Response, height: &Response) {
    let steps = |response: &Response, [less, more]: [Key; 2]| {
        if !response.has_focus() {
            return 0.0;
        }
        let (horizontal_arrows, vertical_arrows) = (true, true);
        let filter = EventFilter { horizontal_arrows, vertical_arrows, ..EventFilter::default() };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
        ui.input(|input| {
            let asked = |action| input.num_accesskit_action_requests(response.id, action);
            let pressed = |key| if input.modifiers.is_none() { input.num_presses(key) } else { 0 };
            let more = pressed(more) + asked(Action::Increment);
            let less = pressed(less) + asked(Action::Decrement);
            more as f64 - less as f64
        })
    };
    let turned = steps(direction, [Key::ArrowLeft, Key::ArrowRight]);
    let raised = steps(height, [Key::ArrowDown, Key::ArrowUp])
        + steps(height, [Key::ArrowLeft, Key::ArrowRight])
        + steps(direction, [Key::ArrowDown, Key::ArrowUp]);
    let key = &mut view.lighting.key;
    if turned != 0.0 {
        key.azimuth_rad = wrapped(f64::from(key.azimuth_rad) + turned * STEP);
    }
    if raised != 0.0 {
        let elevation = f64::from(key.elevation_rad) + raised * STEP;
        key.elevation_rad = elevation.clamp(0.0, FRAC_PI_2) as f32;
    }
}

/// Two values for who can't see the ring, in degrees.
fn name(view: &ModelViewState, direction: &Response, height: &Response) {
    let key = view.lighting.key;
    let slider = |name: &str, value: f64| WidgetInfo {
        value: Some(value),
        ..WidgetInfo::labeled(Role::Slider, true, name)
    };
    direction
        .widget_info(|| slider("Light direction", f64::from(key.azimuth_rad).to_degrees().round()));
    height
        .widget_info(|| slider("Light height", f64::from(key.elevation_rad).to_degrees().round()));
}

fn draw(ui: &Ui, view: &ModelViewState, centre: Pos2, direction: &Response, height: &Response) {
    let colours = theme::colours(ui);
    let painter = ui.painter();
    painter.circle_filled(centre, DISC, colours.panel.gamma_multiply(0.92));
    let line = Stroke::new(1.0, colours.text_weak);
    painter.circle_stroke(centre, RING, line);
    painter.circle_stroke(
        centre,
        RING * 0.5,
        Stroke::new(1.0, colours.text_weak.gamma_multiply(0.4)),
    );
    for towards in [vec2(0.0, -1.0), vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0)] {
        painter
            .line_segment([centre + towards * (RING - 4.0), centre + towards * (RING + 4.0)], line);
    }
    // Who looks stands here.
    let foot = centre + vec2(0.0, RING + 4.0);
    let mark = vec![foot, foot + vec2(-4.0, 5.0), foot + vec2(4.0, 5.0)];
    painter.add(egui::Shape::convex_polygon(mark, colours.text_soft, Stroke::NONE));
    for arm in [vec2(3.0, 0.0), vec2(0.0, 3.0)] {
        painter.line_segment([centre - arm, centre + arm], line);
    }
    let is_on = view.lighting.key.strength > 0.0;
    let accent = if is_on { colours.accent } else { colours.text_weak };
    let bead = centre + bead(view) * RING;
    painter.line_segment([centre, bead], Stroke::new(1.5, accent));
    let is_held = direction.dragged() || direction.hovered();
    painter.circle(bead, if is_held { 7.0 } else { 6.0 }, colours.handle, Stroke::new(2.0, accent));
    if direction.has_focus() {
        painter.circle_stroke(centre, DISC - 1.0, Stroke::new(2.0, colours.accent));
    }
    if height.has_focus() {
        painter.circle_stroke(bead, 10.0, Stroke::new(2.0, colours.accent));
    }
}

/// Whoever judges colour must know that the light has one.
fn badge(ui: &mut Ui, view: &ModelViewState, disc: Rect) {
    if !view.light.is_tinted(&view.lighting.key) {
        return;
    }
    let colours = theme::colours(ui);
    let text = "Tinted light";
    let galley =
        ui.painter().layout_no_wrap(text.to_owned(), FontId::proportional(12.0), colours.warning);
    let size = galley.size() + vec2(16.0, 6.0);
    let top = disc.top() - 8.0 - size.y;
    let rect = Rect::from_min_size(pos2(disc.right() - size.x, top), size);
    ui.painter().rect_filled(rect, f32::from(theme::RADIUS), colours.panel);
    let at = Align2::CENTER_CENTER.align_size_within_rect(galley.size(), rect);
    ui.painter().galley(at.min, galley, Color32::PLACEHOLDER);
    let response = ui.interact(rect, ui.scope_id().with("tinted"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, text));
    response.on_hover_text("The light has a colour: don't judge base colour by it");
}

#[cfg(test)]
mod tests {
    use glam::DVec3;

    use super::*;

    fn view(eye: DVec3) -> ModelViewState {
        let mut view = ModelViewState::default();
        view.camera.target = DVec3::ZERO;
        view.camera.eye = eye;
        view
    }

    #[test]
    fn the_bead_is_where_it_was_put_from_wherever_the_model_is_seen() {
        for eye in [DVec3::Z, DVec3::NEG_X, DVec3::new(1.0, 2.0, 0.5), DVec3::Y] {
            for mirrored in [false, true] {
                let mut view = view(eye);
                view.camera.up = if eye == DVec3::Y { DVec3::NEG_Z } else { DVec3::Y };
                view.mirrored = mirrored;
                for at in [vec2(0.5, 0.5), vec2(-0.3, 0.8), vec2(0.0, -0.99)] {
                    put_bead(&mut view, at);
                    assert!((bead(&view) - at).length() < 1e-5, "{eye} {at}");
                }
            }
        }
    }

    #[test]
    fn outside_of_the_ring_the_light_is_on_the_horizon_and_in_the_middle_overhead() {
        let mut view = view(DVec3::Z);
        put_bead(&mut view, vec2(4.0, 0.0));
        assert_eq!(view.lighting.key.elevation_rad, 0.0);
        let right = view.lighting.key.azimuth_rad;
        assert!((f64::from(right) - FRAC_PI_2).abs() < 1e-6, "from +X: {right}");
        put_bead(&mut view, vec2(0.0, 0.0));
        assert!((f64::from(view.lighting.key.elevation_rad) - FRAC_PI_2).abs() < 1e-6);
        assert_eq!(view.lighting.key.azimuth_rad, right);
    }
}
