//! Parts that a stroke leaves out: what is hidden is as if it were not there, what is locked shields.

use std::sync::Arc;

use brush::{
    BrushSettings, BrushSize, Camera, Coverage, FillScope, FlatCamera, LeftOut, LiveStroke,
    PenSample, Projection, Smoothing, StrokeBuffers, StrokeKind, StrokeStart, StrokeView,
    fill_coverage,
};
use glam::{DVec2, DVec3};
use raster::{TextureSize, Unobserved};
use surface::{DecodedTiles, MaterialSlot, PartId, Surface, TexelMap};

use crate::meshes::Builder;

const TABLE: PartId = PartId(0);
const LID: PartId = PartId(1);

/// A table, and half a unit above its left half a lid, each with half of one texture.
fn table() -> Arc<DecodedTiles> {
    let mut builder = Builder::default();
    builder.part("table");
    let uv = |left: f64| move |s: f64, t: f64| DVec2::new(left + 0.4 * s, 0.1 + 0.8 * t);
    builder.grid(4, |s, t| DVec3::new(s, 0.0, t), uv(0.05));
    builder.part("lid");
    builder.grid(4, |s, t| DVec3::new(0.5 * s, 0.5, t), uv(0.55));
    let surface = Arc::new(Surface::prepare(builder.mesh_upwards(), &Unobserved).unwrap());
    let size = TextureSize::new(256).unwrap();
    let map = Arc::new(TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved).unwrap());
    Arc::new(DecodedTiles::new(surface, map, 1 << 28))
}

/// From right above, all of the table in view.
fn from_above() -> StrokeView {
    let camera = Camera {
        eye: DVec3::new(0.5, 9.0, 0.5),
        target: DVec3::new(0.5, 0.0, 0.5),
        up: DVec3::NEG_Z,
        projection: Projection::Orthographic { height: 1.2 },
        viewport_px: DVec2::splat(240.0),
    };
    StrokeView::Model { camera, size: BrushSize::Object(0.1) }
}

/// A stroke from the left edge of the screen to the right, and what it gives.
fn drawn(view: StrokeView, left_out: &LeftOut) -> Option<(brush::Stroke, Coverage)> {
    let tiles = table();
    let (smoothing, brush) = (Smoothing::Off, BrushSettings::default());
    let start = StrokeStart {
        view,
        smoothing,
        kind: StrokeKind::Deposit,
        brush,
        seed: 0,
        left_out: left_out.clone(),
        symmetry: None,
        stencil: None,
    };
    let mut live = LiveStroke::begin(&start, tiles, StrokeBuffers::default()).unwrap();
    for number in 0..24 {
        let at = DVec2::new(10.0 * f64::from(number), 120.0);
        live.extend(&[PenSample::mouse(at, f64::from(number) / 60.0)]).unwrap();
        live.changed().unwrap();
    }
    let finished = live.finish().ok()?;
    Some((finished.stroke, finished.coverage))
}

/// How many texels of the table's left half, its right half and the lid are covered by more than half.
fn counted(coverage: &Coverage) -> [usize; 3] {
    let tiles = table();
    let mut counts = [0; 3];
    for y in 0..256 {
        for x in 0..256 {
            let Some(owner) = tiles.map().owner(x, y) else { continue };
            let on = match tiles.surface().part_of(owner) {
                LID => 2,
                _ => usize::from(f64::from(x) > 256.0 * 0.25),
            };
            counts[on] += usize::from(coverage.texel(x, y).unwrap() > 32_768);
        }
    }
    counts
}

#[test]
fn a_stroke_goes_through_a_hidden_part_and_paints_what_is_behind() {
    let (_, all) = drawn(from_above(), &LeftOut::default()).unwrap();
    let [left, right, lid] = counted(&all);
    assert!(left < 100 && right > 500 && lid > 1000, "{left} {right} {lid}");
    let (stroke, through) = drawn(from_above(), &LeftOut::new([LID], [])).unwrap();
    let [left, right, lid] = counted(&through);
    assert!(left > 500 && right > 500 && lid == 0, "{left} {right} {lid}");
    let brush::Path::Surface(path) = stroke.path else { panic!("on the surface") };
    assert!(path.runs.concat().iter().all(|point| point.part == TABLE));
}

#[test]
fn a_locked_part_takes_no_paint_and_shields_what_is_behind() {
    let (_, all) = drawn(from_above(), &LeftOut::default()).unwrap();
    let (stroke, shielded) = drawn(from_above(), &LeftOut::new([], [LID])).unwrap();
    let [left, right, lid] = counted(&shielded);
    assert_eq!([left, right], counted(&all)[..2]);
    assert_eq!(lid, 0);
    let brush::Path::Surface(path) = stroke.path else { panic!("on the surface") };
    assert!(path.runs.concat().iter().any(|point| point.part == LID));
}

#[test]
fn where_every_part_is_hidden_the_pen_meets_nothing() {
    assert!(drawn(from_above(), &LeftOut::new([TABLE, LID], [])).is_none());
    let (_, nothing) = drawn(from_above(), &LeftOut::new([], [TABLE, LID])).unwrap();
    assert!(nothing.tiles.is_empty());
}

#[test]
fn the_flat_view_leaves_out_the_same_parts() {
    let camera = FlatCamera { top_left: DVec2::ZERO, uv_per_px: 1.0 / 240.0 };
    let flat = StrokeView::Flat { camera, radius: 0.08 };
    let (_, all) = drawn(flat, &LeftOut::default()).unwrap();
    let [left, right, lid] = counted(&all);
    assert!(left > 500 && right > 500 && lid > 500, "{left} {right} {lid}");
    for left_out in [LeftOut::new([LID], []), LeftOut::new([], [LID])] {
        let (_, without) = drawn(flat, &left_out).unwrap();
        assert_eq!(counted(&without), [left, right, 0]);
    }
}

#[test]
fn fills_leave_out_the_same_parts() {
    let tiles = table();
    let (surface, map) = (tiles.surface(), tiles.map());
    let triangle = |part: PartId| {
        let ids = (0..surface.triangle_count() as u32).map(surface::TriangleId);
        ids.into_iter().find(|id| surface.part_of(*id) == part).unwrap()
    };
    let filled = |scope, left_out: &LeftOut| {
        counted(&fill_coverage(&scope, (1.0, None), left_out, surface, map, &Unobserved).unwrap())
    };
    let none = LeftOut::default();
    let [left, right, lid] = filled(FillScope::Material, &none);
    assert!(left > 1000 && right > 1000 && lid > 1000, "{left} {right} {lid}");
    for left_out in [LeftOut::new([LID], []), LeftOut::new([], [LID])] {
        assert_eq!(filled(FillScope::Material, &left_out), [left, right, 0]);
        assert_eq!(filled(FillScope::Part(LID), &left_out), [0; 3]);
        assert_eq!(filled(FillScope::Island(triangle(LID)), &left_out), [0; 3]);
        assert_eq!(filled(FillScope::Part(TABLE), &left_out), [left, right, 0]);
    }
}
