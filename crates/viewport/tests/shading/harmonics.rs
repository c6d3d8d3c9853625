//! Irradiance from nine harmonics.

use std::f32::consts::PI;

use glam::Vec3;
use viewport::shading::{ShIrradiance, sh_irradiance};

use crate::sphere::{directions, share};

fn of(radiance: impl Fn(Vec3) -> f32) -> ShIrradiance {
    let edge = 256;
    ShIrradiance::from_radiance(
        directions(edge).map(|d| (d, Vec3::splat(radiance(d)), share(edge))),
    )
}

/// Normals at angles from a direction, in degrees.
fn tilted(towards: Vec3, degrees: f32) -> Vec3 {
    let across = towards.any_orthonormal_vector();
    let (s, c) = degrees.to_radians().sin_cos();
    c * towards + s * across
}

#[test]
fn an_even_sky_gives_pi_to_every_normal() {
    let sh = of(|_| 1.0);
    for n in directions(6) {
        assert!((sh_irradiance(&sh, n) - PI).abs().max_element() < 1e-3); // analytic
    }
}

#[test]
fn half_a_sky_gives_pi_times_half_of_one_and_the_cosine() {
    // Analytic, and exact for nine harmonics.
    for up in [Vec3::Y, Vec3::Z, Vec3::new(0.6, 0.0, 0.8)] {
        let sh = of(|d| f32::from(d.dot(up) > 0.0));
        for degrees in [0.0, 30.0, 60.0, 90.0, 120.0, 180.0_f32] {
            let expected = PI * (1.0 + degrees.to_radians().cos()) / 2.0;
            let found = sh_irradiance(&sh, tilted(up, degrees)).x;
            assert!((found - expected).abs() < 0.015, "{degrees}: {found}, expected {expected}");
        }
    }
}

#[test]
fn one_small_light_has_the_values_of_its_nine_harmonics() {
    // Ramamoorthi and Hanrahan 2001, with Legendre polynomials: 1/4 + x/2 + 5/32 (3 x^2 - 1), closed form.
    let towards = Vec3::new(0.48, 0.64, 0.6);
    let even = of(|_| 1.0 / PI);
    let sky = directions(64).map(|d| (d, Vec3::splat(1.0 / PI), share(64)));
    // Over an even sky of irradiance 1, so that nothing is below 0.
    let both = ShIrradiance::from_radiance(sky.chain([(towards, Vec3::ONE, 1.0)]));
    let alone = ShIrradiance::from_radiance([(towards, Vec3::ONE, 1.0)]);
    for (degrees, expected) in [
        (0.0, 1.0625),
        (30.0, 0.878_325),
        (60.0, 0.460_938),
        (90.0, 0.093_75),
        (120.0, -0.039_062_5),
        (180.0, 0.0625_f32),
    ] {
        let n = tilted(towards, degrees);
        let found = sh_irradiance(&both, n).x - sh_irradiance(&even, n).x;
        assert!((found - expected).abs() < 2e-3, "{degrees}: {found}, expected {expected}");
        let clamped = sh_irradiance(&alone, n).x;
        assert!((clamped - expected.max(0.0)).abs() < 1e-5, "{degrees}: {clamped}");
    }
}
