//! From a pen on a screen to coverage: what a gesture becomes, whatever the pen's rate.

use brush::{
    BrushSettings, BrushSize, Camera, Coverage, Gesture, LeftOut, Path, PathPoint, PenSample,
    Projection, Smoothing, SurfacePath, TexturePoint, resolve, stroke_coverage,
};
use glam::{DVec2, DVec3, Vec2};
use raster::{Unobserved, to_unit};

use crate::meshes::{Builder, halved_plane, plane, sphere};
use crate::strokes::{Bench, stroke};

/// Looks at `target` from `eye`, 400 pixels square.
fn camera(eye: DVec3, target: DVec3, up: DVec3) -> Camera {
    let projection = Projection::Perspective { fov_y_rad: 0.6 };
    Camera { eye, target, up, projection, viewport_px: DVec2::splat(400.0) }
}

fn sample(position_px: DVec2, pressure: f32, time_secs: f64) -> PenSample {
    PenSample { pressure, ..PenSample::mouse(position_px, time_secs) }
}

/// Two seconds of a hand that draws a loop and speeds up and slows down, reported at `rate_hz`.
fn loop_at(rate_hz: u32) -> Vec<PenSample> {
    (0..=2 * rate_hz)
        .map(|number| {
            let time = f64::from(number) / f64::from(rate_hz);
            let along = time * 2.4 + 0.3 * (time * 2.0).sin();
            let away = DVec2::new(90.0 * along.sin(), 70.0 * (1.3 * along).cos());
            sample(DVec2::splat(200.0) + away, (0.6 + 0.2 * time.sin()) as f32, time)
        })
        .collect()
}

fn covered(bench: &Bench, gesture: &Gesture, brush: BrushSettings) -> Coverage {
    let path = resolve(gesture, &bench.surface).unwrap();
    let stroke = stroke(Path::Surface(path), brush);
    stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap()
}

/// The greatest difference between two coverages, 0..1, and the greatest value.
fn difference(a: &Coverage, b: &Coverage) -> (f64, f64) {
    let (mut most, mut highest) = (0.0f64, 0.0f64);
    for y in 0..a.extent.height {
        for x in 0..a.extent.width {
            let at = |of: &Coverage| f64::from(to_unit(of.texel(x, y).unwrap()));
            most = most.max((at(a) - at(b)).abs());
            highest = highest.max(at(a));
        }
    }
    (most, highest)
}

/// The bound is 1/255, what an 8-bit map could show; measured: 0.15/255.
#[test]
fn the_pens_rate_of_reports_does_not_show_in_the_coverage() {
    let from_above = camera(DVec3::new(0.5, 2.2, 0.5), DVec3::new(0.5, 0.0, 0.5), DVec3::NEG_Z);
    let from_the_front = camera(DVec3::new(1.0, 1.5, 5.0), DVec3::ZERO, DVec3::Y);
    let benches =
        [(Bench::new(plane(0.9), 256), from_above), (Bench::new(sphere(24), 256), from_the_front)];
    for (bench, camera) in benches {
        let gesture = |rate_hz| Gesture {
            camera,
            samples: loop_at(rate_hz),
            size: BrushSize::Screen(24.0),
            smoothing: Smoothing::Off,
            left_out: LeftOut::default(),
        };
        for hardness in [0.0, 0.5] {
            let brush = BrushSettings { hardness, ..BrushSettings::default() };
            let [slow, middle, fast] =
                [60, 133, 1000].map(|rate| covered(&bench, &gesture(rate), brush.clone()));
            for other in [&slow, &middle] {
                let (off, highest) = difference(&fast, other);
                assert!(highest > 0.9, "the stroke covers {highest} at most");
                assert!(off <= 1.0 / 255.0, "{:.2} / 255 at hardness {hardness}", off * 255.0);
            }
        }
    }
}

/// Two squares side by side, the right one `step` lower, with a gap of 0.2 between them.
fn stairs(step: f64, gap: f64) -> Bench {
    let mut builder = Builder::default();
    for (name, left, y, u) in [("upper", 0.0, 0.0, 0.05), ("lower", 1.0 + gap, -step, 0.55)] {
        builder.part(name);
        let uv = move |s: f64, t: f64| DVec2::new(u + s * 0.4, 0.1 + t * 0.4);
        builder.grid(4, move |s, t| DVec3::new(left + s, y, t), uv);
    }
    Bench::new(builder.mesh_upwards(), 64)
}

/// A straight drag from left to right over both squares, seen from straight above without perspective.
fn drag(bench: &Bench, size: BrushSize) -> SurfacePath {
    let target = DVec3::new(1.0, 0.0, 0.5);
    let camera = Camera {
        eye: target + DVec3::Y * 3.0,
        target,
        up: DVec3::NEG_Z,
        projection: Projection::Orthographic { height: 2.5 },
        viewport_px: DVec2::splat(500.0),
    };
    let samples = (0..=40)
        .map(|number| sample(DVec2::new(60.0 + 9.5 * f64::from(number), 250.0), 1.0, 0.0))
        .collect();
    let gesture =
        Gesture { camera, samples, size, smoothing: Smoothing::Off, left_out: LeftOut::default() };
    resolve(&gesture, &bench.surface).unwrap()
}

#[test]
fn the_path_breaks_at_a_jump_in_depth_and_not_at_a_step_within_the_brush() {
    let size = BrushSize::Object(0.1);
    // The brush's diameter is 0.2.
    assert_eq!(drag(&stairs(0.19, 0.0), size).runs.len(), 1);
    let path = drag(&stairs(0.21, 0.0), size);
    assert_eq!(path.runs.len(), 2);
    assert!(path.runs[0].iter().all(|point| point.position.y == 0.0));
    assert!(path.runs[1].iter().all(|point| (point.position.y + 0.21).abs() < 1e-6));
}

#[test]
fn the_path_breaks_where_the_pen_leaves_the_model() {
    let path = drag(&stairs(0.0, 0.2), BrushSize::Object(0.1));
    assert_eq!(path.runs.len(), 2);
    let ends = |run: &[PathPoint]| (run[0].position.x, run[run.len() - 1].position.x);
    let ((_, left), (right, _)) = (ends(&path.runs[0]), ends(&path.runs[1]));
    // The path's points lie a tenth of the radius apart.
    assert!((0.98..=1.0).contains(&left), "{left}");
    assert!((1.2..=1.22).contains(&right), "{right}");
}

/// By similar triangles: a pixel at depth d spans 2 d tan(fov / 2) / height.
#[test]
fn size_on_screen_grows_with_depth_and_size_on_the_object_does_not() {
    let bench = Bench::new(sphere(16), 64);
    let camera = camera(DVec3::new(0.0, 0.0, 4.0), DVec3::ZERO, DVec3::Y);
    let samples: Vec<_> = (0..60)
        .map(|number| sample(DVec2::new(200.0 + 3.0 * f64::from(number), 210.0), 1.0, 0.0))
        .collect();
    let points = |size| {
        let samples = samples.clone();
        let gesture = Gesture {
            camera,
            samples,
            size,
            smoothing: Smoothing::Off,
            left_out: LeftOut::default(),
        };
        resolve(&gesture, &bench.surface).unwrap().runs.concat()
    };
    let mut depths = Vec::new();
    for point in points(BrushSize::Screen(12.0)) {
        let depth = 4.0 - f64::from(point.position.z);
        let expected = 12.0 * 2.0 * depth * 0.3f64.tan() / 400.0;
        assert!((f64::from(point.radius) / expected - 1.0).abs() < 1e-6, "{point:?}");
        depths.push(depth);
    }
    let nearest = depths.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(depths.iter().any(|depth| *depth > nearest * 1.2), "the path goes round the sphere");
    assert!(points(BrushSize::Object(0.07)).iter().all(|point| point.radius == 0.07));
}

#[test]
fn a_stroke_seen_from_behind_a_one_sided_sheet_paints_it() {
    let bench = Bench::new(plane(0.9), 128);
    let middle = DVec3::new(0.5, 0.0, 0.5);
    let gesture = |height: f64| Gesture {
        camera: camera(middle + DVec3::Y * height, middle, DVec3::NEG_Z),
        samples: vec![
            sample(DVec2::new(150.0, 200.0), 1.0, 0.0),
            sample(DVec2::splat(200.0), 1.0, 0.1),
        ],
        size: BrushSize::Screen(30.0),
        smoothing: Smoothing::Off,
        left_out: LeftOut::default(),
    };
    let path = resolve(&gesture(-2.0), &bench.surface).unwrap();
    assert!(path.runs.concat().iter().all(|point| point.normal.y < -0.999));
    let behind = covered(&bench, &gesture(-2.0), BrushSettings::default());
    let middle = |coverage: &Coverage| coverage.texel(64, 64).unwrap();
    assert_eq!(middle(&behind), u16::MAX);
    // The camera is turned about its up axis: what lies left of the middle there lies right of it here.
    let before = covered(&bench, &gesture(2.0), BrushSettings::default());
    let left_and_right = |coverage: &Coverage| {
        let at = |x: u32| coverage.texel(x, 64).unwrap();
        (at(42).max(at(41)), at(86).max(at(87)))
    };
    let (seen_left, seen_right) = left_and_right(&before);
    let (behind_left, behind_right) = left_and_right(&behind);
    assert!(seen_left > 60_000 && seen_right == 0, "{seen_left} {seen_right}");
    assert!(behind_left == 0 && behind_right > 60_000, "{behind_left} {behind_right}");
}

fn texture_dab(bench: &Bench, uv: DVec2, radius: f64, hardness: f32) -> Coverage {
    let point = TexturePoint::of(uv.as_vec2(), radius as f32);
    let brush = BrushSettings { hardness, ..BrushSettings::default() };
    let stroke = stroke(Path::Texture(vec![vec![point]]), brush);
    stroke_coverage(&stroke, &bench.surface, &bench.map, &Unobserved).unwrap()
}

/// The area of a disc, and of half a cosine about its rim at half the radius:
/// `2 pi (integral of w r dr)` = `pi R^2 (1/2 - 2 / pi^2)` at hardness 0 (closed form).
#[test]
fn a_disc_on_the_flat_texture_covers_pi_r_squared() {
    let bench = Bench::new(plane(0.9), 512);
    let pi = std::f64::consts::PI;
    let soft = 0.5 - 2.0 / (pi * pi);
    for (hardness, share) in [(1.0, 1.0), (0.0, soft)] {
        for middle in [DVec2::splat(0.5), DVec2::new(0.371, 0.6213)] {
            let radius = 50.0 / 512.0;
            let coverage = texture_dab(&bench, middle, radius, hardness);
            let mut sum = 0.0;
            for (x, y) in (0..512).flat_map(|y| (0..512).map(move |x| (x, y))) {
                sum += f64::from(to_unit(coverage.texel(x, y).unwrap()));
            }
            let expected = pi * 50.0 * 50.0 * share;
            assert!((sum / expected - 1.0).abs() < 0.002, "{sum}, expected {expected}");
        }
    }
}

/// Padding texels of each half show what the other half owns, so both must carry one value.
#[test]
fn padding_follows_a_stroke_on_the_flat_texture_across_the_seam() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    let seam = 64 + 128;
    // A disc over the left half's rim: it lies over the left half's padding too, but there shows the
    // right half, which it does not touch.
    let uv = Vec2::new(f32::from(188u8), 192.0) / 1024.0;
    let coverage = texture_dab(&bench, uv.as_dvec2(), 20.0 / 1024.0, 0.5);
    let at = |x: u32, y: u32| coverage.texel(x, y).unwrap();
    let mut covered = 0;
    for y in 150..240 {
        for step in 0..8 {
            assert_eq!(at(seam + step, y), 0, "beyond the rim at {step}, {y}");
            assert_eq!(at(seam + 400 + step, y), 0, "the other half at {step}, {y}");
            let (owned, padding) = (at(seam - 1 - step, y), at(seam + 400 - 1 - step, y));
            assert!(owned.abs_diff(padding) <= 1, "{owned} {padding} at {step}, {y}");
            covered += usize::from(owned > 0);
        }
    }
    assert!(covered > 200, "{covered}");
}
