//! Decals: images laid on the surface, measured against geometry.

use brush::{Anchor, Coverage, Decal, GreyImage, LeftOut, decal_coverage};
use glam::DVec3;
use raster::{Extent, Unobserved};

use crate::meshes::{cut_plane, halved_plane, plane, sphere};
use crate::strokes::Bench;

/// White but for a black quarter at its upper left.
fn image(width: u32, height: u32) -> GreyImage {
    let quarter = |n: u32| n % width < width / 2 && n / width < height / 2;
    let values = (0..width * height).map(|n| if quarter(n) { 0 } else { u16::MAX }).collect();
    GreyImage::new(Extent { width, height }, values).unwrap()
}

fn decal(image: GreyImage, position: DVec3, normal: DVec3, half: f64) -> Decal {
    let middle = Anchor { position, normal };
    let up = DVec3::NEG_Z;
    Decal { image, middle, up, half, turn: 0.0, opacity: 1.0, left_out: LeftOut::default() }
}

fn cover(bench: &Bench, decal: &Decal) -> Coverage {
    decal_coverage(decal, &bench.surface, &bench.map, &Unobserved).unwrap()
}

/// Three quarters of a rectangle of 2 h by h (analytic), on a plane in four turned islands, however it is turned.
#[test]
fn a_decal_covers_three_quarters_of_its_rectangle() {
    let bench = Bench::new(cut_plane(0.4, [0.2, 0.9, 2.0, 1.7]), 1024);
    for turn in [0.0, 0.5, 2.0] {
        let middle = DVec3::new(0.52, 0.0, 0.47);
        let decal = Decal { turn, ..decal(image(128, 64), middle, DVec3::Y, 0.2) };
        let area = bench.covered_area(&cover(&bench, &decal));
        let wanted = 0.75 * 0.4 * 0.2;
        assert!((area / wanted - 1.0).abs() < 0.01, "{area}, not {wanted}, turned by {turn}");
    }
}

/// The black quarter lies at the upper left as one looks down on the plane with -z up.
#[test]
fn a_decal_stands_upright_and_goes_over_a_seam() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    let decal = decal(image(64, 64), DVec3::new(0.5, 0.0, 0.5), DVec3::Y, 0.2);
    let coverage = cover(&bench, &decal);
    let at = |x: f64, z: f64| {
        let column = (x * 256.0) as u32;
        let apart = if column < 128 { 0 } else { 400 };
        coverage.texel(64 + apart + column, 64 + (z * 256.0) as u32).unwrap()
    };
    assert_eq!(at(0.4, 0.4), 0);
    for (x, z) in [(0.6, 0.4), (0.4, 0.6), (0.6, 0.6)] {
        assert_eq!(at(x, z), u16::MAX, "{x}, {z}");
    }
    assert_eq!(at(0.75, 0.5), 0);
    let (padding, seam) = (bench.map.padding(), 64 + 128);
    for y in 64..64 + 256 {
        for x in seam - padding..seam + padding {
            let here = coverage.texel(x, y).unwrap();
            let there = coverage.texel(x + 400, y).unwrap();
            assert!(here.abs_diff(there) <= 1, "{here} and {there} at {x}, {y}");
        }
    }
}

/// A disc of geodesic radius r on a unit sphere is 2 pi (1 - cos r) (analytic); a decal is laid along the surface.
#[test]
fn on_a_sphere_a_decal_is_measured_along_the_surface() {
    let bench = Bench::new(sphere(48), 1024);
    let edge = 256;
    let disc = |n: u32| {
        let away = |at: u32| (f64::from(at) + 0.5) / f64::from(edge) * 2.0 - 1.0;
        away(n % edge).hypot(away(n / edge)) <= 1.0
    };
    let values = (0..edge * edge).map(|n| if disc(n) { u16::MAX } else { 0 }).collect();
    let image = GreyImage::new(Extent { width: edge, height: edge }, values).unwrap();
    let normal = DVec3::new(0.3, 0.5, 0.8).normalize_or_zero();
    let decal = decal(image, normal, normal, 0.5);
    let area = bench.covered_area(&cover(&bench, &decal));
    let wanted = std::f64::consts::TAU * (1.0 - 0.5_f64.cos());
    assert!((area / wanted - 1.0).abs() < 0.02, "{area}, not {wanted}");
}

/// On a floor the way up is along the normal, and another one is taken: it covers what it covers with one that is told.
#[test]
fn on_a_floor_a_decal_lies_with_its_top_away_from_the_viewer() {
    let bench = Bench::new(plane(0.9), 512);
    let upwards = decal(image(40, 20), DVec3::new(0.5, 0.0, 0.5), DVec3::Y, 0.2);
    let upwards = Decal { up: DVec3::Y, ..upwards };
    let away = Decal { up: DVec3::NEG_Z, ..upwards.clone() };
    let [up, away] = [upwards, away].map(|decal| cover(&bench, &decal));
    let mut covered = 0;
    for (x, y) in (0..512).flat_map(|x| (0..512).map(move |y| (x, y))) {
        assert_eq!(up.texel(x, y).unwrap(), away.texel(x, y).unwrap());
        covered += usize::from(up.texel(x, y).unwrap() > 0);
    }
    assert!(covered > 4_000, "{covered}");
}

#[test]
fn a_decal_that_can_not_be_is_told() {
    let fine = decal(image(8, 8), DVec3::ZERO, DVec3::Y, 0.1);
    assert!(fine.check().is_ok());
    let told = |decal: Decal| decal.check().unwrap_err().to_string();
    assert_eq!(
        told(Decal { half: 0.0, ..fine.clone() }),
        "size of the decal is 0: give more than 0"
    );
    assert!(told(Decal { turn: f64::NAN, ..fine.clone() }).contains("turn of the decal"));
    assert!(told(Decal { opacity: 2.0, ..fine }).contains("opacity is 2"));
}
