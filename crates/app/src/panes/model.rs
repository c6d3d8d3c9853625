//! The model view: the picture, what the hand does on it, and the few controls that lie over it.

mod camera_menu;
mod decal_bar;
pub(super) mod drawn;
mod light_dial;
mod light_panel;
mod marks;
mod path_bar;
mod shown_bar;
#[cfg(test)]
mod tests;

pub(super) use self::marks::{cross, string};
use egui::emath::GuiRounding as _;
use egui::{CursorIcon, Image, MouseWheelUnit, Pos2, Rect, Response, Sense, Ui, vec2};

use super::held_stencil;
use crate::commands::{BrushCommand, Command, LightCommand, ViewCommand};
use crate::desk::{Desk, Held, Met, Motion, STEP_CLOSER, View};
use crate::tool::{Area, Tool};

/// Points that a wheel's notch is worth, where a device counts points.
const NOTCH: f32 = 50.0;

/// A footprint smaller than this, in pixels, is hard to find without an arrow.
const SMALL_PX: f64 = 4.0;

/// What the controls over a view take: a bar along its top, a square in its lower right corner.
const BAR: f32 = 52.0;
const CORNER: f32 = 160.0;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let rect = ui.available_rect_before_wrap().round_to_pixels(ui.ctx().pixels_per_point());
    desk.model_view.place(rect, ui.ctx().pixels_per_point());
    let view = ui.allocate_rect(rect, Sense::click_and_drag());
    view.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, "Model view"));
    if let Some(picture) = desk.pictures.model {
        Image::new((picture, rect.size())).paint_at(ui, rect);
    }
    act(ui, desk, &view);
    marks::show(ui, desk);
    held_stencil::show(ui, desk, View::Model, rect);
    drawn::show(ui, desk, View::Model);
    if rect.width() > 80.0 && rect.height() > 60.0 {
        shown_bar::show(ui, desk, rect);
        light_dial::show(ui, desk, rect);
        path_bar::show(ui, desk, rect);
        decal_bar::show(ui, desk, rect);
    }
}

/// What the hand did in this frame.
fn act(ui: &Ui, desk: &mut Desk, view: &Response) {
    let scale = ui.ctx().pixels_per_point();
    let held = held(ui, desk);
    if view.contains_pointer() {
        wheel(ui, desk);
    }
    give_up(ui, desk);
    if !fingers(ui, desk, view) {
        let deeds = desk.hand.deeds(ui);
        desk.take_deeds(View::Model, &deeds, is_struck(ui, view), held, scale);
    }
    desk.go_on(View::Model, ui.ctx().cumulative_pass_nr());
    let motion = desk.gesture.filter(|gesture| gesture.view == View::Model).map(|on| on.motion);
    let pointer = ui.input(|input| input.pointer.latest_pos());
    let is_over = view.contains_pointer() || motion.is_some();
    let Some(pointer) = pointer.filter(|_| is_over) else { return };
    let sees_brush = matches!(motion, None | Some(Motion::Paint | Motion::SizeBrush { .. }));
    let pointer = match motion {
        Some(Motion::SizeBrush { at }) => at,
        _ => pointer,
    };
    let met = if sees_brush { desk.hover_model(pointer, scale) } else { None };
    let icon = cursor(desk, motion, met.as_ref(), held, scale);
    ui.ctx().set_cursor_icon(icon);
    if motion.is_none() && met.is_some() {
        desk.announce_layer();
    }
}

/// Escape gives up what is being drawn.
pub(super) fn give_up(ui: &Ui, desk: &mut Desk) {
    if desk.gesture.is_some() && ui.input(|input| input.key_pressed(egui::Key::Escape)) {
        desk.take_back_gesture();
    }
}

/// Whether a press of this frame is this view's.
pub(super) fn is_struck(ui: &Ui, view: &Response) -> bool {
    let is_on_view = view.is_pointer_button_down_on()
        || is_crossed_at_once(ui, view)
        || view.clicked()
        || view.secondary_clicked()
        || view.middle_clicked()
        || view.drag_stopped();
    // A press beside a menu closes it, and does no more.
    is_on_view && !egui::Popup::is_any_open(ui.ctx())
}

/// Whether a press on the bare view and its release came in one slow frame, with a way between them: neither a
/// click nor a drag to egui, but a stroke to the hand.
fn is_crossed_at_once(ui: &Ui, view: &Response) -> bool {
    let bare = Rect::from_min_max(view.rect.min + vec2(0.0, BAR), view.rect.max);
    let dial = Rect::from_min_max(view.rect.max - vec2(CORNER, CORNER), view.rect.max);
    let is_bare = |at: Pos2| bare.contains(at) && !dial.contains(at);
    let (pressed, released) = ui.input(|input| {
        let button = |down| {
            input.events.iter().find_map(move |event| match event {
                egui::Event::PointerButton { pos, pressed, .. } if *pressed == down => Some(*pos),
                _ => None,
            })
        };
        (button(true), button(false))
    });
    let on_top = |at: Pos2| ui.ctx().layer_id_at(at) == Some(view.layer_id);
    pressed.is_some_and(|at| is_bare(at) && on_top(at)) && released.is_some()
}

/// The key that is held; of several the one for what is smaller.
pub(super) fn held(ui: &Ui, desk: &Desk) -> Held {
    let is_held = |command| desk.bindings.is_held(ui, command);
    if is_held(Command::Brush(BrushCommand::HoldToSize)) {
        Held::Size
    } else if is_held(Command::Light(LightCommand::HoldToTurn)) {
        Held::Light
    } else if is_held(Command::View(ViewCommand::HoldToTurn)) {
        Held::Turn
    } else {
        Held::Nothing
    }
}

/// The wheel's notches in this frame, and what a pinch on a pad asked for: the factor of the distance.
pub(super) fn wheel_factor(ui: &Ui) -> Option<f64> {
    let factor = ui.input(|input| {
        input.events.iter().fold(1.0, |factor, event| match event {
            egui::Event::MouseWheel { unit, delta, .. } => {
                let notches = match unit {
                    MouseWheelUnit::Point => delta.y / NOTCH,
                    MouseWheelUnit::Line => delta.y,
                    MouseWheelUnit::Page => delta.y * 4.0,
                };
                factor * STEP_CLOSER.powf(f64::from(notches))
            }
            egui::Event::Zoom(zoom) if *zoom > 0.0 => factor / f64::from(*zoom),
            _ => factor,
        })
    });
    (factor != 1.0 && factor.is_finite()).then_some(factor)
}

fn wheel(ui: &Ui, desk: &mut Desk) {
    let pointer = ui.input(|input| input.pointer.latest_pos());
    if let (Some(factor), Some(pointer)) = (wheel_factor(ui), pointer)
        && desk.stroke.is_none()
    {
        desk.dolly_at(pointer, factor);
    }
}

/// Two fingers move the view and go closer. True where there are two.
fn fingers(ui: &Ui, desk: &mut Desk, view: &Response) -> bool {
    let touch = ui.input(egui::InputState::multi_touch);
    let Some(touch) = touch.filter(|touch| view.rect.contains(touch.start_pos)) else {
        return false;
    };
    desk.take_back_gesture();
    desk.pan_by(touch.center_pos, touch.translation_delta);
    desk.dolly_at(touch.center_pos, 1.0 / f64::from(touch.zoom_delta.max(1e-3)));
    true
}

fn cursor(
    desk: &Desk,
    motion: Option<Motion>,
    met: Option<&Met>,
    held: Held,
    pixels_per_point: f32,
) -> CursorIcon {
    match motion {
        Some(Motion::Orbit { .. } | Motion::TurnLight | Motion::MoveKnot | Motion::MoveDecal) => {
            return CursorIcon::Grabbing;
        }
        Some(Motion::Pan { .. } | Motion::PanFlat) => return CursorIcon::Move,
        Some(Motion::SizeBrush { .. }) => return CursorIcon::ResizeHorizontal,
        None if held == Held::Size => return CursorIcon::ResizeHorizontal,
        None if matches!(held, Held::Turn | Held::Light) => return CursorIcon::Grab,
        None if desk.brush.picking.is_some() => return CursorIcon::Crosshair,
        None if desk.laying.is_some() || desk.decal.is_some() => return CursorIcon::Crosshair,
        Some(Motion::Lasso | Motion::Gradient) => return CursorIcon::Crosshair,
        Some(Motion::Paint) | None => {}
    }
    let Some(met) = met else {
        let draws = desk.tool.tool == Tool::Select && desk.tool.selects == Area::Lasso;
        return if draws { CursorIcon::Crosshair } else { CursorIcon::Default };
    };
    let is_lasso = desk.tool.tool == Tool::Select && desk.tool.selects == Area::Lasso;
    if !is_lasso && motion.is_none() && desk.refusal_at(met.part, met.material).is_some() {
        return CursorIcon::NotAllowed;
    }
    if desk.tool.tool != Tool::Brush {
        return CursorIcon::Crosshair;
    }
    let radius = desk.brush.radius_points * f64::from(pixels_per_point);
    if radius < SMALL_PX { CursorIcon::Crosshair } else { CursorIcon::None }
}
