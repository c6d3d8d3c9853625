//! Distances: the nearest point of the surface, and the triangles that a ball touches.

use glam::DVec3;

use crate::{Surface, TriangleId};

/// A point of the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfacePoint {
    /// The triangle that it lies in.
    pub triangle: TriangleId,
    /// Weights of the triangle's corners, sum 1. Outside 0..1 the point lies beyond the triangle, in
    /// its plane.
    pub barycentric: [f64; 3],
}

impl Surface {
    /// The point of the surface that is nearest to `point`; of several the one in the lowest triangle.
    /// `None` where `point` is not finite.
    pub fn nearest(&self, point: DVec3) -> Option<SurfacePoint> {
        self.nearest_of(point, f64::INFINITY, |_| true)
    }

    /// The same of those triangles alone that count.
    pub fn nearest_where(
        &self,
        point: DVec3,
        counts: impl Fn(TriangleId) -> bool,
    ) -> Option<SurfacePoint> {
        self.nearest_of(point, f64::INFINITY, counts)
    }

    /// The same, but no farther away than `most`: the nearer that is, the sooner it is found. `None` where the
    /// surface is farther away.
    pub fn nearest_within(&self, point: DVec3, most: f64) -> Option<SurfacePoint> {
        self.nearest_of(point, most, |_| true)
    }

    fn nearest_of(
        &self,
        point: DVec3,
        most: f64,
        counts: impl Fn(TriangleId) -> bool,
    ) -> Option<SurfacePoint> {
        let within = most * most;
        let mut best: Option<(f64, SurfacePoint)> = None;
        self.tree().around(point, within, |triangle| {
            let least = best.map_or(within, |(least, _)| least);
            if !counts(triangle) {
                return least;
            }
            let on = self.nearest_on(triangle, point);
            let squared = self.position(triangle, on.barycentric).distance_squared(point);
            let is_nearer = match best {
                Some((least, kept)) => (squared, triangle) < (least, kept.triangle),
                None => squared <= within,
            };
            if is_nearer {
                best = Some((squared, on));
                return squared;
            }
            least
        });
        best.map(|(_, on)| on)
    }

    /// The point of one triangle that is nearest to `point`.
    pub fn nearest_on(&self, triangle: TriangleId, point: DVec3) -> SurfacePoint {
        SurfacePoint { triangle, barycentric: nearest_weights(self.positions_of(triangle), point) }
    }

    /// The triangles that the ball touches, in ascending order. Clears `found` first.
    pub fn triangles_in_ball(&self, centre: DVec3, radius: f64, found: &mut Vec<TriangleId>) {
        found.clear();
        if radius < 0.0 {
            return;
        }
        let within = radius * radius;
        self.tree().around(centre, within, |triangle| {
            if touches(self.positions_of(triangle), centre, radius) {
                found.push(triangle);
            }
            within
        });
        found.sort_unstable();
    }
}

/// Whether the triangle has a point in the ball.
pub(crate) fn touches(corners: [DVec3; 3], centre: DVec3, radius: f64) -> bool {
    let [a, b, c] = corners;
    let weights = nearest_weights(corners, centre);
    let nearest = a * weights[0] + b * weights[1] + c * weights[2];
    nearest.distance_squared(centre) <= radius * radius
}

/// The weights of the triangle's point nearest to `point`: inside where the foot of the perpendicular
/// is, else on the nearest edge. Holds for triangles without area.
pub(crate) fn nearest_weights([a, b, c]: [DVec3; 3], point: DVec3) -> [f64; 3] {
    let (ab, ac, from) = (b - a, c - a, point - a);
    let (aa, bb, mixed) = (ab.length_squared(), ac.length_squared(), ab.dot(ac));
    let determinant = aa * bb - mixed * mixed;
    if determinant > 1e-14 * aa * bb {
        let (along_b, along_c) = (from.dot(ab), from.dot(ac));
        let second = (bb * along_b - mixed * along_c) / determinant;
        let third = (aa * along_c - mixed * along_b) / determinant;
        let first = 1.0 - second - third;
        if first >= 0.0 && second >= 0.0 && third >= 0.0 {
            return [first, second, third];
        }
    }
    let on_edge = |from: DVec3, to: DVec3| {
        let along = to - from;
        let length = along.length_squared();
        let share = if length > 0.0 { (point - from).dot(along) / length } else { 0.0 };
        let share = share.clamp(0.0, 1.0);
        (share, (from + along * share).distance_squared(point))
    };
    let (t_ab, d_ab) = on_edge(a, b);
    let (t_bc, d_bc) = on_edge(b, c);
    let (t_ca, d_ca) = on_edge(c, a);
    if d_ab <= d_bc && d_ab <= d_ca {
        [1.0 - t_ab, t_ab, 0.0]
    } else if d_bc <= d_ca {
        [0.0, 1.0 - t_bc, t_bc]
    } else {
        [t_ca, 0.0, 1.0 - t_ca]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{cube, prepared, soup, sphere};

    fn scattered(count: u32) -> impl Iterator<Item = DVec3> {
        // A low-discrepancy sequence in -1.5..1.5: multiples of irrational numbers.
        (1..=count).map(|k| {
            let step = |x: f64| (f64::from(k) * x).fract() * 3.0 - 1.5;
            DVec3::new(step(0.819_172_513), step(0.671_043_607), step(0.549_700_478))
        })
    }

    #[test]
    fn a_bound_finds_the_same_point_or_none_beyond_it() {
        let surface = prepared(sphere(24, 12));
        for step in 0..50 {
            let angle = f64::from(step) * 0.7;
            let point =
                DVec3::new(libm::cos(angle), 0.03 * f64::from(step), libm::sin(angle)) * 1.3;
            let found = surface.nearest(point).unwrap();
            let away = surface.position(found.triangle, found.barycentric).distance(point);
            assert_eq!(surface.nearest_within(point, away * 1.000_001), Some(found));
            assert_eq!(surface.nearest_within(point, away * 0.999), None);
        }
    }

    #[test]
    fn the_nearest_point_is_that_of_looking_at_every_triangle() {
        let surface = prepared(sphere(24, 12));
        for point in scattered(300) {
            let on = surface.nearest(point).unwrap();
            let distance = surface.position(on.triangle, on.barycentric).distance(point);
            let least = (0..surface.triangle_count() as u32)
                .map(|id| {
                    let on = surface.nearest_on(TriangleId(id), point);
                    surface.position(on.triangle, on.barycentric).distance(point)
                })
                .fold(f64::INFINITY, f64::min);
            assert!((distance - least).abs() < 1e-12, "{distance} {least}");
        }
    }

    #[test]
    fn the_nearest_point_of_a_triangle_beats_a_fine_grid_of_its_points() {
        let corners =
            [DVec3::new(0.1, 0.0, 0.3), DVec3::new(1.0, 0.2, -0.1), DVec3::new(0.9, 0.3, 0.2)];
        for point in scattered(200) {
            let at = |w: [f64; 3]| corners[0] * w[0] + corners[1] * w[1] + corners[2] * w[2];
            let weights = nearest_weights(corners, point);
            assert!(weights.iter().all(|&w| w >= 0.0));
            let found = at(weights).distance(point);
            for i in 0..=40 {
                for j in 0..=40 - i {
                    let (i, j) = (f64::from(i) / 40.0, f64::from(j) / 40.0);
                    assert!(found <= at([1.0 - i - j, i, j]).distance(point) + 1e-12);
                }
            }
        }
    }

    #[test]
    fn a_ball_finds_exactly_the_triangles_that_it_touches() {
        let surface = prepared(sphere(24, 12));
        let mut found = vec![TriangleId(7)];
        for (k, centre) in scattered(100).enumerate() {
            let radius = 0.05 + 0.01 * k as f64;
            surface.triangles_in_ball(centre, radius, &mut found);
            let all = (0..surface.triangle_count() as u32).map(TriangleId);
            let expected: Vec<_> = all
                .filter(|&id| {
                    let on = surface.nearest_on(id, centre);
                    surface.position(id, on.barycentric).distance_squared(centre) <= radius * radius
                })
                .collect();
            assert_eq!(found, expected);
        }
    }

    #[test]
    fn degenerate_triangles_and_points_far_off_are_measured_too() {
        let surface = prepared(soup(&[([[1.0; 3]; 3], 0), ([[0.0; 3], [1.0; 3], [2.0; 3]], 0)]));
        let on = surface.nearest(DVec3::new(0.5, 0.5, 0.5)).unwrap();
        assert!(surface.position(on.triangle, on.barycentric).distance(DVec3::splat(0.5)) < 1e-12);
        let surface = prepared(cube());
        let on = surface.nearest(DVec3::new(1e12, 0.3, 0.3)).unwrap();
        assert!((surface.position(on.triangle, on.barycentric).x - 1.0).abs() < 1e-9);
        assert_eq!(surface.nearest(DVec3::splat(f64::NAN)), None);
    }
}
