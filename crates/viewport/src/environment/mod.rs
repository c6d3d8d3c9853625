//! Light from all around: made by us or read from a picture, and what a renderer needs of it.
//!
//! An environment is normalised so that a white Lambert surface shows white (irradiance is pi) on average over
//! all orientations. That average is the same as the mean luminance of the whole sphere being 1, which depends on
//! no camera: what faces the main light comes out brighter than its colour, what turns away darker, as it should,
//! and turning the environment changes nothing of how bright a picture is on the whole. A tint is kept.

mod built_in;
mod cube;
mod equirect;
mod lobe;
mod prefilter;
mod softening;

pub use built_in::BuiltIn;
pub use cube::cube_direction;
pub use prefilter::{CUBE_EDGE, CUBE_LEVELS, Prefiltered};

use glam::Vec3;
use rayon::prelude::*;

use crate::shading::luminance;
use cube::CubeLevel;
use equirect::Equirect;

/// Radiance from every direction, normalised (see the module's text).
#[derive(Debug, Clone)]
pub struct Environment {
    pub(crate) sky: CubeLevel,
    softened: f32,
}

impl Environment {
    /// One of ours.
    pub fn built_in(which: BuiltIn) -> Self {
        Self::from_radiance(|direction| which.radiance(direction))
    }

    /// From linear Rec. 709 radiance as a function of direction (+Y up); its scale does not matter. What is
    /// negative or not finite counts as 0.
    pub fn from_radiance(radiance: impl Fn(Vec3) -> Vec3 + Sync) -> Self {
        Self::normalised(CubeLevel::from_texels(CUBE_EDGE, |texel| radiance(texel.middle())))
    }

    /// From an equirectangular picture of linear Rec. 709 radiance, row by row, the top row first. Its middle
    /// column is -Z, the quarter to the right of it +X. What is negative or not finite counts as 0.
    ///
    /// `None` where the number of texels is not `width * height`, or is 0.
    pub fn from_equirect(width: usize, height: usize, texels: &[[f32; 3]]) -> Option<Self> {
        let picture = Equirect::new(width, height, texels)?.shrunk(CUBE_EDGE);
        Some(Self::normalised(CubeLevel::from_texels(CUBE_EDGE, |texel| picture.within(texel))))
    }

    /// Share of the light, 0..1, that came from places so small and bright (a sun) that half floats and
    /// reflections can't hold them, and was therefore spread about them. Nothing of it is lost.
    pub fn softened_share(&self) -> f32 {
        self.softened
    }

    fn normalised(mut sky: CubeLevel) -> Self {
        let mean = sky.mean();
        let brightness = f64::from(luminance(mean.as_vec3()));
        // A black environment stays black.
        let scale = if brightness > 0.0 { 1.0 / brightness } else { 0.0 };
        sky.texels.par_iter_mut().for_each(|texel| {
            *texel = (texel.as_dvec3() * scale).as_vec3a();
        });
        let softened = softening::soften(&mut sky);
        sky.fill_border();
        Self { sky, softened }
    }
}
