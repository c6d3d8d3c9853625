use std::f32::consts::PI;

use glam::{Vec3, Vec4};

use super::{
    DIELECTRIC_F0, Material, facing, fresnel_schlick, ggx_alpha, ggx_distribution, multiple_colour,
    smith_visibility, specular_albedo, specular_albedo_average,
};

/// [`ggx_alpha`], widened by the size of the light: a radius of rho radians lets the half vector vary by rho/2,
/// and variances of slopes add. Ours; exact for Gaussian slopes only.
pub fn lit_alpha(roughness: f32, radius_rad: f32) -> f32 {
    let alpha = ggx_alpha(roughness);
    (alpha * alpha + 0.25 * radius_rad * radius_rad).sqrt().min(1.0)
}

/// One bounce (`bounce` is D V) with its Fresnel colour, and all further ones as a lobe
/// `(1 - E(v)) (1 - E(l)) / (pi (1 - E_avg))` (Kulla and Conty 2017).
pub fn key_reflection(f0: Vec3, v_dot_h: f32, bounce: f32, dfg_v: Vec4, dfg_l: Vec4) -> Vec3 {
    let more = dfg_v.y * dfg_l.y / (PI * dfg_v.w.max(1e-5));
    fresnel_schlick(f0, v_dot_h) * bounce + multiple_colour(f0, dfg_v) * more
}

/// Radiance towards `v` from a small, far light in direction `l`, whose irradiance on a surface that faces it
/// is pi: `pi f n.l`. It does not change when `v` and `l` swap places, but for the factor `n.l`.
///
/// `dfg_v` and `dfg_l` are texels of [`super::DfgTable`] at the material's roughness and `n.v`, `n.l`.
/// Diffuse light is what reflection leaves, on the way in and on the way out (Kulla and Conty 2017).
pub fn key_light(
    material: Material,
    [n, v, l]: [Vec3; 3],
    radius_rad: f32,
    dfg_v: Vec4,
    dfg_l: Vec4,
) -> Vec3 {
    let n_dot_l = n.dot(l);
    if n_dot_l <= 0.0 {
        return Vec3::ZERO;
    }
    let between = v + l;
    let h = between / between.length_squared().max(1e-12).sqrt();
    let v_dot_h = v.dot(h).clamp(0.0, 1.0);
    let alpha = lit_alpha(material.roughness, radius_rad);
    let bounce = ggx_distribution(n.cross(h).length_squared().min(1.0), alpha)
        * smith_visibility(facing(n, v), n_dot_l, alpha);
    let f0 = Vec3::splat(DIELECTRIC_F0);
    let left = (Vec3::ONE - specular_albedo(f0, dfg_v)) * (Vec3::ONE - specular_albedo(f0, dfg_l))
        / (Vec3::ONE - specular_albedo_average(f0, dfg_v));
    let dielectric =
        material.base_colour * left / PI + key_reflection(f0, v_dot_h, bounce, dfg_v, dfg_l);
    let metal = key_reflection(material.base_colour, v_dot_h, bounce, dfg_v, dfg_l);
    PI * n_dot_l * dielectric.lerp(metal, material.metalness)
}
