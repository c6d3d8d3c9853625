//! The stencil over a view: what it keeps off is tinted, and two handles move it, one of them its size and turn.

use brush::{GreyImage, ImageName};
use egui::{
    Color32, ColorImage, CursorIcon, Id, Mesh, Painter, Pos2, Rect, Sense, Shape, Stroke,
    TextureHandle, TextureOptions, Ui, Vec2, pos2, vec2,
};
use glam::DVec2;

use crate::desk::{Desk, View};
use crate::stencil_in_hand::StencilInHand;
use crate::theme;

/// Longest edge of the picture that is drawn, in pixels.
const LONGEST: usize = 1024;
/// Radius of a handle, in points.
const HANDLE: f32 = 8.0;
/// How strongly the sheet is tinted, and while a stroke goes through it.
const TINT: f32 = 0.42;
const FAINT: f32 = 0.2;

/// The picture of the sheet, made anew when another one is held.
#[derive(Default)]
pub(crate) struct SheetPicture(Option<(ImageName, bool, TextureHandle)>);

impl std::fmt::Debug for SheetPicture {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("SheetPicture").field(&self.0.is_some()).finish()
    }
}

impl SheetPicture {
    fn texture(&mut self, ui: &Ui, image: &GreyImage, inverted: bool) -> TextureHandle {
        if let Some((name, as_shown, texture)) = &self.0
            && (*name, *as_shown) == (image.name(), inverted)
        {
            return texture.clone();
        }
        let picture = picture(image, inverted);
        let texture = ui.ctx().load_texture("stencil", picture, TextureOptions::LINEAR);
        self.0 = Some((image.name(), inverted, texture.clone()));
        texture
    }
}

/// White as far as the sheet keeps paint off.
fn picture(image: &GreyImage, inverted: bool) -> ColorImage {
    let (width, height) = (image.extent().width as usize, image.extent().height as usize);
    let step = width.max(height).div_ceil(LONGEST).max(1);
    let (columns, rows) = (width.div_ceil(step), height.div_ceil(step));
    let places = (0..rows).flat_map(|y| (0..columns).map(move |x| (x * step, y * step)));
    let pixels = places.map(|(x, y)| {
        let open = image.values()[y * width + x];
        let closed = if inverted { open } else { u16::MAX - open };
        Color32::from_white_alpha((closed >> 8) as u8)
    });
    ColorImage::new([columns, rows], pixels.collect())
}

/// Where the sheet lies in the window.
struct Lies {
    middle: Pos2,
    /// From its middle to the middles of its right and lower edges.
    right: Vec2,
    down: Vec2,
}

impl Lies {
    fn of(stencil: &StencilInHand, image: &GreyImage, rect: Rect) -> Self {
        let share = vec2(stencil.middle.x as f32, stencil.middle.y as f32);
        let half = 0.5 * stencil.width as f32 * rect.height();
        let (sin, cos) = (stencil.turn.sin() as f32, stencil.turn.cos() as f32);
        let tall = image.extent().height as f32 / image.extent().width as f32;
        Self {
            middle: rect.min + share * rect.size(),
            right: vec2(cos, sin) * half,
            down: vec2(-sin, cos) * half * tall,
        }
    }

    /// From the upper left one on, clockwise.
    fn corners(&self) -> [Pos2; 4] {
        let Self { middle, right, down } = *self;
        [middle - right - down, middle + right - down, middle + right + down, middle - right + down]
    }
}

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, view: View, rect: Rect) {
    let Some(image) = desk.stencil.held().cloned() else { return };
    let texture = desk.brush_panel.sheet.texture(ui, &image, desk.stencil.inverted);
    let lies = Lies::of(&desk.stencil, &image, rect);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let paints = desk.stroke.is_some();
    let tint = theme::colours(ui).accent.gamma_multiply(if paints { FAINT } else { TINT });
    sheet(&painter, &lies, &texture, tint);
    if paints {
        return;
    }
    let at = lies.middle;
    if let Some(moved) = handle(
        ui,
        &painter,
        ui.scope_id().with(("stencil middle", view == View::Model)),
        at,
        rect,
        CursorIcon::Move,
    ) {
        let moved = moved / rect.size();
        let wanted = desk.stencil.middle + DVec2::new(f64::from(moved.x), f64::from(moved.y));
        desk.stencil.middle = wanted.clamp(DVec2::ZERO, DVec2::ONE);
    }
    // At the right of the sheet, or nearer where that is out of the view.
    let arm = lies.right.length();
    let reach = farthest(at, lies.right / arm.max(1e-3), rect.shrink(2.0 * HANDLE)).min(arm);
    let grip = at + lies.right * (reach / arm.max(1e-3));
    painter.line_segment([at, grip], Stroke::new(1.0, Color32::from_white_alpha(120)));
    let id = ui.scope_id().with(("stencil grip", view == View::Model));
    if let Some(moved) = handle(ui, &painter, id, grip, rect, CursorIcon::Crosshair) {
        let (before, after) = (grip - at, grip + moved - at);
        if after.length() > 2.0 && before.length() > 2.0 {
            let factor = f64::from(after.length() / before.length());
            let (low, high) = StencilInHand::WIDTHS.into_inner();
            desk.stencil.width = (desk.stencil.width * factor).clamp(low, high);
            let turned = f64::from(after.angle() - before.angle()) + desk.stencil.turn;
            desk.stencil.turn = (turned + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU)
                - std::f64::consts::PI;
        }
    }
}

/// How far one may go from a place before leaving the rectangle.
fn farthest(from: Pos2, way: Vec2, rect: Rect) -> f32 {
    let side = |at: f32, way: f32, low: f32, high: f32| {
        let end = if way > 0.0 { high } else { low };
        if way.abs() < 1e-6 { f32::INFINITY } else { (end - at) / way }
    };
    let x = side(from.x, way.x, rect.left(), rect.right());
    x.min(side(from.y, way.y, rect.top(), rect.bottom())).max(3.0 * HANDLE)
}

/// The tinted sheet and its outline.
fn sheet(painter: &Painter, lies: &Lies, texture: &TextureHandle, tint: Color32) {
    let corners = lies.corners();
    let mut mesh = Mesh::with_texture(texture.id());
    for (corner, uv) in corners.iter().zip([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]) {
        let uv = pos2(uv.0, uv.1);
        mesh.vertices.push(egui::epaint::Vertex { pos: *corner, uv, color: tint });
    }
    mesh.add_triangle(0, 1, 2);
    mesh.add_triangle(0, 2, 3);
    painter.add(Shape::mesh(mesh));
    for (width, colour) in [(3.0, Color32::from_black_alpha(110)), (1.0, Color32::from_gray(235))] {
        painter.add(Shape::closed_line(corners.to_vec(), Stroke::new(width, colour)));
    }
}

/// A handle that can be dragged; gives how far it was in this frame.
fn handle(
    ui: &mut Ui,
    painter: &Painter,
    id: Id,
    at: Pos2,
    rect: Rect,
    cursor: CursorIcon,
) -> Option<Vec2> {
    if !rect.contains(at) {
        return None;
    }
    let place = Rect::from_center_size(at, Vec2::splat(2.0 * HANDLE + 6.0));
    let response = ui.interact(place, id, Sense::drag());
    let is_hot = response.hovered() || response.dragged();
    let fill = if is_hot { theme::colours(ui).accent } else { Color32::from_gray(240) };
    painter.circle(at, HANDLE, fill, Stroke::new(2.0, Color32::from_black_alpha(200)));
    if is_hot {
        ui.ctx().set_cursor_icon(cursor);
    }
    response.dragged().then(|| response.drag_delta())
}
