//! One bounce, against `tests/reference/gltf_brdf_points.csv`, and the laws that it obeys.

use std::f32::consts::PI;

use glam::{Vec2, Vec3};
use viewport::shading::{
    DIELECTRIC_F0, DfgTable, Material, fresnel_schlick, ggx_alpha, ggx_distribution, key_light,
    smith_visibility,
};

use crate::sphere::directions;
use crate::table::rows;

struct Point {
    v: Vec3,
    l: Vec3,
    base: Vec3,
    metallic: f32,
    roughness: f32,
    reflected: Vec3,
    d: f32,
    visibility: f32,
    v_dot_h: f32,
}

fn points() -> Vec<Point> {
    let read = |row: &Vec<f64>| {
        let at = |column: usize| row[column] as f32;
        let vector = |column: usize| Vec3::new(at(column), at(column + 1), at(column + 2));
        Point {
            v: vector(0),
            l: vector(3),
            base: vector(6),
            metallic: at(9),
            roughness: at(10),
            reflected: vector(11),
            d: at(14),
            visibility: at(15),
            v_dot_h: at(16),
        }
    };
    rows("gltf_brdf_points.csv").iter().map(read).collect()
}

fn near(found: f32, expected: f32, tolerance: f32, what: &str) {
    assert!(
        (found - expected).abs() <= tolerance * expected.abs().max(1e-3),
        "{what}: {found}, expected {expected}"
    );
}

#[test]
fn distribution_visibility_and_fresnel_are_those_of_gltf() {
    // tests/reference/gltf_brdf_points.csv
    for point in points() {
        let h = (point.v + point.l).normalize_or_zero();
        let alpha = ggx_alpha(point.roughness);
        let sin2 = Vec3::Z.cross(h).length_squared();
        near(ggx_distribution(sin2, alpha), point.d, 2e-5, "D");
        let visibility = smith_visibility(point.v.z, point.l.z, alpha);
        near(visibility, point.visibility, 1e-5, "visibility");
        near(point.v.dot(h), point.v_dot_h, 1e-5, "v.h");
        // The plain mix of glTF 2.0, B.2: what the file holds, without our energy terms.
        let bounce = ggx_distribution(sin2, alpha) * visibility;
        let f = fresnel_schlick(Vec3::splat(DIELECTRIC_F0), point.v.dot(h));
        let dielectric = (1.0 - f) * point.base / PI + f * bounce;
        let metal = fresnel_schlick(point.base, point.v.dot(h)) * bounce;
        let mixed = dielectric.lerp(metal, point.metallic);
        for (found, expected) in mixed.to_array().into_iter().zip(point.reflected.to_array()) {
            near(found, expected, 3e-5, "reflected");
        }
    }
}

#[test]
fn distribution_and_visibility_have_their_closed_values() {
    // Analytic: facing, D V = 1 / (4 pi alpha^2).
    for roughness in [0.25, 0.5, 1.0_f32] {
        let alpha = ggx_alpha(roughness);
        let product = ggx_distribution(0.0, alpha) * smith_visibility(1.0, 1.0, alpha);
        near(product, 1.0 / (4.0 * PI * alpha * alpha), 1e-6, "facing");
    }
    // glTF 2.0, B.2.2 in float64: a mirrored pair at 60 degrees, roughness 0.5.
    near(ggx_distribution(0.0, 0.25), 5.092_96, 1e-5, "D");
    near(smith_visibility(0.5, 0.5, 0.25), 0.917_663, 1e-5, "visibility");
}

#[test]
fn microfacets_cover_the_surface_once() {
    // The law that defines D: its integral times the cosine is 1 (Walter et al. 2007, eq. 4).
    for roughness in [0.05, 0.1, 0.3, 0.6, 1.0] {
        let alpha = ggx_alpha(roughness);
        let (steps, mut sum) = (4000, 0.0_f64);
        for at in 0..steps {
            // Even in the angle's tangent over alpha, squeezed to 0..1, so that the peak is met.
            let (from, to) = (at as f64 / steps as f64, (at as f64 + 1.0) / steps as f64);
            let sin2_of = |u: f64| {
                let tan = f64::from(alpha) * (u / (1.0 - u).max(1e-9));
                tan * tan / (1.0 + tan * tan)
            };
            let sin2 = sin2_of(0.5 * (from + to));
            // cos dw = pi d(sin^2)
            let area = std::f64::consts::PI * (sin2_of(to) - sin2_of(from));
            sum += f64::from(ggx_distribution(sin2 as f32, alpha)) * area;
        }
        assert!((sum - 1.0).abs() < 1e-4, "roughness {roughness}: {sum}");
    }
}

#[test]
fn light_and_eye_may_swap_places() {
    // Helmholtz: f(v, l) = f(l, v), with every energy term.
    let dfg = DfgTable::new();
    let base_colour = Vec3::new(0.9, 0.5, 0.1);
    for (roughness, metalness) in [(0.0, 1.0), (0.2, 0.0), (0.5, 0.4), (1.0, 1.0), (1.0, 0.0)] {
        let material = Material { base_colour, roughness, metalness };
        let of = |v: Vec3, l: Vec3| {
            let [dfg_v, dfg_l] = [v.z, l.z].map(|cosine| dfg.sample(cosine, roughness));
            key_light(material, [Vec3::Z, v, l], 0.05, dfg_v, dfg_l) / l.z
        };
        for v in directions(8).filter(|v| v.z > 0.01) {
            for l in directions(7).filter(|l| l.z > 0.01) {
                let (there, back) = (of(v, l), of(l, v));
                let wrong = (there - back).abs().max_element();
                assert!(wrong <= 1e-4 * there.max_element(), "{there} {back}");
            }
        }
    }
}

#[test]
fn a_smooth_highlight_fits_into_half_floats_and_light_from_below_gives_none() {
    let dfg = DfgTable::new();
    for roughness in [0.0, 0.01, 0.1] {
        let material = Material { base_colour: Vec3::ONE, roughness, metalness: 1.0 };
        let facing = dfg.sample(1.0, roughness);
        let peak = key_light(material, [Vec3::Z; 3], 0.0, facing, facing);
        assert!(peak.x > 1.0 && peak.x < 65_504.0, "{peak}"); // IEEE 754 binary16
        let grazing = dfg.sample(0.0, roughness);
        for l in [Vec3::NEG_Z, Vec3::X] {
            let lit = key_light(material, [Vec3::Z, Vec3::Z, l], 0.0, facing, grazing);
            assert_eq!(lit, Vec3::ZERO);
        }
        // An interpolated normal may turn away from the eye, and the light stand behind it.
        let away = Vec2::from_angle(-0.1);
        let v = Vec3::new(away.x, 0.0, away.y);
        let lit = key_light(material, [Vec3::Z, v, -v], 0.0, grazing, grazing);
        assert!(lit.is_finite() && lit.min_element() >= 0.0, "{lit}");
    }
}
