//! Stencils: paint lands where holes are seen, whatever the layout, and copies go through mirror images.

use brush::{
    BrushSettings, Camera, Coverage, FlatCamera, GreyImage, HeldAt, Path, PathPoint, Projection,
    Stencil, Stroke, SurfacePath, Symmetry, TexturePoint, stroke_coverage,
};
use glam::{DVec2, DVec3};
use raster::{Extent, Unobserved};

use crate::meshes::{cut_plane, halved_plane, plane};
use crate::strokes::{Bench, stroke};

/// A hole of 0.4 of the edge in radius, in the middle.
fn hole(edge: u32) -> GreyImage {
    let pixel = |n: u32| {
        let at = |n: u32| (f64::from(n) + 0.5) / f64::from(edge) - 0.5;
        let inside = (0.4 - at(n % edge).hypot(at(n / edge))) * f64::from(edge) + 0.5;
        (inside.clamp(0.0, 1.0) * 65_535.0) as u16
    };
    let extent = Extent { width: edge, height: edge };
    GreyImage::new(extent, (0..edge * edge).map(pixel).collect()).unwrap()
}

fn camera(eye: DVec3, projection: Projection) -> Camera {
    let target = DVec3::new(0.5, 0.0, 0.5);
    Camera { eye, target, up: DVec3::NEG_Z, projection, viewport_px: DVec2::new(600.0, 400.0) }
}

fn held(width_px: f64) -> HeldAt {
    HeldAt { centre_px: DVec2::new(300.0, 200.0), width_px, turn: 0.4, mirrored_px: None }
}

fn hard() -> BrushSettings {
    BrushSettings { hardness: 1.0, ..BrushSettings::default() }
}

/// A large dab over the middle of the plane.
fn through(bench: &Bench, stencil: Option<Stencil>, symmetry: Option<Symmetry>) -> Coverage {
    let points: Vec<PathPoint> = vec![bench.point(DVec3::new(0.5, 0.0, 0.5), 0.4)];
    let path = Path::Surface(SurfacePath { runs: vec![points], eye: None });
    let stroke = Stroke { stencil, symmetry, ..stroke(path, hard()) };
    stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap()
}

/// A disc of radius r covers pi r^2 (analytic); inverted, the square around it less the disc.
#[test]
fn what_is_covered_is_as_large_as_the_hole() {
    let bench = Bench::new(plane(0.9), 1024);
    let above = camera(DVec3::new(0.5, 3.0, 0.5), Projection::Orthographic { height: 1.0 });
    // 200 pixels of 400 that show 1: half a unit wide.
    for inverted in [false, true] {
        let stencil = Stencil::before(hole(256), inverted, &above, &held(200.0));
        let got = bench.covered_area(&through(&bench, Some(stencil), None));
        let disc = std::f64::consts::PI * 0.2 * 0.2;
        let expected = if inverted { 0.25 - disc } else { disc };
        assert!((got / expected - 1.0).abs() < 0.005, "{got}, expected {expected}");
    }
}

/// Over seams, and seen aslant: each texel is covered where its point is seen through the hole.
#[test]
fn paint_lands_where_the_hole_is_seen() {
    let bench = Bench::new(cut_plane(0.4, [0.2, 0.9, 2.0, 1.7]), 1024);
    let aslant = camera(DVec3::new(1.4, 1.5, 1.7), Projection::Perspective { fov_y_rad: 0.5 });
    let held = held(180.0);
    let stencil = Stencil::before(hole(256), false, &aslant, &held);
    let coverage = through(&bench, Some(stencil), None);
    let (mut inside, mut outside) = (0, 0);
    bench.owned(&coverage, |covered, point, _| {
        if point.distance(DVec3::new(0.5, 0.0, 0.5)) > 0.39 {
            return;
        }
        let away = aslant.project(point).unwrap().distance(held.centre_px);
        // A texel is about a pixel wide here.
        if away < 0.4 * 180.0 - 2.0 {
            assert!(covered > 0.999, "{covered} at {point}, {away} pixels from the middle");
            inside += 1;
        } else if away > 0.4 * 180.0 + 2.0 {
            assert!(covered < 0.001, "{covered} at {point}, {away} pixels from the middle");
            outside += 1;
        }
    });
    assert!(inside > 4_000 && outside > 4_000, "{inside} and {outside}");
}

#[test]
fn a_mirrored_stroke_goes_through_the_mirrored_stencil() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    let aslant = camera(DVec3::new(0.9, 1.5, 1.2), Projection::Perspective { fov_y_rad: 0.6 });
    let mut held = held(160.0);
    held.centre_px = aslant.project(DVec3::new(0.72, 0.0, 0.5)).unwrap();
    let stencil = Stencil::before(crate::brush_images::leaf(128), false, &aslant, &held);
    let centre = DVec3::new(0.5, 0.0, 0.5);
    let symmetry = Symmetry { centre, mirrors: [true, false, false], turns: None };
    let points = vec![bench.point(DVec3::new(0.72, 0.0, 0.5), 0.2)];
    let path = Path::Surface(SurfacePath { runs: vec![points], eye: None });
    let mirrored =
        Stroke { stencil: Some(stencil), symmetry: Some(symmetry), ..stroke(path, hard()) };
    let coverage = stroke_coverage(&mirrored, &bench.surface, &bench.map, &Unobserved).unwrap();
    let at = |column: u32, row: u32| {
        let apart = if column < 128 { 0 } else { 400 };
        coverage.texel(64 + apart + column, 64 + row).unwrap()
    };
    let (mut painted, mut bare) = (0, 0);
    for row in 0..256 {
        for column in 0..128 {
            let (here, there) = (at(column, row), at(255 - column, row));
            assert!(here.abs_diff(there) <= 1, "{here} and {there} at {column}, {row}");
            painted += usize::from(here > 20_000);
            bare += usize::from(here == 0);
        }
    }
    assert!(painted > 500 && bare > 500, "{painted} and {bare}");
}

/// A sheet of a single white pixel is a square hole: its area is the square of its width.
#[test]
fn a_stencil_of_one_pixel_is_a_square() {
    let bench = Bench::new(plane(1.0), 1024);
    let image = GreyImage::new(Extent { width: 1, height: 1 }, vec![65_535]).unwrap();
    let flat = FlatCamera { top_left: DVec2::ZERO, uv_per_px: 1.0 / 400.0 };
    let held =
        HeldAt { centre_px: DVec2::splat(200.0), width_px: 80.0, turn: 0.3, mirrored_px: None };
    let stencil = Some(Stencil::over(image, false, &flat, &held));
    let path = Path::Texture(vec![vec![TexturePoint::of(glam::Vec2::splat(0.5), 0.3)]]);
    let stroke = Stroke { stencil, ..stroke(path, hard()) };
    let coverage = stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap();
    let got = bench.covered_area(&coverage);
    assert!((got / 0.04 - 1.0).abs() < 0.01, "{got}");
}

#[test]
fn a_stencil_that_is_nowhere_is_told() {
    let bench = Bench::new(plane(0.9), 256);
    let above = camera(DVec3::new(0.5, 3.0, 0.5), Projection::Orthographic { height: 1.0 });
    let stencil = Stencil::before(hole(16), false, &above, &held(f64::NAN));
    let path = Path::Texture(vec![vec![TexturePoint::of(glam::Vec2::splat(0.5), 0.3)]]);
    let stroke = Stroke { stencil: Some(stencil), ..stroke(path, hard()) };
    let told = stroke.check(&bench.surface).unwrap_err().to_string();
    assert!(told.starts_with("a number of the stencil's place is NaN"), "{told}");
    let mut flat = Stencil::before(hole(16), false, &above, &held(100.0));
    assert!(Stroke { stencil: Some(flat.clone()), ..stroke.clone() }.check(&bench.surface).is_ok());
    flat.places[1] = flat.places[0] * 2.0;
    let stroke = Stroke { stencil: Some(flat), ..stroke };
    let told = stroke.check(&bench.surface).unwrap_err().to_string();
    assert!(told.starts_with("the stencil's places take the view onto a line"), "{told}");
}
