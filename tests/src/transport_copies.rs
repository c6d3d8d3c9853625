//! Moved paint under pressure, a ceiling, hidden parts and symmetry.

use brush::{
    Anchor, BrushSettings, CellPlanes, CloneFrom, LeftOut, Mixing, Path, PathPoint, Response,
    Responses, Stroke, StrokeKind, SurfacePath, Symmetry, Tip, stroke_coverage, transport_cells,
};
use glam::DVec3;
use raster::{Plane, Unobserved, from_unit};
use surface::{DecodedTile, PartId};

use crate::meshes::{plane, two_sheets};
use crate::strokes::{Bench, stroke};

/// A plane whose value at each texel is that of the point that it shows.
fn field(bench: &Bench, value: impl Fn(DVec3) -> f64) -> CellPlanes {
    let extent = bench.map.size().extent();
    let mut plane = Plane::uniform(extent, 0);
    let mut decoded = DecodedTile::default();
    for at in bench.map.tiles() {
        bench.map.decode(&bench.surface, at, &mut decoded);
        for texel in decoded.texels() {
            let stored = from_unit(value(decoded.point(&texel)) as f32);
            plane.write_tile(at).unwrap()[texel.index as usize] = stored;
        }
    }
    let coverage = Plane::uniform(extent, u16::MAX);
    CellPlanes { values: vec![plane], coverage, paint: Vec::new(), mixing: Mixing::Stored }
}

fn moved(bench: &Bench, stroke: &Stroke, cell: &CellPlanes) -> Plane {
    let mut cells = [cell.clone()];
    let on = (&bench.surface, &bench.map);
    transport_cells(stroke, &mut cells, on, None, &Unobserved).unwrap();
    cells[0].values[0].clone()
}

fn along(points: Vec<PathPoint>, kind: StrokeKind, brush: BrushSettings) -> Stroke {
    let path = Path::Surface(SurfacePath { runs: vec![points], eye: None });
    Stroke { kind, ..stroke(path, brush) }
}

fn line(bench: &Bench, from: DVec3, to: DVec3, radius: f64) -> Vec<PathPoint> {
    let at = |n: i32| bench.point(from.lerp(to, f64::from(n) / 16.0), radius);
    (0..=16).map(at).collect()
}

fn clone_by(source: DVec3, start: DVec3) -> StrokeKind {
    let anchor = |position| Anchor { position, normal: DVec3::Y };
    StrokeKind::Clone(CloneFrom::Surface { source: anchor(source), start: anchor(start) })
}

fn all_texels(edge: u32) -> impl Iterator<Item = (u32, u32)> {
    (0..edge).flat_map(move |y| (0..edge).map(move |x| (x, y)))
}

/// A stroke that begins without pressure copies as sharply as one that doesn't: bars of 4 texels come over as they are.
#[test]
fn a_clone_that_begins_lightly_is_sharp() {
    let bench = Bench::new(plane(0.75), 512);
    let bars = |p: DVec3| if (p.x * 64.0).rem_euclid(2.0) < 1.0 { 0.2 } else { 0.8 };
    let cell = field(&bench, bars);
    let (source, start) = (DVec3::new(0.3125, 0.0, 0.35), DVec3::new(0.3125, 0.0, 0.6));
    let mut points = line(&bench, start, DVec3::new(0.6, 0.0, 0.6), 0.1);
    points.iter_mut().zip([0.0, 0.5]).for_each(|(point, pressure)| point.pressure = pressure);
    let size = Response { at_zero: 0.0, ..Response::NONE };
    let pressure = Responses { size, ..Responses::NONE };
    let brush = BrushSettings { hardness: 1.0, pressure, ..BrushSettings::default() };
    let after = moved(&bench, &along(points, clone_by(source, start), brush), &cell);
    let (mut wrong, mut count) = (0, 0);
    for (x, y) in all_texels(512) {
        let (u, v) = (f64::from(x) / 512.0, f64::from(y) / 512.0);
        if (0.45..0.55).contains(&u) && (v - 0.575).abs() < 0.04 {
            let (now, then) = (after.texel(x, y).unwrap(), cell.values[0].texel(x, y).unwrap());
            wrong += usize::from(now.abs_diff(then) > 8_000);
            count += 1;
        }
    }
    assert!(count > 1_000 && wrong * 20 < count, "{wrong} of {count}");
}

/// However often a clone stroke crosses itself, it covers no more than its opacity says.
#[test]
fn a_clone_is_held_to_its_opacity() {
    let bench = Bench::new(plane(0.75), 256);
    let cell = field(&bench, |p| if p.z < 0.5 { 1.0 } else { 0.0 });
    let (source, start) = (DVec3::new(0.5, 0.0, 0.25), DVec3::new(0.5, 0.0, 0.7));
    let to_and_fro: Vec<PathPoint> = (0..6)
        .flat_map(|_| {
            let there = line(&bench, start, DVec3::new(0.55, 0.0, 0.7), 0.08);
            let back = there.iter().rev().copied().collect::<Vec<_>>();
            [there, back].concat()
        })
        .collect();
    let brush = BrushSettings { opacity: 0.4, flow: 1.0, ..BrushSettings::default() };
    let after = moved(&bench, &along(to_and_fro, clone_by(source, start), brush), &cell);
    let most =
        all_texels(256).filter(|(_, y)| *y > 160).map(|(x, y)| after.texel(x, y).unwrap()).max();
    let most = f64::from(most.unwrap()) / 65_535.0;
    assert!((most - 0.4).abs() < 2.0 / 65_535.0, "{most}");
}

/// Of two sheets, one behind the other in one tile, that in front alone is copied; hidden, it is not even looked at.
#[test]
fn a_clone_takes_neither_what_lies_behind_nor_what_is_hidden() {
    let bench = Bench::new(two_sheets(1.0), 512);
    // The upper sheet is light, the lower one dark.
    let cell = field(&bench, |p| if p.y > 0.5 { 0.9 } else { 0.3 });
    let (source, start) = (DVec3::new(0.3, 1.0, 0.5), DVec3::new(0.7, 1.0, 0.5));
    let points = vec![bench.point(start, 0.25)];
    let brush = BrushSettings { hardness: 1.0, ..BrushSettings::default() };
    let plain = along(points, clone_by(source, start), brush);
    let after = moved(&bench, &plain, &cell);
    for (x, y) in all_texels(512) {
        let (now, then) = (after.texel(x, y).unwrap(), cell.values[0].texel(x, y).unwrap());
        assert!(now.abs_diff(then) <= 1, "{now} for {then} at {x}, {y}");
    }
    // From the lower sheet onto the upper one; then with the lower one hidden.
    let below = DVec3::new(0.3, 0.0, 0.5);
    let dark = Stroke { kind: clone_by(below, start), ..plain };
    let changed = |stroke: &Stroke| {
        let after = moved(&bench, stroke, &cell);
        let differs = |(x, y): &(u32, u32)| after.texel(*x, *y) != cell.values[0].texel(*x, *y);
        all_texels(512).filter(differs).count()
    };
    assert!(changed(&dark) > 100);
    let hidden = Stroke { left_out: LeftOut::new([PartId(0)], []), ..dark };
    assert_eq!(changed(&hidden), 0);
}

/// The layout of [`plane`] is its own mirror image about x = 0.5: texel x shows what 511 - x does.
fn assert_mirrored(texel: impl Fn(u32, u32) -> u16, name: &str, most: u16) -> usize {
    let mut painted = 0;
    for (x, y) in all_texels(512) {
        let (here, there) = (texel(x, y), texel(511 - x, y));
        assert!(here.abs_diff(there) <= most, "{name}: {here} and {there} at {x}, {y}");
        painted += usize::from(here > 0);
    }
    painted
}

fn mirrored() -> Symmetry {
    let centre = DVec3::new(0.5, 0.0, 0.0);
    Symmetry { centre, mirrors: [true, false, false], turns: None }
}

/// Paint that is the same on both sides stays so, whatever moves it.
#[test]
fn moved_paint_is_its_own_mirror_image() {
    let bench = Bench::new(plane(0.75), 512);
    let cell = field(&bench, |p| {
        let away = (p.x - 0.5).abs();
        (0.5 + 0.3 * (30.0 * away).sin() + 0.15 * (40.0 * p.z).sin()).clamp(0.0, 1.0)
    });
    // A texel that lies on the border of two cells by a hair may fall into either: a thousandth, in what is copied.
    let from = DVec3::new(0.251_37, 0.0, 0.402_91);
    let points = line(&bench, from, DVec3::new(0.463_11, 0.0, 0.623_7), 0.0917);
    let clone = clone_by(DVec3::new(0.303_3, 0.0, 0.701_9), from);
    for kind in [StrokeKind::Smudge { hold: 0.8 }, StrokeKind::Soften { reach: 0.4 }, clone] {
        let plain = along(points.clone(), kind, BrushSettings::default());
        let after = moved(&bench, &Stroke { symmetry: Some(mirrored()), ..plain.clone() }, &cell);
        let most = if matches!(kind, StrokeKind::Clone(_)) { 65 } else { 1 };
        assert_mirrored(|x, y| after.texel(x, y).unwrap(), &format!("{kind:?}"), most);
        let differs = |(x, y): &(u32, u32)| after.texel(*x, *y) != cell.values[0].texel(*x, *y);
        assert!(all_texels(512).filter(differs).count() > 5_000, "{kind:?}");
    }
}

/// Corners of an image reach further than its radius: near the plane they meet, and neither covers twice.
#[test]
fn images_that_meet_on_the_plane_by_their_corners_are_not_doubled() {
    let bench = Bench::new(plane(0.75), 512);
    let white = brush::GreyImage::new(raster::Extent { width: 4, height: 4 }, vec![u16::MAX; 16]);
    let turn = std::f32::consts::FRAC_PI_4;
    let tip = Tip { image: Some(white.unwrap()), turn, ..Tip::ROUND };
    let brush = BrushSettings { tip, flow: 0.5, ..BrushSettings::default() };
    let radius = 0.1;
    for beside in [0.9, 1.15, 1.25, 1.35] {
        let at = bench.point(DVec3::new(0.5 - beside * radius, 0.0, 0.5), radius);
        let path = Path::Surface(SurfacePath { runs: vec![vec![at]], eye: None });
        let plain = Stroke { symmetry: Some(mirrored()), ..stroke(path, brush.clone()) };
        let covered = stroke_coverage(&plain, &bench.surface, &bench.map, &Unobserved).unwrap();
        let texel = |x, y| covered.texel(x, y).unwrap();
        assert!(assert_mirrored(texel, "image", 1) > 2_000);
        let most = all_texels(512).map(|(x, y)| texel(x, y)).max().unwrap();
        let once = from_unit(BrushSettings::flow_at_spacing(0.5, 0.1) as f32);
        assert!(most <= once + 1, "{most} where one dab leaves {once}, at {beside} radii");
    }
}
