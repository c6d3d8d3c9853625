//! A line that is laid over the surface through a few points: it is kept as those points, so that it can be laid
//! anew when one of them is moved, or when the model's triangles are others.

use glam::DVec3;
use surface::{Ray, Surface, SurfacePoint};

use crate::{PathPoint, SurfacePath};

/// Points of the laid line are this far apart, in radii.
const STEP: f64 = 0.1;
/// More points than this are not laid: they are further apart then.
const MOST: f64 = 50_000.0;

/// How a line goes from point to point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Curve {
    /// The shortest way, as a taut thread lies.
    Straight,
    /// In one bend through all points.
    Smooth,
}

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct Guide {
    /// The points that it goes through, on the surface, with radius and pressure there.
    pub knots: Vec<PathPoint>,
    /// How it goes between them.
    pub curve: Curve,
    /// It ends where it began.
    pub closed: bool,
}

impl Guide {
    /// The line, laid over a surface: each point of the curve goes to it along the normal between those at its ends, or
    /// else to the nearest point.
    pub fn laid(&self, surface: &Surface) -> SurfacePath {
        let knots = &self.knots;
        let mut run = Vec::new();
        let around = |index: isize| -> Option<&PathPoint> {
            let count = knots.len() as isize;
            let index = if self.closed { index.rem_euclid(count) } else { index };
            knots.get(usize::try_from(index).ok()?)
        };
        let spans =
            if self.closed && knots.len() > 2 { knots.len() } else { knots.len().max(1) - 1 };
        let length: f64 = (0..spans as isize)
            .filter_map(|n| Some(at(around(n)?).distance(at(around(n + 1)?))))
            .sum();
        run.extend(knots.first().copied());
        for span in 0..spans as isize {
            let (Some(a), Some(b)) = (around(span), around(span + 1)) else { continue };
            let before = around(span - 1).map_or(2.0 * at(a) - at(b), at);
            let after = around(span + 2).map_or(2.0 * at(b) - at(a), at);
            let step = (STEP * f64::from(a.radius.min(b.radius))).max(length / MOST);
            let pieces = (at(a).distance(at(b)) / step).ceil().max(1.0) as usize;
            for piece in 1..=pieces {
                let t = piece as f64 / pieces as f64;
                let point = match self.curve {
                    Curve::Straight => at(a).lerp(at(b), t),
                    Curve::Smooth => bend([before, at(a), at(b), after], t),
                };
                run.extend(on_surface(point, (a, b, t), surface));
            }
        }
        SurfacePath { runs: vec![run], eye: None }
    }
}

fn at(knot: &PathPoint) -> DVec3 {
    knot.position.as_dvec3()
}

fn on_surface(
    point: DVec3,
    (a, b, t): (&PathPoint, &PathPoint, f64),
    surface: &Surface,
) -> Option<PathPoint> {
    let towards = a.normal.lerp(b.normal, t as f32).as_dvec3();
    // A chord goes through the body: what faces as its ends do, and is of their part, is on their side of it.
    let same_part = a.part == b.part;
    let faces = |triangle| {
        surface.geometric_normal(triangle).dot(towards) > 0.0
            && (!same_part || surface.part_of(triangle) == a.part)
    };
    // Straight down from outside, as far as the curve may sag: so the line does not jump where a body is hollow.
    let (up, sag) = (towards.try_normalize()?, at(a).distance(at(b)));
    let down = Ray { origin: point + up * sag, direction: -up };
    let hit = surface.raycast_where(&down, |part| !same_part || part == a.part);
    let hit = hit.filter(|hit| faces(hit.triangle) && hit.distance <= 2.0 * sag);
    let below =
        hit.map(|hit| SurfacePoint { triangle: hit.triangle, barycentric: hit.barycentric });
    let nearest = || surface.nearest_where(point, faces).or_else(|| surface.nearest(point));
    let on = below.or_else(nearest)?;
    let mix = |from: f32, to: f32| from + (to - from) * t as f32;
    let normal = surface.smooth_normal(on.triangle, on.barycentric).as_vec3();
    Some(PathPoint {
        part: surface.part_of(on.triangle),
        triangle: on.triangle,
        barycentric: on.barycentric.map(|b| b as f32),
        position: surface.position(on.triangle, on.barycentric).as_vec3(),
        normal: if normal.as_dvec3().dot(towards) < 0.0 { -normal } else { normal },
        radius: mix(a.radius, b.radius),
        pressure: mix(a.pressure, b.pressure),
        lean: a.lean.lerp(b.lean, t as f32),
        speed: mix(a.speed, b.speed),
    })
}

/// A centripetal Catmull-Rom spline between the middle two of four points (Yuksel, Schaefer, Keyser 2011), by
/// Barry and Goldman's pyramid.
fn bend([a, b, c, d]: [DVec3; 4], t: f64) -> DVec3 {
    let gap = |from: DVec3, to: DVec3| from.distance(to).sqrt().max(1e-9);
    let (first, second, third) = (0.0, gap(a, b), gap(a, b) + gap(b, c));
    let fourth = third + gap(c, d);
    let at = second + (third - second) * t;
    let mix = |from: DVec3, to: DVec3, low: f64, high: f64| {
        from * ((high - at) / (high - low)) + to * ((at - low) / (high - low))
    };
    let left = mix(a, b, first, second);
    let middle = mix(b, c, second, third);
    let right = mix(c, d, third, fourth);
    mix(mix(left, middle, first, third), mix(middle, right, second, fourth), second, third)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bend_goes_through_its_points_and_straight_points_give_a_straight_line() {
        let points = [0.0, 1.0, 3.0, 4.0].map(|x| DVec3::new(x, 2.0 * x, 0.5));
        assert!((bend(points, 0.0) - points[1]).length() < 1e-12);
        assert!((bend(points, 1.0) - points[2]).length() < 1e-12);
        for step in 0..=10 {
            let point = bend(points, f64::from(step) / 10.0);
            assert!((point.y - 2.0 * point.x).abs() < 1e-12 && (point.z - 0.5).abs() < 1e-12);
        }
    }
}
