//! Dabs at even arc length along a path.

use std::f64::consts::{PI, TAU};

use glam::{DVec2, DVec3};
use surface::{PartId, Surface, TexelMap, TriangleId};

use crate::tip::Ways;
use crate::tooth::{hash3, unit};
use crate::trace::Further;
use crate::{
    BrushError, BrushSettings, CopyOf, Image, Jitter, Lies, PathPoint, Response, Responses,
    SurfacePath, Symmetry, TexturePoint, Tip,
};

/// More dabs than this in one stroke, with all copies, are refused.
const MOST_DABS: u64 = 1_000_000;
/// The smallest radius that pressure can leave, as a share of the full one: spacing follows the radius,
/// and a radius of 0 would never get anywhere.
const SMALLEST_RADIUS: f64 = 0.02;

/// What every dab has, wherever it lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Touch {
    /// Radius, in the path's units.
    pub radius: f64,
    /// What it adds, as a share of what is missing to its ceiling, 0..1.
    pub flow: f32,
    /// The coverage that it tends to, before the stroke's opacity, 0..1.
    pub ceiling: f32,
    /// How what it paints differs from the stroke's own value, -1..1: in hue (1 is half a turn), in a colour's value,
    /// in a scalar.
    pub shades: [f32; 3],
}

/// One stamp on the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dab {
    /// Centre, in model units.
    pub centre: DVec3,
    /// Where the brush looks from, unit length.
    pub normal: DVec3,
    /// 1, or -1 where the path ran over the back of the triangles.
    pub side: f32,
    /// The part under its centre.
    pub part: PartId,
    /// The triangles of the path points before and behind it.
    pub triangles: [TriangleId; 2],
    /// Size and strength.
    pub touch: Touch,
    /// The tip's long axis, of unit length and across the normal. 0 where it does not matter how it lies.
    pub long: DVec3,
    /// True where the tip is turned over, as in a mirror.
    pub mirrored: bool,
    /// True for the first of a run.
    pub begins: bool,
    /// Which of its copies it is.
    pub copy: CopyOf,
}

/// One stamp on the flat texture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TextureDab {
    /// Centre, in UV units.
    pub centre: DVec2,
    /// Size and strength; the radius is in UV units.
    pub touch: Touch,
    /// As [`Dab::long`].
    pub long: DVec2,
    /// As [`Dab::begins`].
    pub begins: bool,
}

/// The dabs of a stroke over the surface. Path points on a stacked island are taken to the island that
/// owns its texels.
///
/// # Errors
/// [`BrushError::TooManyDabs`].
pub fn dabs(
    path: &SurfacePath,
    brush: &BrushSettings,
    (seed, symmetry): (u64, Option<&Symmetry>),
    (surface, map): (&Surface, &TexelMap),
) -> Result<Vec<Dab>, BrushError> {
    let images = symmetry.map_or_else(Vec::new, Symmetry::copies);
    all_dabs(&path.runs, brush, seed, &OnSurface { surface, map, images: &images })
}

/// The dabs of a stroke over the flat texture.
///
/// # Errors
/// [`BrushError::TooManyDabs`].
pub fn texture_dabs(
    runs: &[Vec<TexturePoint>],
    brush: &BrushSettings,
    seed: u64,
) -> Result<Vec<TextureDab>, BrushError> {
    all_dabs(runs, brush, seed, &OnTexture)
}

fn all_dabs<G: Ground>(
    runs: &[Vec<G::Point>],
    brush: &BrushSettings,
    seed: u64,
    ground: &G,
) -> Result<Vec<G::Dab>, BrushError> {
    let mut placed = Vec::new();
    let mut placer = Placer::new(seed);
    for run in runs {
        let mut further = Further::Begin as fn(G::Point) -> Further<G::Point>;
        for point in run {
            placer.place(further(*point), brush, ground, &mut placed)?;
            further = Further::Extend;
        }
    }
    placer.end(brush, ground, &mut placed);
    Ok(placed)
}

/// What dabs lie on.
pub(crate) trait Ground {
    /// A point of a path.
    type Point: PathStep;
    /// One stamp.
    type Dab;

    /// The point where dabs are placed for a point of the path.
    fn primary(&self, point: Self::Point) -> Self::Point;

    /// The dab a share of the way from `a` to `b`.
    fn dab(&self, a: &Self::Point, b: &Self::Point, at: &Placed<'_>) -> Self::Dab;

    /// How often each dab is there, itself counted.
    fn copies(&self) -> u64;

    /// Adds a dab with its copies.
    fn lay(&self, dab: Self::Dab, placed: &mut Vec<Self::Dab>);
}

/// Where a dab is, and how large and strong.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Placed<'a> {
    /// The share of the way between two points, 0..1.
    t: f64,
    /// How far beside the path, in its units, across the normal.
    beside: DVec2,
    touch: Touch,
    brush: &'a BrushSettings,
    /// A random number of 0..1, for the way that the tip lies.
    chance: f64,
    /// How far the tip is turned beside what it says, in radians.
    turn: f64,
    /// True for the first of a run.
    begins: bool,
}

impl Placed<'_> {
    /// Size and long axis of the dab: where an oval does not know how to lie, as nothing says where the stroke
    /// goes, it is a disc as wide as it is short; others lie along the axis then.
    fn laid<V: Default>(&self, ways: Ways, lay: impl Fn(&Tip, &Ways) -> Option<V>) -> (Touch, V) {
        let tip = &self.brush.tip;
        if !self.brush.lies_some_way() {
            return (self.touch, V::default());
        }
        let ways = Ways { chance: self.chance, turn: self.turn, ..ways };
        if let Some(long) = lay(tip, &ways) {
            return (self.touch, long);
        }
        if tip.image.is_none() && !tip.is_round() {
            let radius = self.touch.radius * f64::from(tip.aspect);
            return (Touch { radius, ..self.touch }, V::default());
        }
        let long = lay(&Tip { lies: Lies::Axis, ..tip.clone() }, &ways);
        (self.touch, long.unwrap_or_default())
    }
}

/// The surface, by way of the texels that show it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OnSurface<'a> {
    pub(crate) surface: &'a Surface,
    pub(crate) map: &'a TexelMap,
    /// Every copy of the stroke, itself first; empty where it has none.
    pub(crate) images: &'a [Image],
}

impl OnSurface<'_> {
    /// The image of a dab. It lies where its centre falls, also where the surface there is a little off; none where
    /// it would not reach any.
    fn image(&self, dab: &Dab, (number, image): (usize, &Image)) -> Option<Dab> {
        let (centre, normal) = (image.point(dab.centre), image.direction(dab.normal));
        let on = self.surface.nearest(centre)?;
        let on = self.map.primary_point(self.surface, &on);
        let found = self.surface.position(on.triangle, on.barycentric);
        if found.distance(centre) > dab.touch.radius {
            return None;
        }
        let faces = self.surface.smooth_normal(on.triangle, on.barycentric).dot(normal) >= 0.0;
        Some(Dab {
            centre,
            normal,
            side: if faces { 1.0 } else { -1.0 },
            part: self.surface.part_of(on.triangle),
            triangles: [on.triangle; 2],
            long: image.direction(dab.long),
            mirrored: dab.mirrored != image.is_mirror(),
            copy: CopyOf { image: number as u8, ..CopyOf::ONLY },
            ..*dab
        })
    }
}

impl Ground for OnSurface<'_> {
    type Point = PathPoint;
    type Dab = Dab;

    fn copies(&self) -> u64 {
        self.images.len().max(1) as u64
    }

    fn primary(&self, point: PathPoint) -> PathPoint {
        primary(point, self.surface, self.map)
    }

    fn dab(&self, a: &PathPoint, b: &PathPoint, at: &Placed<'_>) -> Dab {
        let Placed { t, beside, .. } = *at;
        let (from, to) = (a.normal.as_dvec3(), b.normal.as_dvec3());
        let nearer = if t < 0.5 { a } else { b };
        let normal = from.lerp(to, t).normalize_or(from);
        let mut centre = a.position.as_dvec3().lerp(b.position.as_dvec3(), t);
        if beside != DVec2::ZERO {
            let (x, y) = normal.any_orthonormal_pair();
            centre += x * beside.x + y * beside.y;
        }
        let part = self.surface.mesh().parts().get(nearer.part.0 as usize);
        let axis = part.map_or(DVec3::Y, |part| part.axis.as_dvec3());
        let along = (b.position - a.position).as_dvec3();
        let lean = a.lean.as_dvec3().lerp(b.lean.as_dvec3(), t);
        let ways = Ways { axis, along, lean, chance: 0.0, turn: 0.0 };
        let (touch, long) = at.laid(ways, |tip, ways| tip.long_axis(normal, ways));
        Dab {
            centre,
            normal,
            side: side(nearer, self.surface),
            part: nearer.part,
            triangles: [a.triangle, b.triangle],
            touch,
            long,
            mirrored: false,
            begins: at.begins,
            copy: CopyOf::ONLY,
        }
    }

    fn lay(&self, dab: Dab, placed: &mut Vec<Dab>) {
        let first = placed.len();
        placed.push(dab);
        for image in self.images.iter().enumerate().skip(1) {
            placed.extend(self.image(&dab, image));
        }
        let copies = &mut placed[first..];
        let of = copies.len() as u8;
        for (place, dab) in (0..).zip(copies) {
            dab.copy = CopyOf { place, of, ..dab.copy };
        }
    }
}

/// The flat texture.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OnTexture;

impl Ground for OnTexture {
    type Point = TexturePoint;
    type Dab = TextureDab;

    fn copies(&self) -> u64 {
        1
    }

    fn primary(&self, point: TexturePoint) -> TexturePoint {
        point
    }

    fn dab(&self, a: &TexturePoint, b: &TexturePoint, at: &Placed<'_>) -> TextureDab {
        let centre = a.uv.as_dvec2().lerp(b.uv.as_dvec2(), at.t) + at.beside;
        let along = (b.uv - a.uv).as_dvec2();
        let lean = a.lean.as_dvec2().lerp(b.lean.as_dvec2(), at.t).extend(0.0);
        let (axis, along) = (DVec3::NEG_Y, along.extend(0.0));
        let ways = Ways { axis, along, lean, chance: 0.0, turn: 0.0 };
        let (touch, long) = at.laid(ways, Tip::long_axis_on_texture);
        TextureDab { centre, touch, long, begins: at.begins }
    }

    fn lay(&self, dab: TextureDab, placed: &mut Vec<TextureDab>) {
        placed.push(dab);
    }
}

/// What spacing and responses need to know of a point of a path.
pub(crate) trait PathStep: Copy {
    fn distance(&self, other: &Self) -> f64;
    fn radius(&self) -> f64;
    fn pen(&self) -> PenState;
}

/// What the pen tells at a place.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PenState {
    pressure: f64,
    tilt: f64,
    speed: f64,
}

impl PathStep for PathPoint {
    fn distance(&self, other: &Self) -> f64 {
        self.position.as_dvec3().distance(other.position.as_dvec3())
    }

    fn radius(&self) -> f64 {
        f64::from(self.radius)
    }

    fn pen(&self) -> PenState {
        let tilt = f64::from(self.lean.length().min(1.0));
        PenState { pressure: f64::from(self.pressure), tilt, speed: f64::from(self.speed) }
    }
}

impl PathStep for TexturePoint {
    fn distance(&self, other: &Self) -> f64 {
        self.uv.as_dvec2().distance(other.uv.as_dvec2())
    }

    fn radius(&self) -> f64 {
        f64::from(self.radius)
    }

    fn pen(&self) -> PenState {
        let tilt = f64::from(self.lean.length().min(1.0));
        PenState { pressure: f64::from(self.pressure), tilt, speed: f64::from(self.speed) }
    }
}

/// Walks along runs and places dabs: one at a run's start, then one each time the spacing is used up. What
/// is left of the spacing is carried over from point to point. A tip that lies along the stroke waits at a run's
/// start until it is known where the stroke goes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Placer<P> {
    last: Option<P>,
    /// The dab at the last point waits.
    waits: bool,
    /// From the last point to the next dab.
    missing: f64,
    count: u64,
    seed: u64,
}

impl<P: PathStep> Placer<P> {
    /// Nothing is placed yet. What differs from dab to dab depends on the seed.
    pub(crate) fn new(seed: u64) -> Self {
        Self { last: None, waits: false, missing: 0.0, count: 0, seed }
    }

    /// Places the dabs that the next point of the path brings.
    pub(crate) fn place<G: Ground<Point = P>>(
        &mut self,
        further: Further<P>,
        brush: &BrushSettings,
        ground: &G,
        placed: &mut Vec<G::Dab>,
    ) -> Result<(), BrushError> {
        let (a, b) = match (further, self.last) {
            (Further::Extend(b), Some(a)) => (a, ground.primary(b)),
            (Further::Begin(first) | Further::Extend(first), _) => {
                self.end(brush, ground, placed);
                let first = ground.primary(first);
                (self.last, self.missing, self.waits) = (Some(first), 0.0, true);
                if brush.tip.lies != Lies::Stroke || !brush.lies_some_way() {
                    self.end(brush, ground, placed);
                }
                return Ok(());
            }
        };
        let length = a.distance(&b);
        let mut begins = self.waits && length > 0.0;
        self.waits &= length == 0.0;
        let mut walked = self.missing;
        while walked <= length && length > 0.0 {
            let t = walked / length;
            let (at, step) = self.placed(&a, &b, t, brush);
            let at = Placed { begins: std::mem::take(&mut begins), ..at };
            ground.lay(ground.dab(&a, &b, &at), placed);
            self.count += 1;
            let dabs = self.count.saturating_add(((length - walked) / step) as u64);
            let dabs = dabs.saturating_mul(ground.copies());
            if dabs > MOST_DABS {
                return Err(BrushError::TooManyDabs { dabs, most: MOST_DABS });
            }
            walked += step;
        }
        (self.last, self.missing) = (Some(b), walked - length);
        Ok(())
    }

    /// The path goes no further for now: places the dab that waits.
    pub(crate) fn end<G: Ground<Point = P>>(
        &mut self,
        brush: &BrushSettings,
        ground: &G,
        placed: &mut Vec<G::Dab>,
    ) {
        if let Some(at) = self.last.filter(|_| self.waits) {
            let (lone, step) = self.placed(&at, &at, 0.0, brush);
            let lone = Placed { begins: true, ..lone };
            ground.lay(ground.dab(&at, &at, &lone), placed);
            self.count += 1;
            (self.missing, self.waits) = (step, false);
        }
    }

    /// The next dab between two points, and the distance to the one after it, which chance does not change.
    fn placed<'b>(&self, a: &P, b: &P, t: f64, brush: &'b BrushSettings) -> (Placed<'b>, f64) {
        let pen = mixed(a.pen(), b.pen(), t);
        let (mut touch, step) = touch_at(a.radius() + (b.radius() - a.radius()) * t, &pen, brush);
        let (mut beside, mut lie, mut turn) = (DVec2::ZERO, 0.0, 0.0);
        if !brush.is_plain() {
            let chance = Chance::of(self.seed, self.count);
            let scatter = follows(&pen, brush, |all| all.scatter);
            beside = chance.beside(&brush.jitter, 2.0 * touch.radius * scatter);
            chance.change(&mut touch, &brush.jitter);
            lie = f64::from(chance.0[4]);
            turn = chance.turn(&brush.jitter) + turned_by(&pen, brush);
            if brush.jitter.shades() {
                let tones = follows(&pen, brush, |all| all.tones) as f32;
                touch.shades = chance.shades(&brush.jitter).map(|off| off * tones);
            }
        }
        // So that a thin tip leaves no gaps when it is drawn across.
        let step = step * brush.tip.narrowness();
        (Placed { t, beside, touch, brush, chance: lie, turn, begins: false }, step)
    }
}

fn mixed(a: PenState, b: PenState, t: f64) -> PenState {
    PenState {
        pressure: a.pressure + (b.pressure - a.pressure) * t,
        tilt: a.tilt + (b.tilt - a.tilt) * t,
        speed: a.speed + (b.speed - a.speed) * t,
    }
}

/// Random numbers of 0..1 that belong to one dab.
struct Chance([f32; 6]);

impl Chance {
    fn of(seed: u64, dab: u64) -> Self {
        let (low, high) = (seed as u32, (seed >> 32) as u32);
        let of_dab = [low, high ^ (dab >> 32) as u32, dab as u32];
        let [a, b, c] = hash3(of_dab);
        let [d, e, f] = hash3([c, low, dab as u32 ^ 0x9E37_79B9]);
        Self([a, b, c, d, e, f].map(unit))
    }

    fn change(&self, touch: &mut Touch, jitter: &Jitter) {
        touch.radius *= f64::from(1.0 - jitter.size * self.0[0]).max(SMALLEST_RADIUS);
        touch.ceiling *= 1.0 - jitter.opacity * self.0[1];
    }

    /// To either side, in radians.
    fn turn(&self, jitter: &Jitter) -> f64 {
        TAU * f64::from(jitter.angle) * (f64::from(self.0[5]) - 0.5)
    }

    /// To either side.
    fn shades(&self, jitter: &Jitter) -> [f32; 3] {
        let [a, b, c, ..] = self.0.map(f32::to_bits);
        let [a, b, c] = hash3([a, b, c]).map(|number| 2.0 * unit(number) - 1.0);
        [jitter.hue / 180.0 * a, jitter.shade * b, jitter.value * c]
    }

    /// Evenly over a disc.
    fn beside(&self, jitter: &Jitter, diameter: f64) -> DVec2 {
        let away = f64::from(jitter.position) * diameter * f64::from(self.0[2]).sqrt();
        let (sin, cos) = libm::sincos(TAU * f64::from(self.0[3]));
        DVec2::new(cos, sin) * away
    }
}

/// The factor that all that the pen tells makes of something.
fn follows(pen: &PenState, brush: &BrushSettings, of: fn(&Responses) -> Response) -> f64 {
    let (pressed, tilted) = (of(&brush.pressure).at(pen.pressure), of(&brush.tilt).at(pen.tilt));
    pressed * tilted * of(&brush.speed).at(pen.speed)
}

/// Size and strength for a radius before all responses, and the distance to the next dab.
fn touch_at(full: f64, pen: &PenState, brush: &BrushSettings) -> (Touch, f64) {
    let by = |of| follows(pen, brush, of);
    let radius = full * by(|all| all.size).max(SMALLEST_RADIUS);
    let spacing = brush.apart();
    let flow = f64::from(brush.flow) * by(|all| all.flow);
    let touch = Touch {
        radius,
        flow: BrushSettings::flow_at_spacing(flow, spacing) as f32,
        ceiling: by(|all| all.opacity) as f32,
        shades: [0.0; 3],
    };
    (touch, spacing * 2.0 * radius)
}

/// By how much the tip is turned, in radians.
fn turned_by(pen: &PenState, brush: &BrushSettings) -> f64 {
    let pressed = 1.0 - brush.pressure.angle.at(pen.pressure);
    let tilted = 1.0 - brush.tilt.angle.at(pen.tilt);
    PI * (pressed + tilted + 1.0 - brush.speed.angle.at(pen.speed))
}

fn side(point: &PathPoint, surface: &Surface) -> f32 {
    let normal = surface.smooth_normal(point.triangle, point.barycentric.map(f64::from));
    if normal.dot(point.normal.as_dvec3()) < 0.0 { -1.0 } else { 1.0 }
}

fn primary(point: PathPoint, surface: &Surface, map: &TexelMap) -> PathPoint {
    let here = surface::SurfacePoint {
        triangle: point.triangle,
        barycentric: point.barycentric.map(f64::from),
    };
    let owner = map.primary_point(surface, &here);
    if owner.triangle == point.triangle {
        return point;
    }
    PathPoint {
        part: surface.part_of(owner.triangle),
        triangle: owner.triangle,
        barycentric: owner.barycentric.map(|b| b as f32),
        position: surface.position(owner.triangle, owner.barycentric).as_vec3(),
        normal: surface.smooth_normal(owner.triangle, owner.barycentric).as_vec3(),
        ..point
    }
}

#[cfg(test)]
mod tests {
    use glam::Vec2;

    use super::*;

    fn line(length: f32, pieces: usize) -> Vec<TexturePoint> {
        (0..=pieces)
            .map(|index| TexturePoint {
                uv: Vec2::new(length * index as f32 / pieces as f32, 0.5),
                radius: 0.05,
                pressure: 1.0,
                lean: Vec2::ZERO,
                speed: 0.0,
            })
            .collect()
    }

    #[test]
    fn dabs_lie_at_even_arc_length_whatever_the_points() {
        let brush = BrushSettings { spacing: 0.25, ..BrushSettings::default() };
        for pieces in [1, 3, 7, 50] {
            let placed = texture_dabs(&[line(0.51, pieces)], &brush, 1).unwrap();
            assert_eq!(placed.len(), 21, "{pieces} pieces");
            for (index, dab) in placed.iter().enumerate() {
                assert!((dab.centre.x - 0.025 * index as f64).abs() < 1e-6);
            }
        }
    }

    /// A disc's mean distance from its middle is 2/3 of its radius.
    #[test]
    fn chance_moves_dabs_within_its_bounds_and_the_same_way_each_time() {
        let jitter = Jitter { size: 0.5, opacity: 0.25, position: 0.75, ..Jitter::NONE };
        let brush = BrushSettings { jitter, spacing: 0.01, ..BrushSettings::default() };
        let placed = |seed| texture_dabs(&[line(1.0, 9)], &brush, seed).unwrap();
        let dabs = placed(7);
        assert_eq!(dabs, placed(7));
        assert_ne!(dabs, placed(8));
        let mut away = Vec::new();
        for (index, dab) in dabs.iter().enumerate() {
            let on_path = DVec2::new(0.001 * index as f64, 0.5);
            away.push(dab.centre.distance(on_path) / 0.1);
            assert!((0.025..=0.05).contains(&dab.touch.radius));
            assert!((0.75..=1.0).contains(&dab.touch.ceiling));
        }
        let mean = away.iter().sum::<f64>() / away.len() as f64;
        assert!(away.iter().all(|away| *away < 0.7501) && (mean - 0.5).abs() < 0.02, "{mean}");
        let mean = dabs.iter().map(|dab| dab.touch.radius).sum::<f64>() / dabs.len() as f64;
        assert!((mean - 0.0375).abs() < 0.001, "{mean}");
    }

    /// Angles spread evenly over a share of a turn, about the way that the tip lies: their mean square is the share's
    /// square over 12.
    /// Without pressure, where scatter and tones follow it fully, dabs lie on the path and are all alike; at half of it
    /// they lie half as far beside it, and differ half as much.
    #[test]
    fn jitter_follows_the_pen_where_it_is_to() {
        let jitter = Jitter { position: 1.0, hue: 90.0, shade: 0.5, value: 0.5, ..Jitter::NONE };
        let falling = Response::FULL;
        let pressure = Responses { scatter: falling, tones: falling, ..Responses::NONE };
        let brush = BrushSettings { jitter, pressure, spacing: 0.1, ..BrushSettings::default() };
        let placed = |pressure: f32| {
            let point = |x| TexturePoint { pressure, ..TexturePoint::of(Vec2::new(x, 0.0), 0.01) };
            texture_dabs(&[vec![point(0.0), point(1.0)]], &brush, 5).unwrap()
        };
        let [none, half, full] = [0.0, 0.5, 1.0].map(placed);
        assert!(none.iter().all(|dab| dab.centre.y == 0.0 && dab.touch.shades == [0.0; 3]));
        let mut differ = 0;
        for (half, full) in half.iter().zip(&full) {
            assert!((half.centre.y - 0.5 * full.centre.y).abs() < 1e-9);
            for (half, full) in half.touch.shades.iter().zip(full.touch.shades) {
                assert!((half - 0.5 * full).abs() < 1e-6);
                differ += usize::from(full.abs() > 0.1);
            }
        }
        assert!(differ > 50);
    }

    #[test]
    fn jitter_turns_a_tip_to_both_sides_of_its_way() {
        let jitter = Jitter { angle: 0.2, ..Jitter::NONE };
        let tip = Tip { aspect: 0.5, lies: Lies::Stroke, ..Tip::ROUND };
        let brush = BrushSettings { jitter, tip, spacing: 0.01, ..BrushSettings::default() };
        let dabs = texture_dabs(&[line(1.0, 9)], &brush, 3).unwrap();
        let turns: Vec<f64> = dabs.iter().map(|dab| DVec2::X.angle_to(dab.long) / TAU).collect();
        let count = turns.len() as f64;
        assert!(turns.iter().all(|turn| turn.abs() < 0.1001));
        let squares = turns.iter().map(|turn| turn * turn).sum::<f64>() / count;
        assert!((turns.iter().sum::<f64>() / count).abs() < 0.005);
        assert!((squares / (0.04 / 12.0) - 1.0).abs() < 0.1, "{squares}");
    }

    #[test]
    fn tilt_and_speed_change_what_they_are_told_to() {
        let falling = Response { at_zero: 1.0, at_full: 0.5, gamma: 1.0 };
        let growing = Response { at_zero: 0.0, ..Response::NONE };
        let brush = BrushSettings {
            tilt: Responses { size: growing, ..Responses::NONE },
            speed: Responses { opacity: falling, angle: falling, ..Responses::NONE },
            tip: Tip { aspect: 0.5, ..Tip::ROUND },
            ..BrushSettings::default()
        };
        let point = |lean, speed| TexturePoint { lean, speed, ..line(0.0, 1)[0] };
        let dab = |lean, speed| texture_dabs(&[vec![point(lean, speed)]], &brush, 0).unwrap()[0];
        assert_eq!(dab(Vec2::new(0.0, -0.5), 0.0).touch.radius, 0.025_000_000_372_529_03);
        assert_eq!(dab(Vec2::X, 1.0).touch.ceiling, 0.5);
        // Half of a half turn.
        assert!(
            (dab(Vec2::X, 1.0).long.angle_to(dab(Vec2::X, 0.0).long).abs() - PI / 2.0).abs() < 1e-9
        );
    }

    #[test]
    fn a_tip_along_the_stroke_lies_so_from_its_first_dab_on() {
        let tip = Tip { aspect: 0.5, lies: Lies::Stroke, ..Tip::ROUND };
        let brush = BrushSettings { tip, ..BrushSettings::default() };
        let dabs = texture_dabs(&[line(1.0, 9)], &brush, 3).unwrap();
        assert!(dabs[0].centre.x == 0.0 && dabs[0].begins);
        assert!(dabs.iter().all(|dab| dab.long.distance(DVec2::X) < 1e-12));
        let lone = texture_dabs(&[line(0.0, 1)], &brush, 3).unwrap();
        assert_eq!((lone.len(), lone[0].long), (1, DVec2::ZERO));
    }

    #[test]
    fn no_pressure_on_size_still_ends() {
        let brush = BrushSettings {
            pressure: Responses { size: Response::FULL, ..Responses::NONE },
            ..BrushSettings::default()
        };
        let mut points = line(0.5, 4);
        for point in &mut points {
            point.pressure = 0.0;
        }
        assert!(texture_dabs(&[points], &brush, 1).unwrap().len() < 10_000);
    }

    #[test]
    fn a_stroke_without_end_is_refused() {
        let brush = BrushSettings { spacing: 0.01, ..BrushSettings::default() };
        let mut points = line(1e6, 1);
        for point in &mut points {
            point.radius = 1e-4;
        }
        let refused = texture_dabs(&[points], &brush, 1).unwrap_err();
        assert!(matches!(refused, BrushError::TooManyDabs { .. }));
    }
}
