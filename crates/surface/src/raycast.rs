//! Rays against triangles, in f64, without cracks.
//!
//! Woop, Benthin, Wald, "Watertight Ray/Triangle Intersection", JCGT 2(1), 2013: corners are moved and
//! sheared so that the ray runs along an axis; each edge then gives a sign that both of its triangles
//! compute from the same numbers, and zero counts as inside.

use glam::DVec3;

use crate::{PartId, Surface, TriangleId};

/// A half line. The direction need not be of unit length; a zero or infinite one hits nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ray {
    /// Where it begins, in model units.
    pub origin: DVec3,
    /// Where it goes.
    pub direction: DVec3,
}

/// Where a ray meets the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RayHit {
    /// The triangle; of several at one distance the lowest.
    pub triangle: TriangleId,
    /// Weights of the triangle's corners: 0..1, sum 1.
    pub barycentric: [f64; 3],
    /// From the ray's origin, in model units.
    pub distance: f64,
}

impl Surface {
    /// The nearest triangle along the ray, front or back.
    pub fn raycast(&self, ray: &Ray) -> Option<RayHit> {
        self.raycast_where(ray, |_| true)
    }

    /// The nearest triangle along the ray, front or back, of the parts that count: it goes through all
    /// others.
    pub fn raycast_where(&self, ray: &Ray, counts: impl Fn(PartId) -> bool) -> Option<RayHit> {
        let direction = ray.direction.try_normalize()?;
        let sheared = Sheared::new(ray.origin, direction);
        let mut best: Option<RayHit> = None;
        self.tree().along_ray(ray.origin, direction, f64::INFINITY, |triangle| {
            let (distance, barycentric) = sheared.meet(self.positions_of(triangle))?;
            let nearer =
                best.as_ref().is_none_or(|hit| (distance, triangle) < (hit.distance, hit.triangle));
            (nearer && counts(self.part_of(triangle))).then(|| {
                best = Some(RayHit { triangle, barycentric, distance });
                distance
            })
        });
        best
    }

    /// True when something other than `except` lies on the line from `from` along `direction` (of unit
    /// length) nearer than `max_distance`. Within a millionth of the model's extent nothing counts: a
    /// point on an edge is not blocked by the triangle across.
    pub fn is_blocked(
        &self,
        from: DVec3,
        direction: DVec3,
        max_distance: f64,
        except: TriangleId,
    ) -> bool {
        self.is_blocked_where(from, direction, max_distance, except, |_| true)
    }

    /// As [`Surface::is_blocked`], by the parts that count.
    pub fn is_blocked_where(
        &self,
        from: DVec3,
        direction: DVec3,
        max_distance: f64,
        except: TriangleId,
        counts: impl Fn(PartId) -> bool,
    ) -> bool {
        let Some(direction) = direction.try_normalize() else { return false };
        let sheared = Sheared::new(from, direction);
        let nearest = 2e-6 * self.tree().half_extent();
        self.tree().any_along_ray(from, direction, max_distance, |triangle| {
            triangle != except
                && sheared
                    .meet(self.positions_of(triangle))
                    .is_some_and(|(distance, _)| distance > nearest && distance < max_distance)
                && counts(self.part_of(triangle))
        })
    }
}

/// How a ray and a triangle lie to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Crossing {
    None,
    At,
    /// Too near to an edge, or to where the ray begins, to tell.
    Unsure,
}

/// A ray, and the shear that lays it along the axis in which it is longest.
pub(crate) struct Sheared {
    origin: DVec3,
    axes: [usize; 3],
    shear: [f64; 3],
}

impl Sheared {
    /// `direction` must not be zero.
    pub(crate) fn new(origin: DVec3, direction: DVec3) -> Self {
        let size = direction.abs();
        let along = if size.x >= size.y && size.x >= size.z {
            0
        } else if size.y >= size.z {
            1
        } else {
            2
        };
        let (mut right, mut up) = ((along + 1) % 3, (along + 2) % 3);
        if direction[along] < 0.0 {
            (right, up) = (up, right);
        }
        let shear = [
            direction[right] / direction[along],
            direction[up] / direction[along],
            1.0 / direction[along],
        ];
        Self { origin, axes: [right, up, along], shear }
    }

    /// Whether the ray clearly crosses the triangle; nearer than `nearest` to its beginning nothing is
    /// clear.
    pub(crate) fn crossing(&self, corners: [DVec3; 3], nearest: f64) -> Crossing {
        // Of the sum of the edges' numbers: far more than rounding in f64.
        const CLEAR: f64 = 1e-9;
        let [a, b, c] = self.sheared(corners);
        let [e, f, g] = edge_numbers(a, b, c);
        let clear = CLEAR * (e.abs() + f.abs() + g.abs());
        let (least, most) = (e.min(f).min(g), e.max(f).max(g));
        if least < -clear && most > clear {
            return Crossing::None;
        }
        if !(least > clear || most < -clear) {
            return Crossing::Unsure;
        }
        let distance = (e * a[2] + f * b[2] + g * c[2]) / (e + f + g) * self.shear[2];
        if distance.abs() <= nearest {
            Crossing::Unsure
        } else if distance > 0.0 {
            Crossing::At
        } else {
            Crossing::None
        }
    }

    fn sheared(&self, [a, b, c]: [DVec3; 3]) -> [[f64; 3]; 3] {
        let [right, up, along] = self.axes;
        let sheared = |corner: DVec3| {
            let from = corner - self.origin;
            let depth = from[along];
            [from[right] - self.shear[0] * depth, from[up] - self.shear[1] * depth, depth]
        };
        [sheared(a), sheared(b), sheared(c)]
    }

    /// Distance and barycentric weights, if the ray meets the triangle at or after its origin.
    fn meet(&self, corners: [DVec3; 3]) -> Option<(f64, [f64; 3])> {
        let [a, b, c] = self.sheared(corners);
        let [e, f, g] = edge_numbers(a, b, c);
        if (e < 0.0 || f < 0.0 || g < 0.0) && (e > 0.0 || f > 0.0 || g > 0.0) {
            return None;
        }
        let sum = e + f + g;
        if sum == 0.0 {
            return None;
        }
        let barycentric = [e / sum, f / sum, g / sum];
        let depth = barycentric[0] * a[2] + barycentric[1] * b[2] + barycentric[2] * c[2];
        let distance = depth * self.shear[2];
        (distance >= 0.0 && distance.is_finite()).then_some((distance, barycentric))
    }
}

/// For each corner the area, doubled, that the ray and the edge across from it span.
fn edge_numbers(a: [f64; 3], b: [f64; 3], c: [f64; 3]) -> [f64; 3] {
    [c[0] * b[1] - c[1] * b[0], a[0] * c[1] - a[1] * c[0], b[0] * a[1] - b[1] * a[0]]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{cube, prepared, read_obj, reference, soup, sphere};

    /// `tests/reference/pick_uv.csv`: trimesh 5.2 in float64, which agrees with Embree.
    #[test]
    fn hits_and_uvs_on_the_torus_agree_with_the_reference() {
        let surface = prepared(read_obj(&reference("torus.obj")));
        let table = reference("pick_uv.csv");
        let (mut hits, mut misses) = (0, 0);
        for line in table.lines().skip(2) {
            let cell = |index: usize| line.split(',').nth(index).unwrap().parse::<f64>().unwrap();
            let direction = DVec3::new(cell(2), cell(3), cell(4));
            let hit = surface.raycast(&Ray { origin: DVec3::new(1.8, 1.6, 2.4), direction });
            if line.split(',').nth(5) == Some("0") {
                assert_eq!(hit, None, "{line}");
                misses += 1;
                continue;
            }
            let hit = hit.unwrap_or_else(|| panic!("missed {line}"));
            let uv = surface.uv(hit.triangle, hit.barycentric).unwrap();
            assert!(
                (uv.x - cell(10)).abs() < 2e-6 && (uv.y - cell(11)).abs() < 2e-6,
                "{line} {uv}"
            );
            assert!((hit.distance - cell(7)).abs() < 2e-6, "{line} {}", hit.distance);
            hits += 1;
        }
        assert!(hits > 100 && misses > 100, "{hits} {misses}");
    }

    #[test]
    fn rays_through_edges_and_vertices_of_a_closed_mesh_never_slip_through() {
        let surface = prepared(sphere(24, 12));
        for id in (0..surface.triangle_count() as u32).map(TriangleId) {
            let points = surface.positions_of(id);
            for k in 0..3 {
                for share in [0.0, 0.25, 1.0 / 3.0, 0.5] {
                    let target = points[k].lerp(points[(k + 1) % 3], share);
                    for origin in [DVec3::ZERO, DVec3::new(0.1, -0.2, 0.05), target * 3.0] {
                        let ray = Ray { origin, direction: target - origin };
                        assert!(surface.raycast(&ray).is_some(), "{target} from {origin}");
                    }
                }
            }
        }
    }

    #[test]
    fn rays_along_axes_hit_flat_faces_at_any_scale_and_place() {
        for (scale, shift) in [(1.0, 0.0), (1e-6, 0.0), (1e6, 0.0), (1e12, 3e12), (1e-3, 7.0)] {
            let mut data = cube().into_data();
            for point in &mut data.positions {
                *point = (point.as_dvec3() * scale + shift).as_vec3();
            }
            let surface = prepared(crate::Mesh::new(data).unwrap());
            let inside = DVec3::new(0.3, 0.6, 0.45) * scale + shift;
            for direction in
                [DVec3::X, DVec3::NEG_X, DVec3::Y, DVec3::NEG_Y, DVec3::Z, DVec3::NEG_Z]
            {
                let origin = inside - direction * scale * 10.0;
                let hit = surface.raycast(&Ray { origin, direction: direction * 5.0 }).unwrap();
                let expected = scale * (10.0 - (inside - shift).dot(direction).abs() / scale)
                    - if direction.min_element() < 0.0 {
                        scale - 2.0 * (inside - shift).dot(direction).abs()
                    } else {
                        0.0
                    };
                let allowed = 1e-6 * (scale + shift);
                assert!((hit.distance - expected).abs() < allowed, "{} {expected}", hit.distance);
            }
        }
    }

    #[test]
    fn of_two_triangles_at_one_place_the_lower_is_hit() {
        let (a, b, c) = ([0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]);
        let surface = prepared(soup(&[([a, b, c], 0), ([a, b, c], 1), ([c, b, a], 0)]));
        let ray = Ray { origin: DVec3::new(0.2, 0.2, 1.0), direction: DVec3::NEG_Z };
        assert_eq!(surface.raycast(&ray).unwrap().triangle, TriangleId(0));
    }

    #[test]
    fn a_ray_goes_through_parts_that_do_not_count() {
        let face = |z: f32| [[0.0, 0.0, z], [1.0, 0.0, z], [0.0, 1.0, z]];
        let surface = prepared(soup(&[(face(0.0), 0), (face(1.0), 1), (face(2.0), 0)]));
        let ray = Ray { origin: DVec3::new(0.2, 0.2, 3.0), direction: DVec3::NEG_Z };
        let hit = |counts: &dyn Fn(PartId) -> bool| {
            let hit = surface.raycast_where(&ray, counts)?;
            Some((hit.triangle.0, (hit.distance * 1e9).round() / 1e9))
        };
        assert_eq!(hit(&|_| true), Some((2, 1.0)));
        assert_eq!(hit(&|part| part != PartId(0)), Some((1, 2.0)));
        assert_eq!(hit(&|_| false), None);
        let from = DVec3::new(0.2, 0.2, 0.0);
        let blocked = |counts: &dyn Fn(PartId) -> bool| {
            surface.is_blocked_where(from, DVec3::Z, 1.5, TriangleId(0), counts)
        };
        assert!(blocked(&|_| true) && !blocked(&|part| part != PartId(1)));
    }

    #[test]
    fn degenerate_triangles_and_rays_hit_nothing() {
        let surface = prepared(soup(&[([[1.0; 3]; 3], 0), ([[0.0; 3], [1.0; 3], [2.0; 3]], 0)]));
        for direction in [DVec3::ONE, DVec3::ZERO, DVec3::X, DVec3::splat(f64::NAN)] {
            assert_eq!(surface.raycast(&Ray { origin: DVec3::ZERO, direction }), None);
        }
        let surface = prepared(cube());
        let origin = DVec3::splat(f64::INFINITY);
        assert_eq!(surface.raycast(&Ray { origin, direction: DVec3::NEG_ONE }), None);
    }

    #[test]
    fn the_far_wall_blocks_and_the_triangles_around_the_starting_point_do_not() {
        let surface = prepared(cube());
        let floor =
            surface.raycast(&Ray { origin: DVec3::new(0.4, 0.5, 0.4), direction: DVec3::NEG_Y });
        let floor = floor.unwrap();
        let from = surface.position(floor.triangle, floor.barycentric);
        assert!(surface.is_blocked(from, DVec3::Y, 2.0, floor.triangle));
        assert!(!surface.is_blocked(from, DVec3::Y, 0.5, floor.triangle));
        assert!(!surface.is_blocked(from, DVec3::NEG_Y, 2.0, floor.triangle));
        let on_edge = DVec3::new(0.5, 0.0, 0.0);
        let away = DVec3::new(0.0, -1.0, -1.0).normalize_or_zero();
        assert!(!surface.is_blocked(on_edge, away, 2.0, floor.triangle));
    }
}
