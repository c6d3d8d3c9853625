//! Normals that vary without a break over the whole part, creases and seams included.
//!
//! They gate paint; they don't shade. At a welded vertex: the geometric normals of the triangles
//! there, each weighted by its angle (Thürmer and Wüthrich, "Computing vertex normals from polygonal
//! facets", 1998). Between vertices: linear, then of unit length.

use glam::{DVec3, Vec3};

/// The unit normal of a triangle, counter-clockwise; zero where it has no area.
pub(crate) fn geometric_normal([a, b, c]: [DVec3; 3]) -> DVec3 {
    (b - a).cross(c - a).normalize_or_zero()
}

/// A unit normal for each welded vertex; zero where the triangles there cancel out.
pub(crate) fn vertex_normals(vertices: &[[u32; 3]], points: &[Vec3]) -> Vec<Vec3> {
    let mut sums = vec![DVec3::ZERO; points.len()];
    for corners in vertices {
        let points = corners.map(|vertex| points[vertex as usize].as_dvec3());
        let normal = geometric_normal(points);
        for (k, vertex) in corners.iter().enumerate() {
            let (to_next, to_last) =
                (points[(k + 1) % 3] - points[k], points[(k + 2) % 3] - points[k]);
            let angle = libm::atan2(to_next.cross(to_last).length(), to_next.dot(to_last));
            sums[*vertex as usize] += normal * angle;
        }
    }
    // Below this the sum is what rounding left of normals that cancel.
    let unit = |sum: DVec3| if sum.length() > 1e-9 { sum.normalize_or_zero() } else { DVec3::ZERO };
    sums.into_iter().map(|sum| unit(sum).as_vec3()).collect()
}

/// The normal at a point of a triangle, from its vertices' normals; `geometric` where those cancel.
pub(crate) fn blend(normals: [Vec3; 3], barycentric: [f64; 3], geometric: DVec3) -> DVec3 {
    let sum = normals[0].as_dvec3() * barycentric[0]
        + normals[1].as_dvec3() * barycentric[1]
        + normals[2].as_dvec3() * barycentric[2];
    if sum.length_squared() > 1e-12 { sum.normalize_or_zero() } else { geometric }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::TriangleId;
    use crate::testing::{cube, prepared, soup};

    #[test]
    fn at_a_cubes_corner_the_normal_is_the_diagonal_however_its_faces_are_cut() {
        let mut data = cube().into_data();
        for face in [0, 3, 4] {
            data.corners[face * 4..face * 4 + 4].rotate_left(1);
        }
        let surface = prepared(crate::Mesh::new(data).unwrap());
        for id in 0..surface.triangle_count() as u32 {
            let points = surface.positions_of(TriangleId(id));
            for k in 0..3 {
                let mut at = [0.0; 3];
                at[k] = 1.0;
                let normal = surface.smooth_normal(TriangleId(id), at);
                let diagonal = (points[k] - DVec3::splat(0.5)).normalize_or_zero();
                assert!((normal - diagonal).length() < 1e-6, "{normal} {diagonal}");
            }
        }
    }

    #[test]
    fn the_normal_is_one_from_both_sides_of_every_edge() {
        let surface = prepared(cube());
        let mut compared = 0;
        for id in 0..surface.triangle_count() as u32 {
            for edge in 0..3 {
                for &other in surface.neighbours(TriangleId(id), edge) {
                    let mut at = [0.0; 3];
                    (at[edge], at[(edge + 1) % 3]) = (0.3, 0.7);
                    let point = surface.position(TriangleId(id), at);
                    let there = surface.nearest_on(other, point);
                    let (a, b) = (
                        surface.smooth_normal(TriangleId(id), at),
                        surface.smooth_normal(other, there.barycentric),
                    );
                    assert!((a - b).length() < 1e-9);
                    compared += 1;
                }
            }
        }
        assert_eq!(compared, 36);
    }

    #[test]
    fn a_sheet_of_two_opposed_faces_falls_back_to_each_faces_own_normal() {
        let (a, b, c) = ([0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]);
        let surface = prepared(soup(&[([a, b, c], 0), ([a, c, b], 0)]));
        let at = [0.2, 0.3, 0.5];
        assert_eq!(surface.smooth_normal(TriangleId(0), at), DVec3::Z);
        assert_eq!(surface.smooth_normal(TriangleId(1), at), DVec3::NEG_Z);
    }
}
