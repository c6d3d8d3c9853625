//! Strokes that nobody means to make: of one sample, of a hundred thousand, without pressure, beside the model. Each kind
//! ends in a sane result or in one clear line.

use std::sync::Arc;

use brush::{
    Anchor, BrushError, BrushSettings, BrushSize, Camera, CellPlanes, CloneFrom, LeftOut,
    LiveStroke, Mixing, PenSample, Projection, Response, Smoothing, StrokeBuffers, StrokeKind,
    StrokeStart, StrokeView,
};
use glam::{DVec2, DVec3};
use raster::{Plane, TextureSize, Unobserved};
use surface::{DecodedTiles, MaterialSlot, Surface, TexelMap};

use crate::meshes::sphere;

struct Easel(Arc<DecodedTiles>);

impl Easel {
    fn new() -> Self {
        let surface = Arc::new(Surface::prepare(sphere(12), &Unobserved).unwrap());
        let size = TextureSize::new(128).unwrap();
        let map = TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved).unwrap();
        Self(Arc::new(DecodedTiles::new(surface, Arc::new(map), 1 << 26)))
    }

    fn begin(&self, kind: StrokeKind, brush: BrushSettings) -> LiveStroke {
        let camera = Camera {
            eye: DVec3::new(0.0, 0.0, 5.0),
            target: DVec3::ZERO,
            up: DVec3::Y,
            projection: Projection::Perspective { fov_y_rad: 0.6 },
            viewport_px: DVec2::splat(400.0),
        };
        let start = StrokeStart {
            view: StrokeView::Model { camera, size: BrushSize::Screen(20.0) },
            smoothing: Smoothing::Off,
            kind,
            brush,
            seed: 1,
            left_out: LeftOut::default(),
            symmetry: None,
            stencil: None,
        };
        let (tiles, buffers) = (Arc::clone(&self.0), StrokeBuffers::default());
        if !kind.is_transport() {
            return LiveStroke::begin(&start, tiles, buffers).unwrap();
        }
        let extent = self.0.map().size().extent();
        let half = Plane::from_fn(extent, |x, _| if x < 64 { 9_000 } else { 50_000 });
        let cell = CellPlanes {
            values: vec![half],
            coverage: Plane::uniform(extent, 65_535),
            paint: Vec::new(),
            mixing: Mixing::Stored,
        };
        LiveStroke::begin_moving(&start, tiles, (vec![cell], None), buffers).unwrap()
    }
}

fn kinds() -> [StrokeKind; 4] {
    let anchor = |x: f64| Anchor { position: DVec3::new(x, 0.0, 1.0), normal: DVec3::Z };
    let clone = CloneFrom::Surface { source: anchor(-0.2), start: anchor(0.2) };
    [
        StrokeKind::Deposit,
        StrokeKind::Smudge { hold: 0.8 },
        StrokeKind::Soften { reach: 0.2 },
        StrokeKind::Clone(clone),
    ]
}

fn sample(x: f64, pressure: f32, time_secs: f64) -> PenSample {
    PenSample { pressure, ..PenSample::mouse(DVec2::new(x, 200.0), time_secs) }
}

#[test]
fn a_stroke_of_one_sample_is_one_dab() {
    let easel = Easel::new();
    for kind in kinds() {
        let mut live = easel.begin(kind, BrushSettings::default());
        live.extend(&[sample(200.0, 1.0, 0.0)]).unwrap();
        let finished = live.finish().unwrap();
        assert!(finished.stroke.path.is_on_surface());
        let changed = !finished.covered.tiles.is_empty() || !finished.moved.is_empty();
        // A smudge has nothing to bring yet.
        assert_eq!(changed, !matches!(kind, StrokeKind::Smudge { .. }), "{kind:?}");
    }
}

#[test]
fn a_hundred_thousand_samples_come_to_an_end_and_so_does_no_pressure() {
    let easel = Easel::new();
    let still: Vec<PenSample> = (0..100_000)
        .map(|n| sample(200.0 + 0.01 * f64::from(n % 3), 1.0, f64::from(n) * 1e-3))
        .collect();
    let (mut opacity, mut size) = (BrushSettings::default(), BrushSettings::default());
    opacity.pressure.opacity = Response::FULL;
    size.pressure.size = Response::FULL;
    for kind in kinds() {
        let mut live = easel.begin(kind, BrushSettings::default());
        for samples in still.chunks(10_000) {
            live.extend(samples).unwrap();
        }
        assert!(live.dabs() > 0);
        live.finish().unwrap();
        for brush in [&opacity, &size] {
            let mut live = easel.begin(kind, brush.clone());
            live.extend(&[sample(180.0, 0.0, 0.0), sample(220.0, 0.0, 0.1)]).unwrap();
            live.finish().unwrap();
        }
    }
}

#[test]
fn a_stroke_beside_the_model_is_none() {
    let easel = Easel::new();
    for kind in kinds() {
        let mut live = easel.begin(kind, BrushSettings::default());
        live.extend(&[sample(-300.0, 1.0, 0.0), sample(-200.0, 1.0, 0.1)]).unwrap();
        assert!(live.changed().unwrap().covered.tiles.is_empty());
        assert!(matches!(live.finish(), Err(BrushError::EmptyPath)));
    }
}
