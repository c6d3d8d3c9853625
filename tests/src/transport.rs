//! Strokes that move paint, measured against what geometry and the normal distribution say.

use brush::{
    Anchor, BrushSettings, CellPlanes, CloneFrom, Mixing, PathPoint, Stroke, StrokeKind,
    SurfacePath, transport_cells,
};
use glam::DVec3;
use raster::{Plane, Unobserved, from_unit, to_unit};
use surface::DecodedTile;

use crate::meshes::{halved_plane, sphere};
use crate::strokes::{Bench, stroke};

const SEAM: u32 = 64 + 128;
/// So far lies the right half from where it would join the left one, in texels.
const APART: u32 = 400;

/// A plane of 1 by 1, cut in the middle, 256 texels wide.
fn halves() -> Ground {
    Ground(Bench::new(halved_plane(1024.0, 256.0, f64::from(APART)), 1024))
}

struct Ground(Bench);

impl Ground {
    /// A plane whose value at each texel is that of the point that it shows.
    fn field(&self, value: impl Fn(DVec3) -> f64) -> Plane {
        let mut plane = Plane::uniform(self.0.map.size().extent(), 0);
        let mut decoded = DecodedTile::default();
        for at in self.0.map.tiles() {
            self.0.map.decode(&self.0.surface, at, &mut decoded);
            for texel in decoded.texels() {
                let index = texel.index;
                let stored = from_unit(value(decoded.point(&texel)) as f32);
                plane.write_tile(at).unwrap()[index as usize] = stored;
            }
        }
        plane
    }

    fn cells(&self, value: impl Fn(DVec3) -> f64, coverage: impl Fn(DVec3) -> f64) -> CellPlanes {
        CellPlanes {
            values: vec![self.field(value)],
            coverage: self.field(coverage),
            paint: Vec::new(),
            mixing: Mixing::Stored,
        }
    }

    fn line(&self, from: DVec3, to: DVec3, radius: f64) -> Vec<PathPoint> {
        let along = |n: i32| self.0.point(from.lerp(to, f64::from(n) / 20.0), radius);
        (0..=20).map(along).collect()
    }

    fn after(
        &self,
        kind: StrokeKind,
        brush: BrushSettings,
        points: Vec<PathPoint>,
        cell: &CellPlanes,
    ) -> CellPlanes {
        let path = brush::Path::Surface(SurfacePath { runs: vec![points], eye: None });
        let stroke = Stroke { kind, ..stroke(path, brush) };
        let mut cells = [cell.clone()];
        transport_cells(&stroke, &mut cells, (&self.0.surface, &self.0.map), None, &Unobserved)
            .unwrap();
        cells[0].clone()
    }
}

/// A clone that brings what lies 0.25 to the left, and as far towards the viewer as it should.
fn clone_kind(source: DVec3, start: DVec3) -> StrokeKind {
    let anchor = |position| Anchor { position, normal: DVec3::Y };
    StrokeKind::Clone(CloneFrom::Surface { source: anchor(source), start: anchor(start) })
}

fn kinds() -> [StrokeKind; 3] {
    let clone = clone_kind(DVec3::new(0.3, 0.0, 0.4), DVec3::new(0.4, 0.0, 0.5));
    [StrokeKind::Smudge { hold: 0.8 }, StrokeKind::Soften { reach: 0.5 }, clone]
}

#[test]
fn a_field_that_is_the_same_everywhere_stays_what_it_is() {
    let ground = halves();
    let cell = ground.cells(|_| 0.3337, |_| 0.77);
    // To and fro, so often that what is lost in rounding would add up to a step.
    let line = ground.line(DVec3::new(0.2, 0.0, 0.4), DVec3::new(0.8, 0.0, 0.6), 0.12);
    let back: Vec<PathPoint> = line.iter().rev().copied().collect();
    let points: Vec<PathPoint> = [line, back].concat().repeat(15);
    for kind in kinds() {
        for flow in [0.3, 1.0] {
            let brush = BrushSettings { flow, ..BrushSettings::default() };
            let after = ground.after(kind, brush, points.clone(), &cell);
            for (before, after) in
                [(&cell.values[0], &after.values[0]), (&cell.coverage, &after.coverage)]
            {
                for (x, y) in (0..1024).flat_map(|y| (0..1024).map(move |x| (x, y))) {
                    let (old, new) = (before.texel(x, y).unwrap(), after.texel(x, y).unwrap());
                    assert_eq!(old, new, "{kind:?} at {x}, {y}");
                }
            }
        }
    }
}

/// A smudge from the light half over the seam brings light into the dark one, and what both halves have of the
/// seam's surroundings stays one.
#[test]
fn a_smudge_goes_over_a_seam() {
    let ground = halves();
    let cell = ground.cells(|p| if p.x < 0.45 { 0.9 } else { 0.1 }, |_| 1.0);
    let points = ground.line(DVec3::new(0.35, 0.0, 0.5), DVec3::new(0.7, 0.0, 0.5), 0.1);
    let brush = BrushSettings { hardness: 0.3, ..BrushSettings::default() };
    let after = ground.after(StrokeKind::Smudge { hold: 0.9 }, brush, points, &cell);
    let at = |x: u32, y: u32| after.values[0].texel(x, y).unwrap();
    let brought = to_unit(at(SEAM + APART + 10, 64 + 128));
    assert!(brought > 0.3, "{brought} came over the seam");
    let padding = ground.0.map.padding();
    for y in 64..64 + 256 {
        for x in SEAM - padding..SEAM + padding {
            let (here, there) = (at(x, y), at(x + APART, y));
            assert!(here.abs_diff(there) <= 1, "{here} and {there} at {x}, {y}");
        }
    }
}

/// What is cloned is what lies at the source, in the field's own terms: a slope of 1 along x and of a half along z
/// is moved by the offset. Half a texel's slope is 0.003.
#[test]
fn a_clone_over_a_seam_is_the_field_moved_by_the_offset() {
    let ground = halves();
    let slope = |p: DVec3| 0.1 + 0.5 * p.x + 0.25 * p.z;
    let cell = ground.cells(slope, |_| 1.0);
    let (source, start) = (DVec3::new(0.3, 0.0, 0.4), DVec3::new(0.45, 0.0, 0.5));
    let points = ground.line(start, DVec3::new(0.6, 0.0, 0.5), 0.08);
    let brush = BrushSettings { hardness: 1.0, ..BrushSettings::default() };
    let after = ground.after(clone_kind(source, start), brush, points, &cell);
    let offset = source - start;
    let expected = ground.field(|p| slope(p + offset));
    let (mut worst, mut sides) = (0.0_f32, [0, 0]);
    let mut decoded = DecodedTile::default();
    for tile in ground.0.map.tiles() {
        ground.0.map.decode(&ground.0.surface, tile, &mut decoded);
        let (left, top) = tile.first_texel();
        for texel in decoded.texels() {
            let p = decoded.point(&texel);
            let inside = (0.45..0.6).contains(&p.x) && (p.z - 0.5).abs() < 0.06;
            if inside {
                let (x, y) =
                    (left + u32::from(texel.index) % 64, top + u32::from(texel.index) / 64);
                let got = to_unit(after.values[0].texel(x, y).unwrap());
                let wanted = to_unit(expected.texel(x, y).unwrap());
                worst = worst.max((got - wanted).abs());
                sides[usize::from(x > SEAM + 100)] += 1;
            }
        }
    }
    assert!(sides.iter().all(|count| *count > 200), "{sides:?}");
    assert!(worst < 0.003, "{worst} off");
}

#[test]
fn what_is_moved_stays_within_what_it_is_held_in() {
    let ground = halves();
    let cell = ground.cells(|p| if p.x < 0.5 { 0.2 } else { 0.8 }, |_| 1.0);
    let held = ground.field(|p| if p.z < 0.5 { 1.0 } else { 0.0 });
    let points = ground.line(DVec3::new(0.3, 0.0, 0.5), DVec3::new(0.7, 0.0, 0.5), 0.15);
    for kind in kinds() {
        let path = brush::Path::Surface(SurfacePath { runs: vec![points.clone()], eye: None });
        let stroke = Stroke { kind, ..stroke(path, BrushSettings::default()) };
        let mut cells = [cell.clone()];
        let on = (&ground.0.surface, &ground.0.map);
        transport_cells(&stroke, &mut cells, on, Some(&held), &Unobserved).unwrap();
        let mut changed = 0;
        for (x, y) in (0..1024).flat_map(|y| (0..1024).map(move |x| (x, y))) {
            let (old, new) =
                (cell.values[0].texel(x, y).unwrap(), cells[0].values[0].texel(x, y).unwrap());
            assert!(old == new || held.texel(x, y).unwrap() > 0, "{kind:?} at {x}, {y}");
            changed += usize::from(old != new);
        }
        assert!(changed > 500, "{kind:?}: {changed}");
    }
}

/// The normal distribution's share below d, W. J. Cody 1969, "Rational Chebyshev approximations for the error
/// function", as libm has it.
fn share_below(deviations: f64) -> f64 {
    0.5 * (1.0 + libm::erf(deviations / std::f64::consts::SQRT_2))
}

/// A step that is softened once is the normal distribution's integral, of half the reach as deviation.
#[test]
fn a_step_that_is_softened_is_the_normal_distributions_integral() {
    let ground = halves();
    let cell = ground.cells(|p| if p.x < 0.5 { 0.2 } else { 0.8 }, |_| 1.0);
    let (radius, reach) = (0.3, 0.3);
    let brush = BrushSettings { hardness: 1.0, ..BrushSettings::default() };
    let points = vec![ground.0.point(DVec3::new(0.5, 0.0, 0.5), radius)];
    let after = ground.after(StrokeKind::Soften { reach: reach as f32 }, brush, points, &cell);
    let deviation = radius * reach * 0.5;
    for texels in -25..25_i32 {
        let (across, y) = (f64::from(texels) + 0.5, 64 + 128);
        let x = SEAM.wrapping_add_signed(texels) + if texels < 0 { 0 } else { APART };
        let got = f64::from(to_unit(after.values[0].texel(x, y).unwrap()));
        let wanted = 0.2 + 0.6 * share_below(across / 256.0 / deviation);
        assert!((got - wanted).abs() < 0.02, "{got}, not {wanted}, {texels} texels from the step");
    }
}

/// Values without paint carry nothing: smudged into the bare, paint thins out and keeps its value.
#[test]
fn paint_that_is_smudged_into_the_bare_keeps_its_value() {
    let ground = Ground(Bench::new(sphere(24), 512));
    let painted = |p: DVec3| f64::from(p.x < 0.0);
    let cell = ground.cells(|p| if p.x < 0.0 { 0.6 } else { 0.05 }, painted);
    let points: Vec<PathPoint> = (0..=20)
        .map(|n| {
            let angle = f64::from(n - 10) * 0.06;
            ground.0.point(DVec3::new(angle.sin(), 0.0, angle.cos()), 0.25)
        })
        .collect();
    let kind = StrokeKind::Smudge { hold: 0.9 };
    let after = ground.after(kind, BrushSettings::default(), points, &cell);
    let (mut brought, mut decoded) = (0, DecodedTile::default());
    for tile in ground.0.map.tiles() {
        ground.0.map.decode(&ground.0.surface, tile, &mut decoded);
        let (left, top) = tile.first_texel();
        for texel in decoded.texels().filter(|texel| !texel.padding) {
            let (x, y) = (left + u32::from(texel.index) % 64, top + u32::from(texel.index) / 64);
            let coverage = after.coverage.texel(x, y).unwrap();
            if decoded.point(&texel).x > 0.02 && coverage > 600 {
                let value = to_unit(after.values[0].texel(x, y).unwrap());
                assert!((value - 0.6).abs() < 2e-3, "{value} at {x}, {y}");
                brought += 1;
            }
        }
    }
    assert!(brought > 100, "{brought} texels");
}
