//! The flat view: the chosen material's texture.

use brush::FlatCamera;
use egui::{Pos2, Rect};
use glam::DVec2;

/// Share of the view that the texture fills when it is framed.
const FRAMED: f64 = 0.9;

/// The texture's edge in pixels, at the least and at the most.
const EDGE_PX: [f64; 2] = [16.0, 1_000_000.0];

/// See the module.
#[derive(Debug, Clone)]
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of its own on screen")]
pub(crate) struct FlatViewState {
    /// How the texture lies in the view, in pixels.
    pub(crate) camera: FlatCamera,
    /// The view's size in pixels.
    pub(crate) size_px: [u32; 2],
    /// Where the view is in the window, in points.
    pub(crate) rect: Rect,
    /// Outlines of the islands over it.
    pub(crate) outlines: bool,
    /// Goes where the pointer is on the model.
    pub(crate) follows: bool,
    /// All of the texture is to be shown, whatever the view's size: until it is moved.
    pub(crate) is_framed: bool,
}

impl Default for FlatViewState {
    fn default() -> Self {
        Self {
            camera: FlatCamera { top_left: DVec2::splat(-0.05), uv_per_px: 1.1 / 512.0 },
            size_px: [512; 2],
            rect: Rect::ZERO,
            outlines: true,
            follows: false,
            is_framed: true,
        }
    }
}

impl FlatViewState {
    /// Takes its place in the window.
    pub(crate) fn place(&mut self, rect: Rect, pixels_per_point: f32) {
        let size = rect.size() * pixels_per_point;
        let before = self.size();
        self.rect = rect;
        self.size_px = [size.x, size.y].map(|edge| edge.round().max(0.0) as u32);
        if self.is_framed {
            self.frame();
        } else {
            // What was in the middle stays there.
            self.camera.top_left -= (self.size() - before) * 0.5 * self.camera.uv_per_px;
        }
    }

    fn size(&self) -> DVec2 {
        DVec2::new(f64::from(self.size_px[0]), f64::from(self.size_px[1]))
    }

    /// A place in the window, in pixels of the view.
    pub(crate) fn pixel(&self, at: Pos2) -> DVec2 {
        let away = (at - self.rect.min) / self.rect.size().max(egui::Vec2::splat(1e-3));
        DVec2::new(f64::from(away.x), f64::from(away.y)) * self.size()
    }

    /// Where a pixel of the view is in the window.
    pub(crate) fn place_of(&self, pixel: DVec2) -> Pos2 {
        let share = pixel / self.size().max(DVec2::ONE);
        self.rect.min + self.rect.size() * egui::vec2(share.x as f32, share.y as f32)
    }

    /// Shows all of the texture.
    pub(crate) fn frame(&mut self) {
        self.is_framed = true;
        let shorter = self.size().min_element().max(1.0);
        self.camera.uv_per_px = 1.0 / (shorter * FRAMED);
        self.look_at(DVec2::splat(0.5));
    }

    /// Shows a texel as a pixel, about the middle of the view.
    pub(crate) fn show_actual(&mut self, texels: u32) {
        let middle = self.camera.uv(self.size() * 0.5);
        self.is_framed = false;
        self.camera.uv_per_px = 1.0 / f64::from(texels.max(1));
        self.look_at(middle);
    }

    /// Brings a UV into the middle.
    pub(crate) fn look_at(&mut self, uv: DVec2) {
        self.camera.top_left = uv - self.size() * 0.5 * self.camera.uv_per_px;
    }

    /// Moves the texture by pixels.
    pub(crate) fn pan(&mut self, by_px: DVec2) {
        self.is_framed = false;
        self.camera.top_left -= by_px * self.camera.uv_per_px;
    }

    /// Makes everything 1 / `factor` as large about a place in the view, which stays where it is.
    pub(crate) fn zoom(&mut self, at_px: DVec2, factor: f64) {
        let uv = self.camera.uv(at_px);
        self.is_framed = false;
        let [least, most] = EDGE_PX;
        self.camera.uv_per_px = (self.camera.uv_per_px * factor).clamp(1.0 / most, 1.0 / least);
        self.camera.top_left = uv - at_px * self.camera.uv_per_px;
    }
}

#[cfg(test)]
mod tests {
    use egui::{pos2, vec2};

    use super::*;

    fn view() -> FlatViewState {
        let mut view = FlatViewState::default();
        view.place(Rect::from_min_size(pos2(30.0, 40.0), vec2(400.0, 300.0)), 2.0);
        view
    }

    #[test]
    fn a_framed_texture_is_all_there_and_in_the_middle() {
        let view = view();
        assert!((view.camera.uv(DVec2::new(400.0, 300.0)) - DVec2::splat(0.5)).length() < 1e-12);
        assert!(view.camera.uv(DVec2::ZERO).max_element() < 0.0);
        assert!(view.camera.uv(DVec2::new(800.0, 600.0)).min_element() > 1.0);
    }

    #[test]
    fn zooming_keeps_what_is_under_the_cursor() {
        let mut view = view();
        let at = view.pixel(pos2(100.0, 120.0));
        let uv = view.camera.uv(at);
        for factor in [0.5, 0.1, 1e-9, 3.0, 1e9] {
            view.zoom(at, factor);
            assert!((view.camera.uv(at) - uv).length() < 1e-9);
            assert!(view.camera.uv_per_px.is_finite() && view.camera.uv_per_px > 0.0);
        }
    }

    #[test]
    fn a_view_of_no_size_stays_sound_and_comes_back() {
        let mut view = view();
        view.zoom(DVec2::splat(300.0), 0.2);
        let middle = view.camera.uv(view.size() * 0.5);
        view.place(Rect::from_min_size(pos2(0.0, 0.0), vec2(0.0, 0.0)), 2.0);
        assert!(view.camera.top_left.is_finite() && view.pixel(pos2(5.0, 5.0)).is_finite());
        view.place(Rect::from_min_size(pos2(0.0, 0.0), vec2(400.0, 300.0)), 2.0);
        assert!((view.camera.uv(view.size() * 0.5) - middle).length() < 1e-9);
    }
}
