//! A stroke that is painted as the hand moves ends in the bytes that replay gives.

use std::sync::Arc;

use brush::{
    BrushError, BrushSettings, BrushSize, BuildUp, Camera, Coverage, FlatCamera, HeldAt, Jitter,
    LeftOut, Lies, LiveStroke, PenSample, Projection, Reach, Response, Smoothing, Stencil,
    StrokeBuffers, StrokeKind, StrokeStart, StrokeView, Tip, stroke_coverage,
};
use glam::{DVec2, DVec3};
use proptest::prelude::*;
use raster::{TextureSize, TileAt, Unobserved};
use surface::{DecodedTiles, MaterialSlot, Mesh, PartId, Surface, TexelMap};

use crate::brush_images::leaf;
use crate::meshes::{Builder, add_box, cut_plane, row_of_cells, sphere};

fn tiles(mesh: Arc<Mesh>, edge: u32) -> Arc<DecodedTiles> {
    let surface = Arc::new(Surface::prepare(mesh, &Unobserved).unwrap());
    let size = TextureSize::new(edge).unwrap();
    let map = Arc::new(TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved).unwrap());
    Arc::new(DecodedTiles::new(surface, map, 1 << 28))
}

/// Boxes that hide each other, one standing on the next, and turn away from most places.
fn steps() -> Arc<Mesh> {
    let mut builder = Builder::default();
    for (number, name) in [(0, "low"), (1, "high")] {
        builder.part(name);
        let (left, v) = (0.5 * f64::from(number), 0.02 + 0.5 * f64::from(number));
        let cells = row_of_cells(v, 0.14);
        let high = DVec3::new(left + 0.6, 0.3 + 0.4 * f64::from(number), 0.6);
        add_box(&mut builder, DVec3::new(left, 0.0, 0.0), high, cells, 0.14);
    }
    builder.mesh()
}

fn camera(eye: DVec3, target: DVec3) -> Camera {
    let projection = Projection::Perspective { fov_y_rad: 0.6 };
    let up = if (target - eye).normalize_or_zero().y.abs() > 0.9 { DVec3::NEG_Z } else { DVec3::Y };
    Camera { eye, target, up, projection, viewport_px: DVec2::splat(400.0) }
}

/// What is painted on, in which view.
fn easels() -> Vec<(Arc<DecodedTiles>, StrokeView)> {
    let model = |eye, target| {
        let size = BrushSize::Screen(22.0);
        StrokeView::Model { camera: camera(eye, target), size }
    };
    let flat = FlatCamera { top_left: DVec2::splat(0.1), uv_per_px: 0.002 };
    vec![
        (tiles(sphere(12), 256), model(DVec3::new(1.0, 1.5, 5.0), DVec3::ZERO)),
        (tiles(steps(), 256), model(DVec3::new(-1.5, 2.2, 2.6), DVec3::new(0.5, 0.3, 0.3))),
        (
            tiles(cut_plane(0.4, [0.2, 0.9, 2.0, 1.7]), 256),
            StrokeView::Flat { camera: flat, radius: 0.04 },
        ),
    ]
}

fn sample(position_px: DVec2, pressure: f32, time_secs: f64) -> PenSample {
    PenSample { pressure, ..PenSample::mouse(position_px, time_secs) }
}

/// A hand that curls, rests at one place for a while and leaves the model now and then.
fn hand(count: usize, curl: f64) -> Vec<PenSample> {
    (0..count)
        .map(|number| {
            let time = if (20..26).contains(&number) { 20 } else { number } as f64 / 60.0;
            let away = DVec2::new((curl * time).sin() * 140.0, (2.1 * time).cos() * 85.0);
            let pressure = 0.6 + 0.4 * (3.0 * time).sin() as f32;
            sample(DVec2::splat(200.0) + away, pressure, number as f64 / 60.0)
        })
        .collect()
}

fn brushes() -> impl Strategy<Value = BrushSettings> {
    let build_up = prop_oneof![Just(BuildUp::Gradual), Just(BuildUp::Even)];
    let reach = prop_oneof![Just(Reach::Material), Just(Reach::Part), Just(Reach::Connected)];
    (0.0..=1.0f32, 0.2..=1.0f32, 0.1..=1.0f32, 0.08..=0.4f32, build_up, reach).prop_map(
        |(hardness, opacity, flow, spacing, build_up, reach)| {
            let mut brush = BrushSettings { hardness, opacity, flow, ..BrushSettings::default() };
            (brush.spacing, brush.build_up, brush.reach) = (spacing, build_up, reach);
            brush.pressure.size = Response { at_zero: 0.4, ..Response::NONE };
            // Half of them with dabs that differ in what they paint.
            if flow < 0.5 {
                brush.jitter = Jitter { hue: 40.0, shade: 0.3, value: 0.2, ..Jitter::NONE };
            }
            // A third of them with an image, which lies along the stroke.
            if spacing < 0.18 {
                brush.tip = Tip { lies: Lies::Stroke, image: Some(leaf(48)), ..Tip::ROUND };
            }
            brush
        },
    )
}

fn bytes(coverage: &Coverage) -> Vec<(TileAt, Vec<u16>)> {
    let values = |tile: &raster::Tile| {
        let read = tile.read().unwrap();
        (0..4096).map(|index| read.at(index)).collect::<Vec<_>>()
    };
    let shades = |number: usize| {
        let shades = coverage.shades.get(number).into_iter();
        shades.flat_map(|shades| shades.0.iter().flat_map(values)).collect::<Vec<_>>()
    };
    let tiles = coverage.tiles.iter().enumerate();
    tiles.map(|(n, (at, tile))| (*at, [values(tile), shades(n)].concat())).collect()
}

/// A sheet over the middle of the screen, in two of three views.
fn stencil(view: &StrokeView, turn: f64) -> Option<Stencil> {
    let held = HeldAt { centre_px: DVec2::splat(210.0), width_px: 240.0, turn, mirrored_px: None };
    match view {
        StrokeView::Model { camera, .. } => {
            (turn > 0.3).then(|| Stencil::before(leaf(64), turn > 0.6, camera, &held))
        }
        StrokeView::Flat { camera, .. } => Some(Stencil::over(leaf(64), false, camera, &held)),
    }
}

/// Coverage as the frames of a live stroke have shown it.
fn shown(
    live: &mut LiveStroke,
    samples: &[PenSample],
    frames: &[usize],
    canvas: &mut Vec<(TileAt, Vec<u16>)>,
) {
    let mut rest = samples;
    for &length in frames.iter().cycle() {
        let (now, later) = rest.split_at(length.min(rest.len()));
        live.extend(now).unwrap();
        for (at, bytes) in bytes(live.changed().unwrap().covered) {
            canvas.retain(|(known, _)| *known != at);
            canvas.push((at, bytes));
        }
        rest = later;
        if rest.is_empty() {
            break;
        }
    }
    canvas.sort_by_key(|(at, _)| (at.y, at.x));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// However samples are gathered into frames, a stroke ends in one path and one coverage; what was shown
    /// last is that too; and replay of the recorded stroke gives it again.
    #[test]
    fn a_live_stroke_ends_in_what_replay_gives_however_its_samples_arrive(
        brush in brushes(),
        curl in 1.0..5.0f64,
        count in 1..60usize,
        frames in proptest::collection::vec(1..9usize, 1..6),
        steadied in any::<bool>(),
        which in 0..4u32,
    ) {
        let left_out = match which {
            0 => LeftOut::new([PartId(1)], []),
            1 => LeftOut::new([], [PartId(0)]),
            _ => LeftOut::default(),
        };
        let smoothing = if steadied {
            Smoothing::OneEuro { min_cutoff_hz: 2.0, beta: 0.02 }
        } else {
            Smoothing::Off
        };
        let samples = hand(count, curl);
        for (tiles, view) in easels() {
            let left_out = left_out.clone();
            let kind = StrokeKind::Deposit;
            let brush = brush.clone();
            let (stencil, symmetry) = (stencil(&view, curl.fract()), None);
            let start = StrokeStart { view, smoothing, kind, brush, seed: 3, left_out, symmetry, stencil };
            let begin = || LiveStroke::begin(&start, Arc::clone(&tiles), StrokeBuffers::default());
            let mut at_once = begin().unwrap();
            at_once.extend(&samples).unwrap();
            let at_once = at_once.finish();
            let (mut live, mut canvas) = (begin().unwrap(), Vec::new());
            shown(&mut live, &samples, &frames, &mut canvas);
            let live = live.finish();
            let (Ok(at_once), Ok(live)) = (at_once, live) else { continue };
            prop_assert_eq!(&at_once.stroke, &live.stroke);
            prop_assert_eq!(bytes(&at_once.coverage), bytes(&live.coverage));
            let (surface, map) = (tiles.surface(), tiles.map());
            let replayed = stroke_coverage(&live.stroke, surface, map, &Unobserved).unwrap();
            prop_assert_eq!(bytes(&replayed), bytes(&live.coverage));
            canvas.retain(|(_, bytes)| bytes[..4096] != [0; 4096]);
            canvas.sort_unstable_by_key(|(at, _)| (at.y, at.x));
            prop_assert_eq!(canvas, bytes(&live.coverage));
        }
    }
}

#[test]
fn the_hand_covers_something_in_every_view() {
    for (tiles, view) in easels() {
        let brush = BrushSettings::default();
        let start = StrokeStart {
            view,
            smoothing: Smoothing::Off,
            kind: StrokeKind::Deposit,
            brush,
            seed: 0,
            left_out: LeftOut::default(),
            symmetry: None,
            stencil: None,
        };
        let mut live = LiveStroke::begin(&start, tiles, StrokeBuffers::default()).unwrap();
        live.extend(&hand(50, 3.0)).unwrap();
        assert!(!live.changed().unwrap().covered.tiles.is_empty());
        let finished = live.finish().unwrap();
        let covered = bytes(&finished.coverage).into_iter().flat_map(|(_, values)| values);
        let full = covered.filter(|&value| value > 60_000).count();
        assert!(full > 100, "{full}");
    }
}

#[test]
fn a_sample_that_is_not_a_number_leaves_the_stroke_as_it_was() {
    for (tiles, view) in easels() {
        let brush = BrushSettings::default();
        let start = StrokeStart {
            view,
            smoothing: Smoothing::Off,
            kind: StrokeKind::Deposit,
            brush,
            seed: 0,
            left_out: LeftOut::default(),
            symmetry: None,
            stencil: None,
        };
        let begin = || LiveStroke::begin(&start, Arc::clone(&tiles), StrokeBuffers::default());
        let samples = hand(40, 3.0);
        let (mut live, mut undisturbed) = (begin().unwrap(), begin().unwrap());
        for (number, sample) in samples.iter().enumerate() {
            undisturbed.extend(&[*sample]).unwrap();
            let wild = PenSample { pressure: f32::NAN, ..*sample };
            let refused = live.extend(&[*sample, wild]).unwrap_err();
            assert_eq!(refused, BrushError::NotFinite { index: number + 1 });
            live.extend(&[*sample]).unwrap();
        }
        let (live, undisturbed) = (live.finish().unwrap(), undisturbed.finish().unwrap());
        assert_eq!(live.stroke, undisturbed.stroke);
        assert_eq!(bytes(&live.coverage), bytes(&undisturbed.coverage));
    }
}

#[test]
fn memory_handed_from_stroke_to_stroke_holds_nothing_of_the_one_before() {
    let mut buffers = StrokeBuffers::default();
    for (tiles, view) in easels().into_iter().chain(easels()) {
        let brush = BrushSettings::default();
        let start = StrokeStart {
            view,
            smoothing: Smoothing::Off,
            kind: StrokeKind::Deposit,
            brush,
            seed: 0,
            left_out: LeftOut::default(),
            symmetry: None,
            stencil: None,
        };
        let mut live = LiveStroke::begin(&start, Arc::clone(&tiles), buffers).unwrap();
        live.extend(&hand(25, 3.0)).unwrap();
        live.changed().unwrap();
        let finished = live.finish().unwrap();
        let (surface, map) = (tiles.surface(), tiles.map());
        let replayed = stroke_coverage(&finished.stroke, surface, map, &Unobserved).unwrap();
        assert_eq!(bytes(&replayed), bytes(&finished.coverage));
        buffers = finished.buffers;
    }
}

#[test]
fn a_pen_that_meets_nothing_is_refused_at_its_end() {
    let (tiles, view) = easels().swap_remove(0);
    let brush = BrushSettings::default();
    let start = StrokeStart {
        view,
        smoothing: Smoothing::Off,
        kind: StrokeKind::Deposit,
        brush,
        seed: 0,
        left_out: LeftOut::default(),
        symmetry: None,
        stencil: None,
    };
    let mut live = LiveStroke::begin(&start, tiles, StrokeBuffers::default()).unwrap();
    live.extend(&[sample(DVec2::splat(-4000.0), 1.0, 0.0)]).unwrap();
    assert!(live.changed().unwrap().covered.tiles.is_empty());
    assert_eq!(live.finish().unwrap_err(), BrushError::EmptyPath);
}
