//! The normal that each corner of a mesh is shaded with: its own, or where it has none one made here.

use glam::{DVec3, Vec3};
use rayon::prelude::*;
use surface::{Surface, TriangleId};

/// Cosine of 50 degrees: flatter edges are shaded smooth where the file says nothing. Common practice, no
/// source.
const SMOOTH_COSINE: f64 = 0.642_787_609_686_539_3;

/// The normal of each corner of the mesh, as [`pack`] packs it.
pub(crate) fn corner_normals(surface: &Surface, places: &[u32]) -> Vec<u32> {
    let mesh = surface.mesh();
    let own = |normal: u32| mesh.normals().get(normal as usize)?.try_normalize();
    let mut packed: Vec<Option<u32>> =
        mesh.corners().par_iter().map(|corner| own(corner.normal).map(pack)).collect();
    if packed.par_iter().any(Option::is_none) {
        fill(surface, places, &mut packed);
    }
    packed.into_iter().map(Option::unwrap_or_default).collect()
}

/// The triangles around each place.
struct Fan {
    starts: Vec<u32>,
    /// Triangle and corner 0, 1 or 2 of it.
    around: Vec<(TriangleId, u8)>,
}

fn fill(surface: &Surface, places: &[u32], packed: &mut [Option<u32>]) {
    let count = surface.triangle_count() as u32;
    let flat: Vec<DVec3> =
        (0..count).into_par_iter().map(|t| surface.geometric_normal(TriangleId(t))).collect();
    let fan = Fan::new(surface, places);
    for t in (0..count).map(TriangleId) {
        for corner in surface.triangle(t).corners {
            if packed[corner as usize].is_none() {
                let position = surface.mesh().corners()[corner as usize].position;
                let normal = fan.smooth(surface, &flat, t, places[position as usize]);
                packed[corner as usize] = Some(pack(normal.as_vec3()));
            }
        }
    }
}

impl Fan {
    fn new(surface: &Surface, places: &[u32]) -> Self {
        let mesh = surface.mesh();
        let mut starts = vec![0u32; mesh.positions().len() + 1];
        let corners = || {
            (0..surface.triangle_count() as u32).flat_map(|t| {
                let corners = surface.triangle(TriangleId(t)).corners;
                (0..3u8).map(move |k| (TriangleId(t), k, corners[usize::from(k)]))
            })
        };
        let position =
            |corner: u32| places[mesh.corners()[corner as usize].position as usize] as usize;
        for (_, _, corner) in corners() {
            starts[position(corner) + 1] += 1;
        }
        for at in 1..starts.len() {
            starts[at] += starts[at - 1];
        }
        let mut next = starts.clone();
        let mut around = vec![(TriangleId(0), 0); surface.triangle_count() * 3];
        for (t, k, corner) in corners() {
            let slot = &mut next[position(corner)];
            around[*slot as usize] = (t, k);
            *slot += 1;
        }
        Self { starts, around }
    }

    /// The mean, weighted by angle, of the normals around a place that belong to the part of `own` and do
    /// not turn away from it.
    fn smooth(&self, surface: &Surface, flat: &[DVec3], own: TriangleId, place: u32) -> DVec3 {
        let (at, part) = (place as usize, surface.part_of(own));
        let own = flat[own.0 as usize];
        let mut sum = DVec3::ZERO;
        for &(t, k) in &self.around[self.starts[at] as usize..self.starts[at + 1] as usize] {
            let normal = flat[t.0 as usize];
            if normal.dot(own) >= SMOOTH_COSINE && surface.part_of(t) == part {
                let points = surface.positions_of(t);
                let k = usize::from(k);
                let (to_next, to_last) =
                    (points[(k + 1) % 3] - points[k], points[(k + 2) % 3] - points[k]);
                sum += normal * to_next.angle_between(to_last);
            }
        }
        sum.try_normalize().unwrap_or(own)
    }
}

/// A unit vector as two signed 16-bit numbers, folded from the octahedron (Meyer, Süßmuth, Sußner,
/// Stamminger, Greiner, "On floating-point normal vectors", 2010).
pub(crate) fn pack(normal: Vec3) -> u32 {
    let sum = normal.x.abs() + normal.y.abs() + normal.z.abs();
    if sum <= 0.0 || !sum.is_finite() {
        return pack(Vec3::Y);
    }
    let (x, y) = (normal.x / sum, normal.y / sum);
    let one = |value: f32| if value < 0.0 { -1.0 } else { 1.0 };
    let (x, y) =
        if normal.z < 0.0 { ((1.0 - y.abs()) * one(x), (1.0 - x.abs()) * one(y)) } else { (x, y) };
    let stored = |value: f32| u32::from((value * 32_767.0).round() as i16 as u16);
    stored(x) | stored(y) << 16
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unpack(packed: u32) -> Vec3 {
        let part = |bits: u32| f32::from(bits as u16 as i16) / 32_767.0;
        let (x, y) = (part(packed), part(packed >> 16));
        let z = 1.0 - x.abs() - y.abs();
        let fold = (-z).max(0.0);
        let back = |value: f32| value - fold * if value < 0.0 { -1.0 } else { 1.0 };
        Vec3::new(back(x), back(y), z).normalize_or_zero()
    }

    #[test]
    fn a_packed_normal_is_off_by_less_than_a_hundredth_of_a_degree() {
        for step in 0..10_000u32 {
            // Fibonacci lattice: even over the sphere.
            let z = 1.0 - (2.0 * step as f32 + 1.0) / 10_000.0;
            let (sin, cos) = (step as f32 * 2.399_963_2).sin_cos();
            let normal = Vec3::new(cos, sin, 0.0) * (1.0 - z * z).sqrt() + Vec3::Z * z;
            assert!((unpack(pack(normal)) - normal).length() < 1.7e-4, "{normal}");
        }
        for normal in [Vec3::X, Vec3::Y, Vec3::Z, Vec3::NEG_X, Vec3::NEG_Y, Vec3::NEG_Z] {
            assert_eq!(unpack(pack(normal)), normal);
        }
    }
}
