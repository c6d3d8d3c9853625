use std::f32::consts::PI;

use glam::{Vec3, Vec4};

use super::{DIELECTRIC_F0, Material, multiple_colour, single_albedo, specular_albedo};

/// A direction of the world in an environment that is turned about +Y by `turn_rad`.
pub fn turned(direction: Vec3, turn_rad: f32) -> Vec3 {
    let (s, c) = turn_rad.sin_cos();
    let Vec3 { x, y, z } = direction;
    Vec3::new(c * x - s * z, y, s * x + c * z)
}

/// Level of a prefiltered cube with so many levels. Smooth surfaces get more of them: a level has about as
/// many texels as its blur can show.
pub fn reflection_lod(roughness: f32, levels: f32) -> f32 {
    let r = roughness.clamp(0.0, 1.0);
    r * (2.0 - r) * (levels - 1.0)
}

/// Reflected radiance: one bounce sees what is mirrored, more bounces see the average (Fdez-Aguera 2019, "A
/// Multiple-Scattering Microfacet Model for Real-Time Image Based Lighting").
pub fn image_reflection(f0: Vec3, dfg: Vec4, reflected: Vec3, scattered: Vec3) -> Vec3 {
    single_albedo(f0, dfg) * reflected + multiple_colour(f0, dfg) * dfg.y * scattered
}

/// Radiance towards the eye from an environment: `reflected` is its prefiltered radiance in the mirrored
/// direction (split sum, Karis 2013), `irradiance` that about the normal, not divided by pi.
pub fn image_light(material: Material, dfg: Vec4, reflected: Vec3, irradiance: Vec3) -> Vec3 {
    let scattered = irradiance / PI;
    let f0 = Vec3::splat(DIELECTRIC_F0);
    let diffuse = material.base_colour * (Vec3::ONE - specular_albedo(f0, dfg)) * scattered;
    let dielectric = diffuse + image_reflection(f0, dfg, reflected, scattered);
    let metal = image_reflection(material.base_colour, dfg, reflected, scattered);
    dielectric.lerp(metal, material.metalness)
}
