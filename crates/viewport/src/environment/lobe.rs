//! Samples of GGX's lobe about a mirrored direction.

use std::f32::consts::{PI, TAU};

use glam::{Vec2, Vec3A};

use crate::shading::ggx_distribution;

/// One direction of a lobe about +Z.
#[derive(Debug, Clone, Copy)]
pub(super) struct LobeSample {
    pub(super) direction: Vec3A,
    /// All weights of a lobe sum up to 1.
    pub(super) weight: f32,
    /// Solid angle in steradians that it stands for.
    pub(super) solid_angle: f32,
}

/// About so many samples: half vectors by their density `D n.h`, seen from the normal, weighted by the cosine of
/// the light (Karis 2013). They are even in a Hammersley set, the same for each direction, so that no noise is seen.
pub(super) fn lobe(alpha: f32, count: u32) -> Vec<LobeSample> {
    let sample = |at: u32| {
        let u = (at as f32 + 0.5) / count as f32;
        let turn = TAU * (at.reverse_bits() as f32 / 4_294_967_296.0);
        let a2 = alpha * alpha;
        // Squared sine of the half vector: D's cumulative share, solved for it.
        let sin2 = a2 * u / (1.0 - u + a2 * u);
        let cosine = 1.0 - 2.0 * sin2;
        let across = 2.0 * (sin2 * (1.0 - sin2)).sqrt() * Vec2::from_angle(turn);
        let density = ggx_distribution(sin2, alpha) / 4.0;
        LobeSample {
            direction: Vec3A::new(across.x, across.y, cosine),
            weight: cosine,
            solid_angle: 1.0 / (count as f32 * density),
        }
    };
    let mut samples: Vec<LobeSample> = (0..count).map(sample).filter(|s| s.weight > 0.0).collect();
    let total: f32 = samples.iter().map(|sample| sample.weight).sum();
    for sample in &mut samples {
        sample.weight /= total;
    }
    samples
}

impl LobeSample {
    /// The level of a cube whose texels are nearest in size to what the sample stands for (Krivanek and Colbert
    /// 2008, "Real-Time Shading with Filtered Importance Sampling"). Read bilinearly, samples overlap.
    pub(super) fn level(&self, cube_edge: usize) -> usize {
        let texel = 4.0 * PI / (6 * cube_edge * cube_edge) as f32;
        (0.5 * (self.solid_angle / texel).log2()).round().max(0.0) as usize
    }
}
