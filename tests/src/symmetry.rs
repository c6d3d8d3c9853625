//! Repeated strokes: each copy is the stroke's image, and where copies meet nothing is painted twice.

use brush::{
    Axis, BrushSettings, Coverage, Path, PathPoint, Stroke, StrokeKind, SurfacePath, Symmetry,
    stroke_coverage,
};
use glam::DVec3;
use raster::Unobserved;

use crate::meshes::{halved_plane, plane};
use crate::strokes::{Bench, stroke};

/// A plane of 1 by 1, cut in the middle: 256 texels wide, so that each texel's mirror image is a texel.
fn halves() -> Bench {
    Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024)
}

const MIDDLE: DVec3 = DVec3::new(0.5, 0.0, 0.5);
const EDGE: u32 = 256;

/// The coverage of the plane's texel in a column and row.
fn at(coverage: &Coverage, column: u32, row: u32) -> u16 {
    let apart = if column < EDGE / 2 { 0 } else { 400 };
    coverage.texel(64 + apart + column, 64 + row).unwrap()
}

fn cover(
    bench: &Bench,
    line: &[DVec3],
    brush: BrushSettings,
    symmetry: Option<Symmetry>,
) -> Coverage {
    let points: Vec<PathPoint> = line.iter().map(|p| bench.point(*p, 0.1)).collect();
    let path =
        Path::Surface(SurfacePath { runs: vec![points], eye: Some(DVec3::new(0.2, 3.0, 0.9)) });
    let stroke = Stroke { symmetry, ..stroke(path, brush) };
    stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap()
}

fn across_x() -> Symmetry {
    Symmetry { centre: MIDDLE, mirrors: [true, false, false], turns: None }
}

fn soft() -> BrushSettings {
    BrushSettings { hardness: 0.2, flow: 0.3, opacity: 0.9, ..BrushSettings::default() }
}

/// From far on the left to a little over the plane.
fn slanted() -> Vec<DVec3> {
    (0..=20)
        .map(|n| DVec3::new(0.2 + 0.018 * f64::from(n), 0.0, 0.3 + 0.02 * f64::from(n)))
        .collect()
}

#[test]
fn a_mirrored_stroke_is_its_own_image_within_a_step() {
    let bench = halves();
    let coverage = cover(&bench, &slanted(), soft(), Some(across_x()));
    let mut painted = 0;
    for row in 0..EDGE {
        for column in 0..EDGE {
            let (here, there) = (at(&coverage, column, row), at(&coverage, EDGE - 1 - column, row));
            assert!(here.abs_diff(there) <= 1, "{here} and {there} at {column}, {row}");
            painted += usize::from(here > 0);
        }
    }
    assert!(painted > 10_000, "{painted}");
}

/// A stroke beside the plane: at each texel the nearer of the two alone. Along the plane itself: as if there were no
/// mirror.
#[test]
fn nothing_is_doubled_on_the_plane() {
    let bench = halves();
    for x in [0.5, 0.47] {
        let line: Vec<DVec3> =
            (0..=20).map(|n| DVec3::new(x, 0.0, 0.3 + 0.02 * f64::from(n))).collect();
        let alone = cover(&bench, &line, soft(), None);
        let mirrored = cover(&bench, &line, soft(), Some(across_x()));
        for row in 0..EDGE {
            for column in 0..EDGE {
                let own = at(&alone, column, row);
                let image = at(&alone, EDGE - 1 - column, row);
                let got = at(&mirrored, column, row);
                assert!(
                    got.abs_diff(own.max(image)) <= 1,
                    "{got}: {own}, {image} at {column}, {row}"
                );
            }
        }
    }
}

#[test]
fn four_turns_are_one_pattern_from_four_sides() {
    let bench = halves();
    let symmetry = Symmetry { centre: MIDDLE, mirrors: [false; 3], turns: Some((Axis::Y, 4)) };
    let coverage = cover(&bench, &slanted(), soft(), Some(symmetry));
    for row in 0..EDGE {
        for column in 0..EDGE {
            let (here, there) = (at(&coverage, column, row), at(&coverage, EDGE - 1 - row, column));
            assert!(here.abs_diff(there) <= 1, "{here} and {there} at {column}, {row}");
        }
    }
}

#[test]
fn symmetry_on_the_flat_texture_is_told() {
    let bench = halves();
    let point = brush::TexturePoint::of(glam::Vec2::splat(0.5), 0.1);
    let path = Path::Texture(vec![vec![point]]);
    let stroke = Stroke { symmetry: Some(across_x()), ..stroke(path, soft()) };
    let told = stroke.check(&bench.surface).unwrap_err().to_string();
    assert!(told.contains("paint on the model"), "{told}");
    assert_eq!(stroke.kind, StrokeKind::Deposit);
}

/// 40,000 dabs are few, and 32 times as many are not: all copies count.
#[test]
fn copies_count_where_dabs_are_too_many() {
    let bench = Bench::new(plane(0.9), 64);
    let points = [0.1, 0.9].map(|x| bench.point(DVec3::new(x, 0.0, 0.5), 1e-3));
    let path = Path::Surface(SurfacePath { runs: vec![points.to_vec()], eye: None });
    let brush = BrushSettings { spacing: 0.01, ..BrushSettings::default() };
    let centre = DVec3::new(0.5, 0.0, 0.5);
    let turns = Some((Axis::Y, 32));
    let symmetry = Some(Symmetry { centre, mirrors: [false; 3], turns });
    let stroke = Stroke { symmetry, ..stroke(path, brush) };
    let told = stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap_err();
    assert!(told.to_string().contains("the stroke would take 12"), "{told}");
}
