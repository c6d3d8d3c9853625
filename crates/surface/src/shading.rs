//! The normal that each corner of a mesh is shaded with: its own, or where it has none one made here.

use glam::{DVec3, Vec3};
use rayon::prelude::*;

use crate::{Surface, TriangleId};

/// Cosine of 50 degrees: flatter edges are shaded smooth where the file says nothing. Common practice, no
/// source.
const SMOOTH_COSINE: f64 = 0.642_787_609_686_539_3;

impl Surface {
    /// A unit normal for each corner of the mesh. A corner without one gets the mean, weighted by angle, of the
    /// triangles around its vertex that turn away from its own by less than 50 degrees: sculpts without normals would
    /// show facets. +Y where there is no triangle with an area.
    pub fn corner_normals(&self) -> Vec<Vec3> {
        let mesh = self.mesh();
        let own = |normal: u32| mesh.normals().get(normal as usize).copied().and_then(unit);
        let mut normals: Vec<Option<Vec3>> =
            mesh.corners().par_iter().map(|corner| own(corner.normal)).collect();
        if normals.par_iter().any(Option::is_none) {
            self.fill_normals(&mut normals);
        }
        normals.into_par_iter().map(|normal| normal.unwrap_or(Vec3::Y)).collect()
    }

    fn fill_normals(&self, normals: &mut [Option<Vec3>]) {
        let count = self.triangle_count() as u32;
        let flat: Vec<DVec3> =
            (0..count).into_par_iter().map(|t| self.geometric_normal(TriangleId(t))).collect();
        let fans = Fans::new(self);
        for t in (0..count).map(TriangleId) {
            for (k, corner) in self.triangle(t).corners.into_iter().enumerate() {
                if normals[corner as usize].is_none() {
                    let normal = fans.smooth(self, &flat, t, self.vertex_of(t, k));
                    normals[corner as usize] = Some(normal.as_vec3());
                }
            }
        }
    }
}

/// The normal with unit length: itself where it is near enough, so that it goes out as it came.
fn unit(normal: Vec3) -> Option<Vec3> {
    let off = (normal.length_squared() - 1.0).abs();
    if off < 1e-3 { Some(normal) } else { normal.try_normalize() }
}

/// The triangles around each welded vertex.
struct Fans {
    starts: Vec<u32>,
    /// Triangle and corner 0, 1 or 2 of it.
    around: Vec<(TriangleId, u8)>,
}

impl Fans {
    fn new(surface: &Surface) -> Self {
        let corners = || {
            (0..surface.triangle_count() as u32).map(TriangleId).flat_map(|t| {
                (0..3u8).map(move |k| (t, k, surface.vertex_of(t, usize::from(k)) as usize))
            })
        };
        let mut starts = vec![0u32; surface.vertex_count() + 1];
        for (_, _, vertex) in corners() {
            starts[vertex + 1] += 1;
        }
        for at in 1..starts.len() {
            starts[at] += starts[at - 1];
        }
        let mut next = starts.clone();
        let mut around = vec![(TriangleId(0), 0); surface.triangle_count() * 3];
        for (t, k, vertex) in corners() {
            let slot = &mut next[vertex];
            around[*slot as usize] = (t, k);
            *slot += 1;
        }
        Self { starts, around }
    }

    fn smooth(&self, surface: &Surface, flat: &[DVec3], own: TriangleId, vertex: u32) -> DVec3 {
        let at = vertex as usize;
        let own = flat[own.0 as usize];
        let mut sum = DVec3::ZERO;
        for &(t, k) in &self.around[self.starts[at] as usize..self.starts[at + 1] as usize] {
            let normal = flat[t.0 as usize];
            if normal.dot(own) >= SMOOTH_COSINE {
                let points = surface.positions_of(t);
                let k = usize::from(k);
                let (to_next, to_last) =
                    (points[(k + 1) % 3] - points[k], points[(k + 2) % 3] - points[k]);
                sum += normal * to_next.angle_between(to_last);
            }
        }
        sum.try_normalize().or_else(|| own.try_normalize()).unwrap_or(DVec3::Y)
    }
}

#[cfg(test)]
mod tests {
    use glam::DVec2;

    use super::*;
    use crate::testing::{Builder, prepared};

    /// Two squares that meet at an edge, the second bent down by `angle`.
    fn bent(angle: f64) -> Surface {
        let across = |x: f64| {
            let (sin, cos) = angle.sin_cos();
            if x <= 0.5 {
                (2.0 * x, 0.0)
            } else {
                (1.0 + (2.0 * x - 1.0) * cos, (1.0 - 2.0 * x) * sin)
            }
        };
        let mut builder = Builder::default();
        let place = |st: DVec2| DVec3::new(across(st.x).0, across(st.x).1, 1.0 - st.y);
        builder.patch((2, 1), place, |st| st, 0);
        prepared(builder.mesh())
    }

    #[test]
    fn a_flat_edge_is_shaded_smooth_and_a_sharp_one_is_not() {
        for degrees in [0.0f64, 30.0, 49.0, 51.0, 90.0] {
            let angle = degrees.to_radians();
            let surface = bent(angle);
            let normals = surface.corner_normals();
            let bent_normal = DVec3::new(angle.sin(), angle.cos(), 0.0).as_vec3();
            // Both faces have a right angle at the edge, so the mean is the bisector.
            let expected =
                if degrees < 50.0 { (Vec3::Y + bent_normal).normalize_or_zero() } else { Vec3::Y };
            assert!((normals[1] - expected).length() < 1e-6, "{degrees}: {}", normals[1]);
            assert!((normals[0] - Vec3::Y).length() < 1e-6);
        }
    }
}
