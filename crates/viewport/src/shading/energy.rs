use glam::{Vec2, Vec3, Vec4};

use super::DFG_SIZE;

/// Where to sample the DFG table: the middle of its first and last texel lie at 0 and 1. Along x goes the root
/// of the cosine, since all happens at grazing angles.
pub fn dfg_uv(n_dot_v: f32, roughness: f32) -> Vec2 {
    let size = Vec2::from(DFG_SIZE.map(|count| count as f32));
    let at = Vec2::new(n_dot_v.max(0.0).sqrt(), roughness).clamp(Vec2::ZERO, Vec2::ONE);
    (at * (size - 1.0) + 0.5) / size
}

/// Share of light from everywhere that one bounce sends to the eye: `f0 A + B` (Karis 2013).
///
/// `dfg` is a texel of [`super::DfgTable`].
pub fn single_albedo(f0: Vec3, dfg: Vec4) -> Vec3 {
    f0 * (1.0 - dfg.y - dfg.x) + dfg.x
}

/// Colour of the light of two and more bounces: a geometric series with Schlick's average reflectance
/// `f0 + (1 - f0)/21` (Kulla and Conty 2017).
pub fn multiple_colour(f0: Vec3, dfg: Vec4) -> Vec3 {
    let average = f0 + (Vec3::ONE - f0) / 21.0;
    average * average * (1.0 - dfg.w) / (Vec3::ONE - average * dfg.w)
}

/// Share of light from everywhere that all bounces send to the eye; 1 for `f0` = 1.
pub fn specular_albedo(f0: Vec3, dfg: Vec4) -> Vec3 {
    single_albedo(f0, dfg) + multiple_colour(f0, dfg) * dfg.y
}

/// [`specular_albedo`], weighted by the cosine and averaged over all angles.
pub fn specular_albedo_average(f0: Vec3, dfg: Vec4) -> Vec3 {
    let single = f0 * (1.0 - dfg.w - dfg.z) + dfg.z;
    single + multiple_colour(f0, dfg) * dfg.w
}
