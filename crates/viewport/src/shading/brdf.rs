use std::f32::consts::PI;

use glam::Vec3;

/// Below this roughness the highlight of a light of no size would not fit into half floats:
/// `1 / (4 alpha^2) < 65504`. What is smoother is shown as smooth as this.
pub const MIN_ROUGHNESS: f32 = 0.045;

/// Reflectance of a dielectric that faces the eye: index 1.5 (glTF 2.0, B.2.3).
pub const DIELECTRIC_F0: f32 = 0.04;

/// Least cosine towards the eye: normals that were interpolated may turn away.
pub const MIN_N_DOT_V: f32 = 1e-4;

/// What the surface is at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// Linear Rec. 709, 0..1.
    pub base_colour: Vec3,
    /// glTF's perceptual roughness, 0..1.
    pub roughness: f32,
    /// 0..1.
    pub metalness: f32,
}

/// GGX's alpha, which is roughness squared (glTF 2.0, B.2.2), kept above that of [`MIN_ROUGHNESS`].
pub fn ggx_alpha(roughness: f32) -> f32 {
    let r = roughness.clamp(MIN_ROUGHNESS, 1.0);
    r * r
}

/// Density of microfacets about the half vector, per steradian: Trowbridge-Reitz, glTF 2.0, B.2.2.
///
/// It takes the squared sine between normal and half vector, `|n x h|^2`, as `1 - (n.h)^2` would lose all digits
/// where alpha is small.
pub fn ggx_distribution(sin2_n_h: f32, alpha: f32) -> f32 {
    let a2 = alpha * alpha;
    let d = sin2_n_h + a2 * (1.0 - sin2_n_h);
    a2 / (PI * d * d)
}

/// `G / (4 n.l n.v)`, masking and shadowing correlated by height (Heitz 2014, eq. 99; glTF 2.0, B.2.2).
pub fn smith_visibility(n_dot_v: f32, n_dot_l: f32, alpha: f32) -> f32 {
    let a2 = alpha * alpha;
    let v = n_dot_v * (a2 + (1.0 - a2) * n_dot_l * n_dot_l).sqrt();
    let l = n_dot_l * (a2 + (1.0 - a2) * n_dot_v * n_dot_v).sqrt();
    0.5 / (v + l)
}

/// Reflected share at one microfacet (Schlick 1994; glTF 2.0, B.2.1), all of it at grazing angles.
pub fn fresnel_schlick(f0: Vec3, v_dot_h: f32) -> Vec3 {
    let m = (1.0 - v_dot_h).clamp(0.0, 1.0);
    let m2 = m * m;
    f0 + (Vec3::ONE - f0) * (m2 * m2 * m)
}

/// Cosine between normal and eye, kept above 0.
pub fn facing(n: Vec3, v: Vec3) -> f32 {
    n.dot(v).clamp(MIN_N_DOT_V, 1.0)
}
