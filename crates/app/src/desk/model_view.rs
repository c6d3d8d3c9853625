//! The model view: from where, what, and in which light.

use brush::{Camera, LeftOut, Projection};
use egui::{Pos2, Rect};
use glam::{DVec2, DVec3};
use surface::PartId;
use viewport::{Footprint, Lighting, Shown};

use super::Light;

/// The camera's vertical angle of view, in radians: about that of a short portrait lens, which shows form without
/// bending it. Common practice, no source.
pub(crate) const FOV_Y_RAD: f64 = 0.6;

/// What a part may be, in this view and for the brush.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct PartState {
    /// Not drawn; the pen goes through it.
    pub(crate) hidden: bool,
    /// Takes no paint.
    pub(crate) locked: bool,
}

/// See the module.
#[derive(Debug, Clone)]
pub(crate) struct ModelViewState {
    /// Where the model is seen from; its viewport is the view's size in pixels.
    pub(crate) camera: Camera,
    /// Where the view is in the window, in points.
    pub(crate) rect: Rect,
    /// What is shown.
    pub(crate) shown: Shown,
    /// Edges over it.
    pub(crate) wire: bool,
    /// The light, as the picture needs it.
    pub(crate) lighting: Lighting,
    /// What surrounds the model, and what the person is told of the light.
    pub(crate) light: Light,
    /// Left and right are swapped: a look in the mirror.
    pub(crate) mirrored: bool,
    /// One for each part of the model.
    pub(crate) parts: Vec<PartState>,
    /// Views to come back to.
    pub(crate) saved: Vec<Camera>,
    /// The brush as the pointer has it, over the surface or over the texture: for both views.
    pub(crate) footprint: Option<Footprint>,
}

impl Default for ModelViewState {
    fn default() -> Self {
        let light = Light::default();
        Self {
            camera: Camera {
                eye: DVec3::new(0.9, 0.6, 1.6),
                target: DVec3::ZERO,
                up: DVec3::Y,
                projection: Projection::Perspective { fov_y_rad: FOV_Y_RAD },
                viewport_px: DVec2::new(640.0, 480.0),
            },
            rect: Rect::ZERO,
            shown: Shown::Lit,
            wire: false,
            lighting: light.setup.lighting(),
            light,
            mirrored: false,
            parts: Vec::new(),
            saved: Vec::new(),
            footprint: None,
        }
    }
}

impl ModelViewState {
    /// Takes its place in the window. A view of no size keeps a pixel, so that nothing is divided by nothing.
    pub(crate) fn place(&mut self, rect: Rect, pixels_per_point: f32) {
        self.rect = rect;
        let size = rect.size() * pixels_per_point;
        let size = DVec2::new(f64::from(size.x), f64::from(size.y));
        self.camera.viewport_px = size.round().max(DVec2::ONE);
    }

    /// A place in the window, in pixels as the camera counts them: those of the model, not of its mirror image.
    pub(crate) fn pixel(&self, at: Pos2) -> DVec2 {
        let away = (at - self.rect.min) / self.rect.size().max(egui::Vec2::splat(1e-3));
        let pixel = DVec2::new(f64::from(away.x), f64::from(away.y)) * self.camera.viewport_px;
        if self.mirrored { DVec2::new(self.camera.viewport_px.x - pixel.x, pixel.y) } else { pixel }
    }

    /// How a part is; as it came where nothing was said of it.
    pub(crate) fn part(&self, part: PartId) -> PartState {
        self.parts.get(part.0 as usize).copied().unwrap_or_default()
    }

    /// To say how a part is.
    pub(crate) fn part_mut(&mut self, part: PartId) -> &mut PartState {
        let index = part.0 as usize;
        if self.parts.len() <= index {
            self.parts.resize(index + 1, PartState::default());
        }
        &mut self.parts[index]
    }

    /// What a stroke leaves out.
    pub(crate) fn left_out(&self) -> LeftOut {
        let named = |which: fn(&PartState) -> bool| {
            let parts = (0u32..).zip(&self.parts).filter(move |(_, state)| which(state));
            parts.map(|(part, _)| PartId(part))
        };
        LeftOut::new(named(|state| state.hidden), named(|state| state.locked))
    }
}
