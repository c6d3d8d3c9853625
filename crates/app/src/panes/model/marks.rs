//! Marks over the model view: the planes and the axis that strokes are repeated about, where the copies of the brush
//! would be, and the point that a clone comes from.

use brush::{Axis, Symmetry};
use egui::{Painter, Pos2, Stroke, Ui, vec2};
use glam::{DVec2, DVec3};
use viewport::Footprint;

use crate::desk::{Desk, View};
use crate::does::{CloneSource, Does};
use crate::theme;

/// How far planes and axis reach beyond the model, in shares of its size.
const BEYOND: f64 = 0.08;

pub(crate) fn show(ui: &Ui, desk: &Desk) {
    let painter = ui.painter().with_clip_rect(desk.model_view.rect);
    if let Some(symmetry) = desk.symmetry() {
        let accent = theme::colours(ui).accent;
        guides(&painter, desk, &symmetry, Stroke::new(1.0, accent.gamma_multiply(0.7)));
        copies(&painter, desk, &symmetry, accent);
    }
    if let Some([brush, hand]) = desk.string_px(View::Model) {
        let places = [brush, hand].map(|at_px| desk.model_view.place_of(at_px));
        string(&painter, places);
    }
    if desk.brush.does == Does::Clone
        && let Some(CloneSource::Surface { source, .. }) = desk.brush.source
        && let Some(at) = on_screen(desk, source.position)
    {
        cross(&painter, at);
    }
}

/// The string that the brush hangs on, seen on light and on dark.
pub(crate) fn string(painter: &Painter, places: [Pos2; 2]) {
    for (width, colour) in
        [(3.0, egui::Color32::from_black_alpha(150)), (1.0, egui::Color32::WHITE)]
    {
        painter.line_segment(places, Stroke::new(width, colour));
    }
    painter.circle_filled(places[1], 2.5, egui::Color32::WHITE);
}

/// A cross that is seen on light and on dark.
pub(crate) fn cross(painter: &Painter, at: Pos2) {
    for (width, colour) in [(3.0, egui::Color32::BLACK), (1.0, egui::Color32::WHITE)] {
        let stroke = Stroke::new(width, colour);
        for arm in [vec2(8.0, 0.0), vec2(0.0, 8.0)] {
            painter.line_segment([at - arm, at - arm * 0.35], stroke);
            painter.line_segment([at + arm * 0.35, at + arm], stroke);
        }
    }
}

fn on_screen(desk: &Desk, point: DVec3) -> Option<Pos2> {
    Some(desk.model_view.place_of(desk.model_view.camera.project(point)?))
}

/// The outline of each plane, and the axis.
fn guides(painter: &Painter, desk: &Desk, symmetry: &Symmetry, stroke: Stroke) {
    let Some((low, high)) = desk.model_box() else { return };
    let margin = DVec3::splat((high - low).max_element() * BEYOND);
    let (low, high) = (low - margin, high + margin);
    let line = |from: DVec3, to: DVec3| {
        if let (Some(from), Some(to)) = (on_screen(desk, from), on_screen(desk, to)) {
            painter.line_segment([from, to], stroke);
        }
    };
    for (number, _) in symmetry.mirrors.iter().enumerate().filter(|(_, used)| **used) {
        let corner = |right: bool, down: bool| {
            let mut corner = symmetry.centre;
            let (u, v) = ((number + 1) % 3, (number + 2) % 3);
            corner[u] = if right { high[u] } else { low[u] };
            corner[v] = if down { high[v] } else { low[v] };
            corner
        };
        let around = [(false, false), (true, false), (true, true), (false, true)];
        for (n, &(right, down)) in around.iter().enumerate() {
            let next = around[(n + 1) % 4];
            line(corner(right, down), corner(next.0, next.1));
        }
    }
    if let Some((axis, _)) = symmetry.turns {
        let number = Axis::ALL.iter().position(|known| *known == axis).unwrap_or(0);
        let (mut from, mut to) = (symmetry.centre, symmetry.centre);
        (from[number], to[number]) = (low[number], high[number]);
        line(from, to);
    }
}

/// Dots where the brush's copies are, on the side that is seen.
fn copies(painter: &Painter, desk: &Desk, symmetry: &Symmetry, colour: egui::Color32) {
    let Some(Footprint::Surface { centre, .. }) = desk.model_view.footprint else { return };
    for image in symmetry.copies().iter().skip(1) {
        let point = image.point(centre);
        let Some(at_px) = desk.model_view.camera.project(point) else { continue };
        let near = desk.met_px(at_px).is_none_or(|met| {
            let depth = |point: DVec3| desk.model_view.camera.depth(point);
            depth(met.position) > depth(point) - 0.02 * depth(point)
        });
        let at = desk.model_view.place_of(at_px);
        let (radius, shade) = if near { (3.5, colour) } else { (2.5, colour.gamma_multiply(0.4)) };
        painter.circle(at, radius, shade, Stroke::new(1.0, egui::Color32::BLACK));
    }
}

impl crate::desk::ModelViewState {
    /// Where a pixel of the camera is in the window: [`Self::pixel`] the other way round.
    pub(crate) fn place_of(&self, pixel: DVec2) -> Pos2 {
        let size = self.camera.viewport_px;
        let x = if self.mirrored { size.x - pixel.x } else { pixel.x };
        let share = DVec2::new(x, pixel.y) / size;
        self.rect.min + self.rect.size() * vec2(share.x as f32, share.y as f32)
    }
}
