//! Tooth belongs to the surface: it is one from both sides of a seam, and under any layout.

use brush::{BrushSettings, BuildUp, Lies, Pattern, Relief, Tip, Tooth, ToothPoint};
use glam::{DVec2, DVec3, Vec3};
use surface::DecodedTile;

use crate::meshes::{cut_plane, cut_plane_layout, halved_plane};
use crate::strokes::Bench;

/// Covers fully, but for its tooth.
fn toothed(pattern: Pattern, contrast: f32) -> BrushSettings {
    let relief = Relief::Pattern(pattern);
    let tooth = Tooth { relief, scale: 0.03, contrast, ..Tooth::default() };
    let (hardness, build_up) = (1.0, BuildUp::Even);
    BrushSettings { hardness, build_up, tooth: Some(tooth), ..BrushSettings::default() }
}

#[test]
fn both_sides_of_a_seam_have_one_tooth() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    let (padding, seam) = (bench.map.padding(), 64 + 128);
    for pattern in Pattern::ALL {
        let points = [bench.point(DVec3::new(0.5, 0.0, 0.5), 0.4)];
        let coverage = bench.cover(&points, toothed(pattern, 0.3));
        let at = |x: u32, y: u32| coverage.texel(x, y).unwrap();
        let mut between = 0;
        for y in 64 + 40..64 + 216 {
            for x in seam - padding..seam + padding {
                let (here, there) = (at(x, y), at(x + 400, y));
                assert!(here.abs_diff(there) <= 1, "{pattern:?}: {here}, {there} at {x}, {y}");
                between += usize::from((1..u16::MAX).contains(&here));
            }
        }
        assert!(between > 20, "{pattern:?}: only {between} texels are neither bare nor full");
    }
}

/// What each texel takes is the tooth at the point that the layout, laid flat, has there (analytic): so two
/// layouts agree, wherever their texels lie. A point is exact to some 1e-7, and the steepest tooth, thin scratches, rises by
/// 90 over a feature of 0.03: that makes 20 of 65535 steps, twice where two roundings meet.
#[test]
fn under_any_layout_a_texel_takes_what_its_point_has() {
    let (scale, edge) = (0.4, 512u32);
    for (pattern, turn) in Pattern::ALL.into_iter().zip([0.0, 0.3, 1.1, 2.5].into_iter().cycle()) {
        let angles = [turn, turn * 2.0, 0.1 - turn, 1.7];
        let bench = Bench::new(cut_plane(scale, angles), edge);
        let brush = toothed(pattern, 0.2);
        let tooth = brush.tooth.clone().unwrap();
        let coverage = bench.cover(&[bench.point(DVec3::new(0.5, 0.0, 0.5), 0.7)], brush);
        let mut decoded = DecodedTile::default();
        let (mut looked_at, mut worst) = (0, 0.0_f64);
        for tile in bench.map.tiles() {
            bench.map.decode(&bench.surface, tile, &mut decoded);
            let (left, top) = tile.first_texel();
            for texel in decoded.texels() {
                let (x, y) =
                    (left + u32::from(texel.index) % 64, top + u32::from(texel.index) / 64);
                let strip = texel.owner.0 as usize / 128;
                let uv = (DVec2::new(f64::from(x), f64::from(y)) + 0.5) / f64::from(edge);
                let (middle, rotation) = cut_plane_layout(strip, angles);
                let local = DVec2::from_angle(-rotation).rotate(uv - middle) / scale;
                let shown = DVec3::new(strip as f64 * 0.25 + 0.125 + local.x, 0.0, 0.5 + local.y);
                if shown.distance(DVec3::new(0.5, 0.0, 0.5)) > 0.47 {
                    continue;
                }
                let axis = pattern.has_direction().then_some(Vec3::Y);
                let at = ToothPoint { position: shown.as_vec3(), normal: Vec3::Y, axis };
                let expected = f64::from(tooth.at(&at)) * 65_535.0;
                let got = f64::from(coverage.texel(x, y).unwrap());
                worst = worst.max((got - expected).abs());
                looked_at += 1;
            }
        }
        assert!(looked_at > 20_000 && worst < 48.0, "{pattern:?}: {worst} steps of {looked_at}");
    }
}

/// An ellipse of half axes R and a R has the area pi a R^2, wherever it lies and across a seam (analytic).
#[test]
fn an_oval_covers_the_area_of_an_ellipse() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    for (aspect, lies, middle) in [
        (0.5, Lies::Axis, DVec3::new(0.5, 0.0, 0.5)),
        (0.3, Lies::Chance, DVec3::new(0.47, 0.0, 0.44)),
        (0.12, Lies::Chance, DVec3::new(0.3, 0.0, 0.6)),
    ] {
        let tip = Tip { aspect, lies, turn: 0.4, ..Tip::ROUND };
        let brush = BrushSettings { hardness: 1.0, tip: tip.clone(), ..BrushSettings::default() };
        let coverage = bench.cover(&[bench.point(middle, 0.2)], brush);
        let expected = std::f64::consts::PI * f64::from(aspect) * 0.2 * 0.2;
        let got = bench.covered_area(&coverage);
        assert!((got / expected - 1.0).abs() < 0.01, "{got} instead of {expected}, {tip:?}");
    }
}

/// Passes over one place fill a tooth as they fill anything else: 1 - (1 - f t)^n (closed form).
#[test]
fn flow_fills_a_tooth_pass_by_pass() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    let point = bench.point(DVec3::new(0.5, 0.0, 0.5), 0.3);
    let tooth = toothed(Pattern::Gradient, 0.0).tooth;
    let brush = BrushSettings {
        hardness: 1.0,
        flow: 0.3,
        spacing: 0.25,
        tooth,
        ..BrushSettings::default()
    };
    let one = bench.cover(&[point], brush.clone());
    // Runs of one point each: a dab each.
    for passes in [2, 5] {
        let many = bench.cover_runs(&vec![vec![point]; passes], brush.clone());
        for (x, y) in (0..4000).map(|n| (100 + n % 80, 140 + n / 80)) {
            let once = f64::from(one.texel(x, y).unwrap()) / 65_535.0;
            let expected = (1.0 - (1.0 - once).powi(passes as i32)) * 65_535.0;
            let got = f64::from(many.texel(x, y).unwrap());
            assert!((got - expected).abs() < 4.0, "{got} instead of {expected} at {x}, {y}");
        }
    }
}
