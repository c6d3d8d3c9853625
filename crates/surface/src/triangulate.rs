//! Polygons to triangles. The mesh keeps its polygons; triangles are derived and point back at them.
//!
//! A polygon of n corners gives n - 2 triangles: a fan where it is strictly convex, cut ears where it
//! is not (corners on a straight line are kept, so that every edge of the polygon is an edge of exactly
//! one triangle). A fan again where ears can't be cut: without area, or crossing itself.

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
        self.cut.extend(self.ears.as_chunks().0);
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
    fn stars_with_corners_on_their_straight_sides_keep_every_corner() {
        for spikes in 3..9u32 {
            for cuts in 1..4u32 {
                let tip = |k: u32| {
                    let angle = std::f64::consts::PI * f64::from(k) / f64::from(spikes);
                    let radius = if k.is_multiple_of(2) { 3.0 } else { 1.0 };
                    DVec3::new(angle.cos(), angle.sin(), 0.5) * radius
                };
                let corner = |k: u32| {
                    let at = tip(k / cuts)
                        .lerp(tip(k / cuts + 1), f64::from(k % cuts) / f64::from(cuts));
                    [(at.x * 64.0).round() as f32, (at.y * 64.0).round() as f32, 0.5]
                };
                check(&(0..spikes * 2 * cuts).map(corner).collect::<Vec<_>>());
            }
        }
    }

    #[test]
    fn corners_on_a_straight_line_are_kept() {
        // An L and a U on a grid of unit steps.
        let walk = |turns: &[(f32, f32)]| {
            let mut at = (0.0, 0.0);
            let step = |&(x, y): &(f32, f32)| {
                at = (at.0 + x, at.1 + y);
                [at.0, at.1, 2.0]
            };
            turns.iter().map(step).collect::<Vec<_>>()
        };
        let (r, u, l, d) = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0));
        check(&walk(&[r, r, r, r, u, u, l, l, u, u, l, l, d, d, d, d]));
        check(&walk(&[r, r, r, u, u, u, l, d, d, l, u, u, l, d, d, d]));
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
