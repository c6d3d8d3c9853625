//! The flat view: the chosen material's texture.

mod bar;
#[cfg(test)]
mod tests;

use egui::emath::GuiRounding as _;
use egui::{CursorIcon, Image, Response, Sense, Ui};
use glam::DVec2;

use super::held_stencil;
use super::model::{cross, drawn, give_up, held, is_struck, string, wheel_factor};
use crate::desk::{Desk, Held, Motion, View};
use crate::does::{CloneSource, Does};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let rect = ui.available_rect_before_wrap().round_to_pixels(ui.ctx().pixels_per_point());
    desk.flat_view.place(rect, ui.ctx().pixels_per_point());
    let view = ui.allocate_rect(rect, Sense::click_and_drag());
    view.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, "Flat view"));
    if let Some(picture) = desk.pictures.flat {
        Image::new((picture, rect.size())).paint_at(ui, rect);
    }
    act(ui, desk, &view);
    marks(ui, desk);
    held_stencil::show(ui, desk, View::Flat, rect);
    drawn::show(ui, desk, View::Flat);
    if rect.width() > 80.0 && rect.height() > 60.0 {
        bar::show(ui, desk, rect);
    }
}

fn act(ui: &Ui, desk: &mut Desk, view: &Response) {
    let scale = ui.ctx().pixels_per_point();
    let held = held(ui, desk);
    let pointer = ui.input(|input| input.pointer.latest_pos());
    if let (Some(factor), Some(pointer)) = (wheel_factor(ui), pointer)
        && view.contains_pointer()
        && desk.stroke.is_none()
    {
        desk.flat_view.zoom(desk.flat_view.pixel(pointer), factor);
    }
    give_up(ui, desk);
    if !fingers(ui, desk, view) {
        let deeds = desk.hand.deeds(ui);
        desk.take_deeds(View::Flat, &deeds, is_struck(ui, view), held, scale);
    }
    desk.go_on(View::Flat, ui.ctx().cumulative_pass_nr());
    let motion = desk.gesture.filter(|gesture| gesture.view == View::Flat).map(|on| on.motion);
    let is_over = view.contains_pointer() || motion.is_some();
    let Some(pointer) = pointer.filter(|_| is_over) else { return };
    let icon = match motion {
        Some(Motion::PanFlat) => CursorIcon::Move,
        Some(Motion::SizeBrush { at }) => {
            desk.hover_flat(at, scale);
            CursorIcon::ResizeHorizontal
        }
        None if held == Held::Turn => CursorIcon::Grab,
        _ => {
            desk.hover_flat(pointer, scale);
            CursorIcon::Crosshair
        }
    };
    ui.ctx().set_cursor_icon(icon);
}

/// The string that the brush hangs on, and the point that a clone comes from.
fn marks(ui: &Ui, desk: &Desk) {
    let flat = &desk.flat_view;
    let painter = ui.painter().with_clip_rect(flat.rect);
    if let Some(ends) = desk.string_px(View::Flat) {
        string(&painter, ends.map(|at_px| flat.place_of(at_px)));
    }
    if desk.brush.does == Does::Clone
        && let Some(CloneSource::Texture { uv, .. }) = desk.brush.source
    {
        cross(&painter, flat.place_of((uv - flat.camera.top_left) / flat.camera.uv_per_px));
    }
}

/// Two fingers move the texture and zoom. True where there are two.
fn fingers(ui: &Ui, desk: &mut Desk, view: &Response) -> bool {
    let touch = ui.input(egui::InputState::multi_touch);
    let Some(touch) = touch.filter(|touch| view.rect.contains(touch.start_pos)) else {
        return false;
    };
    desk.take_back_gesture();
    let scale = f64::from(ui.ctx().pixels_per_point());
    let moved = touch.translation_delta;
    desk.flat_view.pan(DVec2::new(f64::from(moved.x), f64::from(moved.y)) * scale);
    let at = desk.flat_view.pixel(touch.center_pos);
    desk.flat_view.zoom(at, 1.0 / f64::from(touch.zoom_delta.max(1e-3)));
    true
}
