//! The flat view: the chosen material's texture.

use brush::FlatCamera;
use glam::DVec2;

/// See the module.
#[derive(Debug, Clone)]
pub(crate) struct FlatViewState {
    /// How the texture lies in the view, in pixels.
    pub(crate) camera: FlatCamera,
    /// The view's size in pixels.
    pub(crate) size_px: [u32; 2],
    /// Outlines of the islands over it.
    pub(crate) outlines: bool,
}

impl Default for FlatViewState {
    fn default() -> Self {
        let camera = FlatCamera { top_left: DVec2::splat(-0.05), uv_per_px: 1.1 / 512.0 };
        Self { camera, size_px: [512; 2], outlines: true }
    }
}
