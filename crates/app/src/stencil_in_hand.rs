//! The stencil, as a person holds it before the views.

use brush::{FlatCamera, GreyImage, HeldAt, Stencil};
use glam::DVec2;

use crate::desk::ModelViewState;

/// See the module. It lies alike before both views.
#[derive(Debug, Clone)]
pub(crate) struct StencilInHand {
    /// What it lets through; none before one was chosen.
    pub(crate) image: Option<GreyImage>,
    /// It is held before the views, and strokes go through it.
    pub(crate) is_held: bool,
    /// It lets through where the image is black.
    pub(crate) inverted: bool,
    /// Its middle, in shares of the view's width and height.
    pub(crate) middle: DVec2,
    /// Its width, in shares of the view's height.
    pub(crate) width: f64,
    /// How far it is turned clockwise, in radians.
    pub(crate) turn: f64,
}

impl Default for StencilInHand {
    fn default() -> Self {
        Self {
            image: None,
            is_held: false,
            inverted: false,
            middle: DVec2::splat(0.5),
            width: Self::USUAL_WIDTH,
            turn: 0.0,
        }
    }
}

impl StencilInHand {
    /// Its width at first.
    pub(crate) const USUAL_WIDTH: f64 = 0.6;
    /// How narrow and how wide it may be held.
    pub(crate) const WIDTHS: std::ops::RangeInclusive<f64> = 0.05..=6.0;

    /// Holds an image before the views.
    pub(crate) fn take(&mut self, image: GreyImage) {
        (self.image, self.is_held) = (Some(image), true);
    }

    /// Puts it back to the middle, upright and at its usual size.
    pub(crate) fn put_back(&mut self) {
        let Self { image, is_held, inverted, .. } = std::mem::take(self);
        *self = Self { image, is_held, inverted, ..Self::default() };
    }

    /// The image that is held before the views.
    pub(crate) fn held(&self) -> Option<&GreyImage> {
        self.image.as_ref().filter(|_| self.is_held)
    }

    fn at(&self, size_px: DVec2) -> HeldAt {
        HeldAt {
            centre_px: self.middle * size_px,
            width_px: self.width * size_px.y,
            turn: self.turn,
            mirrored_px: None,
        }
    }

    /// What strokes in the model view are painted through.
    pub(crate) fn before(&self, view: &ModelViewState) -> Option<Stencil> {
        let size_px = view.camera.viewport_px;
        let mirrored_px = view.mirrored.then_some(size_px.x);
        let held = HeldAt { mirrored_px, ..self.at(size_px) };
        Some(Stencil::before(self.held()?.clone(), self.inverted, &view.camera, &held))
    }

    /// What strokes in a flat view of this size in pixels are painted through.
    pub(crate) fn over(&self, camera: &FlatCamera, size_px: DVec2) -> Option<Stencil> {
        Some(Stencil::over(self.held()?.clone(), self.inverted, camera, &self.at(size_px)))
    }
}

#[cfg(test)]
mod tests {
    use glam::DVec3;
    use raster::Extent;

    use super::*;

    /// In a mirrored view the model is seen the other way round, the sheet is not.
    #[test]
    fn a_mirrored_view_paints_where_the_sheet_is_seen() {
        let mut stencil = StencilInHand { middle: DVec2::new(0.25, 0.5), ..Default::default() };
        let image = GreyImage::new(Extent { width: 2, height: 2 }, vec![9; 4]).unwrap();
        let mut view = ModelViewState::default();
        view.camera.viewport_px = DVec2::new(800.0, 600.0);
        assert!(stencil.before(&view).is_none());
        stencil.take(image);
        for mirrored in [false, true] {
            view.mirrored = mirrored;
            let left = if mirrored { 600.0 } else { 200.0 };
            let ray = view.camera.ray(DVec2::new(left, 300.0));
            let seen = ray.origin + ray.direction * 2.0;
            let place = stencil.before(&view).unwrap().place(seen).unwrap();
            assert!(place.distance(DVec2::splat(0.5)) < 1e-9, "{place}");
        }
        assert!(stencil.before(&view).unwrap().place(DVec3::splat(0.1)).is_some());
        stencil.put_back();
        assert!(stencil.held().is_some() && stencil.middle == DVec2::splat(0.5));
    }
}
