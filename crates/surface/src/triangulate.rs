//! Polygons to triangles. The mesh keeps its polygons; triangles are derived and point back at them.
//!
//! A polygon of n corners gives n - 2 triangles: a fan where it is strictly convex, cut ears where it
//! is not. Ear cutting leaves out corners that lie on a straight line; they are put back by splitting
//! the triangle at that line, so that every edge of the polygon is an edge of exactly one triangle.

use earcut::Earcut;
use glam::{DVec2, DVec3};

use crate::Mesh;
use crate::surface::Triangle;

/// The triangles of every face, in face order.
pub(crate) fn triangulate(mesh: &Mesh) -> Vec<Triangle> {
    let mut triangulator = Triangulator::default();
    let mut triangles = Vec::with_capacity(mesh.corners().len().saturating_sub(mesh.face_count()));
    for face in 0..mesh.face_count() {
        let corners = mesh.face(face);
        triangulator.cut(mesh, corners.clone());
        let first = corners.start as u32;
        triangles.extend(triangulator.cut.iter().map(|triangle| Triangle {
            corners: triangle.map(|corner| first + corner),
            face: face as u32,
        }));
    }
    triangles
}

#[derive(Default)]
struct Triangulator {
    earcut: Option<Earcut<f64>>,
    outline: Vec<DVec2>,
    ears: Vec<u32>,
    /// The result: triangles by corner of the polygon, from 0.
    cut: Vec<[u32; 3]>,
}

impl Triangulator {
    fn cut(&mut self, mesh: &Mesh, corners: std::ops::Range<usize>) {
        self.cut.clear();
        let count = corners.len() as u32;
        if count > 3 {
            let points = mesh.corners()[corners]
                .iter()
                .map(|corner| mesh.positions()[corner.position as usize].as_dvec3());
            if self.project(points) && !self.is_convex() {
                self.cut_ears();
            }
        }
        if self.cut.len() as u32 != count - 2 {
            self.cut.clear();
            self.cut.extend((1..count - 1).map(|second| [0, second, second + 1]));
        }
    }

    /// Lays the outline flat along its Newell normal, counter-clockwise. False where it has no area.
    fn project(&mut self, points: impl Iterator<Item = DVec3> + Clone) -> bool {
        let Some(first) = points.clone().next() else { return false };
        let next = points.clone().skip(1).chain([first]);
        let normal: DVec3 =
            points.clone().zip(next).map(|(a, b)| (a - first).cross(b - first)).sum();
        let Some(normal) = normal.try_normalize() else { return false };
        let (right, up) = normal.any_orthonormal_pair();
        let flat = points.map(|p| DVec2::new((p - first).dot(right), (p - first).dot(up)));
        self.outline.clear();
        self.outline.extend(flat);
        true
    }

    /// Strictly convex, and once round: then every triangle of a fan has area.
    fn is_convex(&self) -> bool {
        let count = self.outline.len();
        let at = |index: usize| self.outline[index % count];
        let turns = |i: usize| (at(i + 1) - at(i)).perp_dot(at(i + 2) - at(i + 1));
        let extent = self.outline.iter().fold(0.0f64, |most, p| most.max(p.abs().max_element()));
        let straight = extent * extent * 1e-12;
        (0..count).all(|i| turns(i) > straight)
            && (1..count - 1).all(|i| (at(i) - at(0)).perp_dot(at(i + 1) - at(0)) > straight)
    }

    fn cut_ears(&mut self) {
        let earcut = self.earcut.get_or_insert_with(Earcut::new);
        earcut.earcut(self.outline.iter().map(|p| [p.x, p.y]), &[], &mut self.ears);
        for ear in self.ears.chunks_exact(3) {
            let [a, b, c] = [ear[0], ear[1], ear[2]];
            let [pa, pb, pc] = [a, b, c].map(|corner| self.outline[corner as usize]);
            let turned = (pb - pa).perp_dot(pc - pa) < 0.0;
            self.cut.push(if turned { [a, c, b] } else { [a, b, c] });
        }
        self.put_back_left_out();
    }

    /// Where corners between two kept ones were left out, splits the triangle at that edge.
    fn put_back_left_out(&mut self) {
        let count = self.outline.len() as u32;
        if self.cut.len() as u32 + 2 >= count {
            return;
        }
        let mut kept = vec![false; count as usize];
        for &corner in self.cut.iter().flatten() {
            kept[corner as usize] = true;
        }
        let kept: Vec<u32> = (0..count).filter(|&corner| kept[corner as usize]).collect();
        for (index, &from) in kept.iter().enumerate() {
            let to = kept[(index + 1) % kept.len()];
            let between = (to + count - from - 1) % count;
            if between > 0 {
                self.split_at_edge(from, to, between);
            }
        }
    }

    fn split_at_edge(&mut self, from: u32, to: u32, between: u32) {
        let count = self.outline.len() as u32;
        let place = |triangle: &[u32; 3]| {
            (0..3).find(|&k| triangle[k] == from && triangle[(k + 1) % 3] == to)
        };
        let found = self
            .cut
            .iter()
            .enumerate()
            .find_map(|(index, triangle)| Some((index, place(triangle)?)));
        if let Some((index, edge)) = found {
            let tip = self.cut[index][(edge + 2) % 3];
            self.cut[index] = [from, (from + 1) % count, tip];
            let pieces = 1..=between;
            self.cut.extend(pieces.map(|k| [(from + k) % count, (from + k + 1) % count, tip]));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::polygon;

    fn area(mesh: &Mesh, triangle: &Triangle) -> f64 {
        let [a, b, c] = triangle.corners.map(|corner| {
            mesh.positions()[mesh.corners()[corner as usize].position as usize].as_dvec3()
        });
        (b - a).cross(c - a).z / 2.0
    }

    /// Shoelace formula, in a plane of constant z.
    fn outline_area(points: &[[f32; 3]]) -> f64 {
        let next = points.iter().cycle().skip(1);
        let twice = points
            .iter()
            .zip(next)
            .map(|(a, b)| f64::from(a[0]) * f64::from(b[1]) - f64::from(b[0]) * f64::from(a[1]));
        twice.sum::<f64>() / 2.0
    }

    fn check(points: &[[f32; 3]]) {
        let mesh = polygon(points);
        let triangles = triangulate(&mesh);
        assert_eq!(triangles.len(), points.len() - 2, "{points:?}");
        assert!(triangles.iter().all(|t| area(&mesh, t) > 0.0), "turned or empty: {points:?}");
        let sum: f64 = triangles.iter().map(|t| area(&mesh, t)).sum();
        assert!((sum - outline_area(points)).abs() < 1e-6, "{sum} of {points:?}");
    }

    #[test]
    fn concave_polygons_keep_their_area_and_give_two_triangles_less_than_corners() {
        let arrow = [[0.0, 0.0, 1.0], [2.0, 0.0, 1.0], [0.5, 0.5, 1.0], [0.0, 2.0, 1.0]];
        for turn in 0..4 {
            let mut turned = arrow;
            turned.rotate_left(turn);
            check(&turned);
        }
        let comb: Vec<[f32; 3]> = (0..6)
            .flat_map(|tooth| {
                let x = tooth as f32 * 2.0;
                [[x, 3.0, 0.0], [x + 1.0, 0.5, 0.0]]
            })
            .chain([[12.0, 3.0, 0.0], [12.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
            .rev()
            .collect();
        check(&comb);
    }

    #[test]
    fn corners_on_a_straight_line_are_kept() {
        check(&[
            [0.0, 0.0, 0.0],
            [1.0, 0.0, 0.0],
            [2.0, 0.0, 0.0],
            [3.0, 0.0, 0.0],
            [3.0, 1.0, 0.0],
            [1.5, 1.0, 0.0],
            [0.0, 1.0, 0.0],
        ]);
        check(&[[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [2.0, 0.0, 0.0], [1.0, 1.0, 0.0]]);
    }

    #[test]
    fn polygons_without_area_or_that_cross_themselves_still_give_triangles() {
        for points in [
            vec![[1.0, 1.0, 1.0]; 5],
            vec![[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [2.0, 0.0, 0.0], [3.0, 0.0, 0.0]],
            vec![[0.0, 0.0, 0.0], [1.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]],
        ] {
            assert_eq!(triangulate(&polygon(&points)).len(), points.len() - 2);
        }
    }
}
