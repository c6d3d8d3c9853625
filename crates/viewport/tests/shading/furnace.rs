//! White light from everywhere: what is white returns it whole, and nothing returns more.

use std::f32::consts::{PI, TAU};

use glam::Vec3;
use viewport::shading::{
    BRIGHTEST, DfgTable, Material, image_light, key_light, tone_map, tone_neutral,
};

const ROUGHNESSES: [f32; 8] = [0.0, 0.1, 0.25, 0.4, 0.5, 0.75, 0.9, 1.0];
const COSINES: [f32; 7] = [0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0];

fn all_white() -> impl Iterator<Item = (Material, f32)> {
    let materials = ROUGHNESSES.into_iter().flat_map(|roughness| {
        [0.0, 0.5, 1.0].map(|metalness| Material { base_colour: Vec3::ONE, roughness, metalness })
    });
    materials.flat_map(|material| COSINES.map(|cosine| (material, cosine)))
}

/// Sum of the key light from everywhere, each direction a light of its own: half vectors as they are seen, so that
/// highlights are met, and closer to the horizon, where the light of more bounces is; joined by the balance heuristic
/// (Veach 1997).
fn from_everywhere(material: Material, cosine: f32, dfg: &DfgTable) -> Vec3 {
    let v = Vec3::new((1.0 - cosine * cosine).sqrt(), 0.0, cosine);
    let dfg_v = dfg.sample(cosine, material.roughness);
    let alpha = viewport::shading::ggx_alpha(material.roughness);
    let stretched = Vec3::new(alpha * v.x, 0.0, v.z);
    let shadowing = 2.0 / (1.0 + stretched.length() / v.z);
    let seen_density = |l: Vec3| {
        let h = (v + l).normalize_or_zero();
        let d = viewport::shading::ggx_distribution(Vec3::Z.cross(h).length_squared(), alpha);
        shadowing * d / (4.0 * v.z)
    };
    let edge = 192;
    let mut sum = Vec3::ZERO;
    for at in 0..edge * edge {
        let u = [(at / edge) as f32 + 0.5, (at % edge) as f32 + 0.5].map(|u| u / edge as f32);
        let (turn, across) = (TAU * u[0], |z: f32| (1.0 - z * z).max(0.0).sqrt());
        let stretched = stretched.normalize_or_zero();
        let z = 1.0 - u[1] * (1.0 + stretched.z);
        let bent = Vec3::new(across(z) * turn.cos(), across(z) * turn.sin(), z) + stretched;
        let h = Vec3::new(alpha * bent.x, alpha * bent.y, bent.z).normalize_or_zero();
        let low = u[1] * u[1] * u[1];
        for l in [
            2.0 * v.dot(h) * h - v,
            Vec3::new(across(low) * turn.cos(), across(low) * turn.sin(), low),
        ] {
            if l.z <= 0.0 {
                continue;
            }
            let density = seen_density(l) + 1.0 / (3.0 * TAU * l.z.cbrt() * l.z.cbrt());
            let dfg_l = dfg.sample(l.z, material.roughness);
            let lit = key_light(material, [Vec3::Z, v, l], 0.0, dfg_v, dfg_l);
            // Strength is irradiance over pi; radiance 1 in a solid angle is 1/pi of it.
            sum += lit / (PI * density * (edge * edge) as f32);
        }
    }
    sum
}

#[test]
fn a_white_surface_in_an_even_environment_returns_all_of_it() {
    let dfg = DfgTable::new();
    for (material, cosine) in all_white() {
        let texel = dfg.sample(cosine, material.roughness);
        let radiance = image_light(material, texel, Vec3::ONE, Vec3::splat(PI));
        let wrong = (radiance - 1.0).abs().max_element();
        assert!(wrong < 1e-5, "{material:?} at {cosine}: {radiance}");
    }
}

#[test]
fn a_white_surface_under_small_lights_from_everywhere_returns_all_of_it() {
    let dfg = DfgTable::new();
    // Below 0.1 the sum itself is not good enough: highlights are too small for it.
    for (material, cosine) in all_white().filter(|(material, _)| material.roughness >= 0.1) {
        let radiance = from_everywhere(material, cosine, &dfg);
        let wrong = (radiance - 1.0).abs().max_element();
        // Half a percent is lost where the table is coarse: smooth metal, nearly along the surface.
        assert!(
            wrong < if cosine < 0.05 { 8e-3 } else { 3e-3 },
            "{material:?} at {cosine}: {radiance}"
        );
    }
}

#[test]
fn an_environment_is_the_sum_of_small_lights_for_colours_too() {
    let dfg = DfgTable::new();
    let base_colour = Vec3::new(0.9, 0.4, 0.05);
    for roughness in ROUGHNESSES.into_iter().skip(1) {
        for (metalness, cosine) in [(0.0, 0.2), (0.0, 0.9), (1.0, 0.2), (1.0, 0.9), (0.3, 0.5)] {
            let material = Material { base_colour, roughness, metalness };
            let texel = dfg.sample(cosine, roughness);
            let image = image_light(material, texel, Vec3::ONE, Vec3::splat(PI));
            let sum = from_everywhere(material, cosine, &dfg);
            let wrong = (image - sum).abs().max_element();
            assert!(wrong < 5e-3, "{material:?} at {cosine}: {image} {sum}");
            assert!(image.max_element() < 1.0);
        }
    }
}

#[test]
fn without_the_further_bounces_rough_white_metal_would_lose_59_percent() {
    // tests/reference/ggx_average_albedo.csv: 0.409 at roughness 1. What is given back is just that.
    let texel = DfgTable::new().sample(0.7, 1.0);
    assert!((texel.w - 0.5909).abs() < 1e-3, "{texel}");
}

#[test]
fn base_colour_that_faces_the_eye_comes_back_true() {
    // The end to end check: a shiny dielectric in white light, by the goals of the tone mapper's specification.
    let dfg = DfgTable::new();
    for base_colour in [Vec3::new(0.5, 0.2, 0.1), Vec3::splat(0.05), Vec3::new(0.75, 0.04, 0.3)] {
        let material = Material { base_colour, roughness: 0.1, metalness: 0.0 };
        let radiance = image_light(material, dfg.sample(1.0, 0.1), Vec3::ONE, Vec3::splat(PI));
        let shown = tone_map(radiance, 0.0, false);
        let wrong = (shown - base_colour).abs().max_element();
        assert!(wrong < 0.005, "{base_colour}: {shown}");
        // Without the exposure of 1/0.96 it would be 4 % too dark.
        assert!(tone_neutral(radiance).x < 0.965 * base_colour.x + 1e-3);
    }
}

#[test]
fn no_radiance_is_shown_as_anything_but_a_colour() {
    for radiance in [f32::INFINITY, 1e30, BRIGHTEST, -1.0, 0.0] {
        for linear in [false, true] {
            let shown = tone_map(Vec3::new(radiance, 0.5, 0.0), 3.0, linear);
            let is_colour = |value: f32| (0.0..=1.0).contains(&value);
            assert!(shown.to_array().into_iter().all(is_colour), "{radiance}: {shown}");
        }
    }
}
