//! What a stroke does, measured against geometry and published laws.

use std::sync::Arc;

use brush::{
    BrushSettings, BuildUp, Coverage, KernelVersion, LeftOut, Path, PathPoint, Reach, Stroke,
    StrokeKind, SurfacePath, stroke_coverage,
};
use glam::{DVec2, DVec3};
use raster::{TextureSize, Unobserved, to_unit};
use surface::{DecodedTile, MaterialSlot, Mesh, Surface, TexelMap, TriangleId};

use crate::meshes::{Builder, add_box, cut_plane, plane, row_of_cells, sphere};

pub(crate) struct Bench {
    pub(crate) surface: Arc<Surface>,
    pub(crate) map: Arc<TexelMap>,
}

impl Bench {
    pub(crate) fn new(mesh: Arc<Mesh>, edge: u32) -> Self {
        let surface = Surface::prepare(mesh, &Unobserved).unwrap();
        let size = TextureSize::new(edge).unwrap();
        let map = TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved).unwrap();
        Self { surface: Arc::new(surface), map: Arc::new(map) }
    }

    pub(crate) fn point(&self, position: DVec3, radius: f64) -> PathPoint {
        let on = self.surface.nearest(position).unwrap();
        PathPoint {
            part: self.surface.part_of(on.triangle),
            triangle: on.triangle,
            barycentric: on.barycentric.map(|b| b as f32),
            position: position.as_vec3(),
            normal: self.surface.smooth_normal(on.triangle, on.barycentric).as_vec3(),
            radius: radius as f32,
            pressure: 1.0,
            lean: glam::Vec3::ZERO,
            speed: 0.0,
        }
    }

    pub(crate) fn cover(&self, points: &[PathPoint], brush: BrushSettings) -> Coverage {
        self.cover_runs(&[points.to_vec()], brush)
    }

    pub(crate) fn cover_runs(&self, runs: &[Vec<PathPoint>], brush: BrushSettings) -> Coverage {
        let path = Path::Surface(SurfacePath { runs: runs.to_vec(), eye: None });
        stroke_coverage(&stroke(path, brush), &self.surface, &self.map, &Unobserved).unwrap()
    }

    /// Calls `see` with coverage 0..1, 3D point and area of each owned texel.
    pub(crate) fn owned(&self, coverage: &Coverage, mut see: impl FnMut(f64, DVec3, f64)) {
        let mut decoded = DecodedTile::default();
        for at in self.map.tiles() {
            self.map.decode(&self.surface, at, &mut decoded);
            let (left, top) = at.first_texel();
            for texel in decoded.texels().filter(|texel| !texel.padding) {
                let (x, y) =
                    (left + u32::from(texel.index) % 64, top + u32::from(texel.index) / 64);
                let frame = &decoded.frames[texel.frame as usize];
                let area = frame.du.as_dvec3().cross(frame.dv.as_dvec3()).length();
                let covered = f64::from(to_unit(coverage.texel(x, y).unwrap()));
                see(covered, decoded.origin + texel.offset.as_dvec3(), area);
            }
        }
    }

    pub(crate) fn covered_area(&self, coverage: &Coverage) -> f64 {
        let mut sum = 0.0;
        self.owned(coverage, |covered, _, area| sum += covered * area);
        sum
    }

    fn most(&self, coverage: &Coverage, which: impl Fn(DVec3) -> bool) -> f64 {
        let mut most: f64 = 0.0;
        self.owned(coverage, |covered, point, _| {
            if which(point) {
                most = most.max(covered);
            }
        });
        most
    }
}

pub(crate) fn stroke(path: Path, brush: BrushSettings) -> Stroke {
    Stroke {
        kernel: KernelVersion::CURRENT,
        kind: StrokeKind::Deposit,
        path,
        brush,
        seed: 0,
        left_out: LeftOut::default(),
        symmetry: None,
        stencil: None,
    }
}

fn hard() -> BrushSettings {
    BrushSettings { hardness: 1.0, ..BrushSettings::default() }
}

fn assert_area(got: f64, radius: f64) {
    let expected = std::f64::consts::PI * radius * radius;
    let off = (got / expected - 1.0).abs();
    assert!(off < 0.005, "area {got}, expected {expected}: {:.3} % off", off * 100.0);
}

/// A ball of radius R cuts a plane in a disc: pi R^2 (analytic).
#[test]
fn a_dab_on_a_plane_covers_pi_r_squared() {
    let bench = Bench::new(plane(0.9), 1024);
    for (hardness, spot) in [(1.0, DVec3::new(0.5, 0.0, 0.5)), (1.0, DVec3::new(0.31, 0.0, 0.42))] {
        let brush = BrushSettings { hardness, ..hard() };
        let radius = 50.0 / (0.9 * 1024.0);
        let coverage = bench.cover(&[bench.point(spot, radius)], brush);
        assert_area(bench.covered_area(&coverage), radius);
    }
}

/// The same when the plane is cut into islands at any rotation.
#[test]
fn a_dab_on_a_cut_plane_covers_pi_r_squared_whatever_the_islands_rotation() {
    for turn in [0.0, 0.3, 1.1, 2.0] {
        let bench = Bench::new(cut_plane(0.4, [turn, turn * 2.0, 0.1 - turn, 1.7]), 1024);
        let radius = 60.0 / (0.4 * 1024.0);
        let coverage = bench.cover(&[bench.point(DVec3::new(0.5, 0.0, 0.5), radius)], hard());
        assert_area(bench.covered_area(&coverage), radius);
    }
}

/// A ball of radius R centred on a sphere of radius r > R/2 cuts a cap of exactly pi R^2 (Archimedes'
/// theorem on the sphere: cap area 2 pi r h with h = R^2 / 2r). The facets' own loss of area is removed:
/// what they have of the sphere's 4 pi r^2.
#[test]
fn a_dab_on_a_sphere_covers_pi_r_squared_across_its_islands() {
    let bench = Bench::new(sphere(32), 1024);
    let triangles = (0..bench.surface.triangle_count() as u32).map(TriangleId);
    let facets: f64 = triangles
        .map(|triangle| {
            let [a, b, c] = bench.surface.positions_of(triangle);
            (b - a).cross(c - a).length() * 0.5
        })
        .sum();
    let left = facets / (4.0 * std::f64::consts::PI);
    let texel = std::f64::consts::FRAC_PI_2 / 297.0;
    for spot in [DVec3::X, DVec3::new(1.0, 1.0, 0.0), DVec3::ONE, DVec3::new(0.2, -0.9, 0.4)] {
        for radius_texels in [50.0, 90.0] {
            let radius = radius_texels * texel;
            let spot = spot.normalize_or_zero();
            let coverage = bench.cover(&[bench.point(spot, radius)], hard());
            assert_area(bench.covered_area(&coverage) / left, radius);
        }
    }
}

#[test]
fn a_dab_on_the_front_of_a_thin_sheet_leaves_its_back_bare() {
    let mut builder = Builder::default();
    builder.part("sheet");
    let cells = row_of_cells(0.1, 0.14);
    add_box(&mut builder, DVec3::ZERO, DVec3::new(1.0, 0.02, 1.0), cells, 0.14);
    let bench = Bench::new(builder.mesh(), 1024);
    let spot = bench.point(DVec3::new(0.5, 0.02, 0.5), 0.2);
    let coverage = bench.cover(&[spot], hard());
    assert_eq!(bench.most(&coverage, |point| point.y > 0.019), 1.0);
    assert_eq!(bench.most(&coverage, |point| point.y < 0.001), 0.0);
}

/// Two sheets with equal normals, one a tenth of the radius behind the other: facing alone can't tell
/// them apart, only what hides what.
#[test]
fn a_sheet_behind_another_gets_nothing() {
    let mut builder = Builder::default();
    for (name, y, v) in [("front", 0.0, 0.1), ("back", -0.02, 0.55)] {
        builder.part(name);
        let uv = move |s: f64, t: f64| DVec2::new(0.1 + s * 0.4, v + t * 0.4);
        builder.grid(6, move |s, t| DVec3::new(s, y, t), uv);
    }
    let bench = Bench::new(builder.mesh_upwards(), 512);
    let spot = bench.point(DVec3::new(0.5, 0.0, 0.5), 0.2);
    for eye in [None, Some(DVec3::new(0.6, 3.0, 0.5))] {
        let path = Path::Surface(SurfacePath { runs: vec![vec![spot]], eye });
        let stroke = stroke(path, hard());
        let coverage = stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap();
        assert_eq!(bench.most(&coverage, |point| point.y > -0.01), 1.0);
        assert_eq!(bench.most(&coverage, |point| point.y < -0.01), 0.0);
    }
}

fn crossing_shells() -> Bench {
    let mut builder = Builder::default();
    builder.part("flat");
    builder.grid(
        8,
        |s, t| DVec3::new(s, 0.0, t),
        |s, t| DVec2::new(0.05 + s * 0.4, 0.05 + t * 0.4),
    );
    builder.part("slanted");
    let rise = |s: f64| (s - 0.5) * 0.4;
    let uv = |s: f64, t: f64| DVec2::new(0.55 + s * 0.4, 0.05 + t * 0.4);
    builder.grid(8, move |s, t| DVec3::new(s, rise(s), t), uv);
    Bench::new(builder.mesh_upwards(), 512)
}

#[test]
fn shells_that_cross_under_the_dab_are_both_painted_unless_only_connected_ones_are_asked_for() {
    let bench = crossing_shells();
    let spot = bench.point(DVec3::new(0.45, 0.0, 0.5), 0.2);
    let slanted = |point: DVec3| point.y > 0.01;
    for (reach, expected) in [(Reach::Material, 1.0), (Reach::Part, 0.0), (Reach::Connected, 0.0)] {
        let coverage = bench.cover(&[spot], BrushSettings { reach, ..hard() });
        assert_eq!(bench.most(&coverage, slanted), expected, "{reach:?}");
        assert_eq!(bench.most(&coverage, |point| point.y == 0.0 && point.x < 0.5), 1.0);
    }
}

fn figure_of_eight(bench: &Bench) -> Vec<PathPoint> {
    (0..=400)
        .map(|index| {
            let angle = f64::from(index) / 400.0 * std::f64::consts::TAU;
            let at = DVec3::new(0.5 + 0.3 * angle.sin(), 0.0, 0.5 + 0.2 * (2.0 * angle).sin());
            bench.point(at, 0.05)
        })
        .collect()
}

#[test]
fn a_figure_of_eight_at_half_opacity_never_covers_more_than_half() {
    let bench = Bench::new(plane(0.9), 512);
    let points = figure_of_eight(&bench);
    for build_up in [BuildUp::Gradual, BuildUp::Even] {
        let brush = BrushSettings { opacity: 0.5, build_up, ..BrushSettings::default() };
        let most = bench.most(&bench.cover(&points, brush), |_| true);
        assert!(most <= 0.5, "{most}");
        assert!(most > 0.4999, "{most}");
    }
}

/// S after n dabs of flow f is 1 - (1 - f)^n: 0.1, 0.19, 0.3439, 0.56953 for f = 0.1 and n = 1, 2, 4, 8
/// (closed form). Dabs at the reference spacing, along a line so short that each covers the middle fully.
#[test]
fn dabs_build_up_by_their_flow() {
    let bench = Bench::new(plane(0.9), 256);
    for (dabs, expected) in [(1, 0.1), (2, 0.19), (4, 0.3439), (8, 0.569_53)] {
        let brush = BrushSettings { hardness: 1.0, flow: 0.1, spacing: 0.25, ..hard() };
        let points = vec![bench.point(DVec3::new(0.5, 0.0, 0.5), 0.2); dabs];
        let runs = points.into_iter().map(|point| vec![point]).collect();
        let path = Path::Surface(SurfacePath { runs, eye: None });
        let made = stroke_coverage(&stroke(path, brush), &bench.surface, &bench.map, &Unobserved);
        let most = bench.most(&made.unwrap(), |_| true);
        assert!((most - expected).abs() < 2e-5, "{dabs} dabs give {most}");
    }
}

fn line(bench: &Bench, from: DVec3, to: DVec3, radius: f64, pieces: usize) -> Vec<PathPoint> {
    (0..=pieces).map(|i| bench.point(from.lerp(to, i as f64 / pieces as f64), radius)).collect()
}

/// The continuous limit on the centre line of a hard disc, at offset y:
/// A(y) = 1 - (1 - f)^(2 sqrt(R^2 - y^2) / s) with f at spacing s (derived in closed form from the
/// build-up law). It does not depend on the spacing of dabs, but for one dab more or less.
#[test]
fn what_a_line_deposits_does_not_depend_on_the_spacing() {
    let bench = Bench::new(plane(0.9), 512);
    let points = line(&bench, DVec3::new(0.1, 0.0, 0.5), DVec3::new(0.9, 0.0, 0.5), 0.1, 80);
    for spacing in [0.02, 0.05, 0.1] {
        let brush = BrushSettings { flow: 0.3, spacing, ..hard() };
        let coverage = bench.cover(&points, brush);
        for offset in [0.0f64, 0.04, 0.07] {
            let at = bench.most(&coverage, |point| {
                (point.x - 0.5).abs() < 0.1 && (point.z - 0.5 - offset).abs() < 0.002
            });
            let steps = |y: f64| 2.0 * (0.01 - y * y).sqrt() / (0.25 * 0.2);
            let one_dab = f64::from(spacing) / 0.25;
            let least = 1.0 - 0.7f64.powf(steps(offset) - one_dab);
            let most = 1.0 - 0.7f64.powf(steps((offset - 0.002).max(0.0)) + one_dab);
            assert!(
                least < at && at < most,
                "spacing {spacing}, offset {offset}: {least} {at} {most}"
            );
        }
    }
}

/// Dabs a tenth of a diameter apart would leave ripples of 4/255 half way out (from the cosine's slope and
/// the distance between dabs).
#[test]
fn an_even_line_shows_no_ripples() {
    let bench = Bench::new(plane(0.9), 512);
    let points = line(&bench, DVec3::new(0.1, 0.0, 0.5), DVec3::new(0.9, 0.0, 0.5), 0.1, 80);
    let brush =
        BrushSettings { hardness: 0.0, build_up: BuildUp::Even, ..BrushSettings::default() };
    let (mut least, mut most) = (1.0f64, 0.0f64);
    let coverage = bench.cover(&points, brush);
    let mut away: Vec<f64> = Vec::new();
    bench.owned(&coverage, |_, point, _| away.push(((point.z - 0.5).abs() - 0.05).abs()));
    let row = away.into_iter().fold(f64::INFINITY, f64::min);
    bench.owned(&coverage, |covered, point, _| {
        let in_row = ((point.z - 0.5).abs() - 0.05).abs() < row + 1e-6 && point.z > 0.5;
        if in_row && (0.3..0.7).contains(&point.x) {
            (least, most) = (least.min(covered), most.max(covered));
        }
    });
    assert!(most - least < 1.0 / 255.0 && least > 0.3, "{least} to {most}");
}

/// An 8-bit buffer would stall at 0.61 with a flow of 0.5 % (computed from its rounding).
#[test]
fn a_flow_of_half_a_percent_reaches_the_ceiling() {
    let bench = Bench::new(plane(0.9), 64);
    let brush = BrushSettings { flow: 0.005, spacing: 0.02, ..hard() };
    let there = line(&bench, DVec3::new(0.45, 0.0, 0.5), DVec3::new(0.55, 0.0, 0.5), 0.2, 10);
    // Each way is a quarter of a diameter: 1 - 0.995^1200 = 0.9976.
    let points: Vec<PathPoint> = (0..=1200).map(|i| there[[0, 10][i % 2]]).collect();
    assert!(bench.most(&bench.cover(&points, brush), |_| true) > 0.99);
}

#[test]
fn one_thread_gives_the_same_bytes_as_many() {
    let bench = Bench::new(sphere(32), 512);
    let points: Vec<PathPoint> = (0..60)
        .map(|i| {
            let angle = f64::from(i) * 0.05;
            bench.point(DVec3::new(angle.cos(), 0.3, angle.sin()).normalize_or_zero(), 0.2)
        })
        .collect();
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let coverage = pool.install(|| bench.cover(&points, BrushSettings::default()));
        let texels = coverage.tiles.iter().map(|(at, tile)| {
            let read = tile.read().unwrap();
            (*at, (0..4096).map(|index| read.at(index)).collect::<Vec<_>>())
        });
        texels.collect::<Vec<_>>()
    };
    assert_eq!(with(1), with(7));
}
