//! The model view: from where, what, and in which light.

use std::f32::consts::FRAC_PI_4;

use brush::{Camera, Projection};
use glam::{DVec2, DVec3};
use viewport::{Footprint, KeyLight, Lighting, Shown, ToneMapping};

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
    /// What is shown.
    pub(crate) shown: Shown,
    /// Edges over it.
    pub(crate) wire: bool,
    /// The light.
    pub(crate) lighting: Lighting,
    /// Left and right are swapped: a look in the mirror.
    pub(crate) mirrored: bool,
    /// One for each part of the model.
    pub(crate) parts: Vec<PartState>,
    /// Views to come back to.
    pub(crate) saved: Vec<Camera>,
    /// The brush over the surface, as the pointer has it.
    pub(crate) footprint: Option<Footprint>,
}

impl Default for ModelViewState {
    fn default() -> Self {
        Self {
            camera: Camera {
                eye: DVec3::new(0.9, 0.6, 1.6),
                target: DVec3::ZERO,
                up: DVec3::Y,
                projection: Projection::Perspective { fov_y_rad: 0.6 },
                viewport_px: DVec2::new(640.0, 480.0),
            },
            shown: Shown::Lit,
            wire: false,
            lighting: Lighting {
                key: KeyLight {
                    azimuth_rad: FRAC_PI_4,
                    elevation_rad: FRAC_PI_4,
                    strength: 0.6,
                    radius_rad: 0.05,
                    tint: [1.0; 3],
                },
                environment_strength: 1.0,
                environment_turn_rad: 0.0,
                exposure_ev: 0.0,
                tone: ToneMapping::Neutral,
            },
            mirrored: false,
            parts: Vec::new(),
            saved: Vec::new(),
            footprint: None,
        }
    }
}
