//! Padding carried across seams: which point of the surface a texel just outside of an island shows.
//!
//! The owner's plane is followed past the border to where the texel would be. Where the surface goes on
//! there, under another piece of the layout, that way is laid over it: turned about the shared edge
//! into the next triangle's plane, and so on from triangle to triangle, as unrolled paper would lie
//! (a straightest geodesic: Polthier and Schmies, 1998). Where the surface ends, or another material
//! begins, the point stays in the owner's plane; further on it stops at that end.

use glam::DVec3;

use crate::affine::weighted;
use crate::{Surface, TriangleId};

/// Triangles that one way may cross.
const MOST_STEPS: usize = 512;
/// How far a weight may be below zero and still count as inside.
const INSIDE: f64 = -1e-12;

/// A point and a way on from it, in the plane of the triangle.
pub(crate) struct Way {
    pub(crate) triangle: TriangleId,
    /// The edge that the point lies on and the way crosses.
    pub(crate) edge: usize,
    /// Where on that edge: 0 at its first corner, 1 at the next.
    pub(crate) share: f64,
    /// Model units.
    pub(crate) step: DVec3,
}

impl Way {
    /// Where the way ends; `None` where it can't cross its first edge.
    pub(crate) fn follow(self, surface: &Surface) -> Option<(TriangleId, [f64; 3])> {
        let mut way = self.cross(surface)?;
        for _ in 0..MOST_STEPS {
            let corners = surface.positions_of(way.triangle);
            let start = on_edge(way.edge, way.share);
            let change = weight_changes(corners, way.step)?;
            let end = [0, 1, 2].map(|k| start[k] + change[k]);
            let tip = (way.edge + 2) % 3;
            let leaving = (0..3)
                .filter(|&corner| corner != tip && end[corner] < INSIDE)
                .map(|corner| (start[corner] / (start[corner] - end[corner]), corner))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((part, corner)) = leaving else { return Some((way.triangle, end)) };
            let edge = (corner + 1) % 3;
            let at = [0, 1, 2].map(|k| start[k] + change[k] * part);
            let (from, to) = (at[edge].max(0.0), at[(edge + 1) % 3].max(0.0));
            let share = if from + to > 0.0 { to / (from + to) } else { 0.5 };
            let here = Self { triangle: way.triangle, edge, share, step: way.step * (1.0 - part) };
            match here.cross(surface) {
                Some(next) => way = next,
                None => return Some((here.triangle, on_edge(edge, share))),
            }
        }
        Some((way.triangle, on_edge(way.edge, way.share)))
    }

    /// The same way, turned about its edge into the triangle across, and that triangle's edge.
    fn cross(&self, surface: &Surface) -> Option<Self> {
        let (next, edge) = flattest_neighbour(surface, self.triangle, self.edge)?;
        let here = EdgeFrame::new(surface.positions_of(self.triangle), self.edge)?;
        let there = EdgeFrame::new(surface.positions_of(next), edge)?;
        let same_way =
            surface.vertex_of(self.triangle, self.edge) == surface.vertex_of(next, edge);
        let (mut along, onward) = (self.step.dot(here.along), -self.step.dot(here.inward));
        if onward <= 0.0 {
            return None;
        }
        let mut share = self.share;
        if !same_way {
            (along, share) = (-along, 1.0 - share);
        }
        Some(Self { triangle: next, edge, share, step: there.along * along + there.inward * onward })
    }
}

/// Directions of unit length: along an edge, and from it into its triangle.
struct EdgeFrame {
    along: DVec3,
    inward: DVec3,
}

impl EdgeFrame {
    /// `None` where the triangle has no area.
    fn new(corners: [DVec3; 3], edge: usize) -> Option<Self> {
        let (from, to) = (corners[edge], corners[(edge + 1) % 3]);
        let along = (to - from).try_normalize()?;
        let tip = corners[(edge + 2) % 3] - from;
        let inward = (tip - along * tip.dot(along)).try_normalize()?;
        Some(Self { along, inward })
    }
}

/// Weights of a point on an edge.
pub(crate) fn on_edge(edge: usize, share: f64) -> [f64; 3] {
    let mut weights = [0.0; 3];
    weights[edge] = 1.0 - share;
    weights[(edge + 1) % 3] = share;
    weights
}

/// How the weights change along a step in the triangle's plane; `None` where it has no area.
fn weight_changes([a, b, c]: [DVec3; 3], step: DVec3) -> Option<[f64; 3]> {
    let normal = (b - a).cross(c - a);
    let squared = normal.length_squared();
    let second = normal.cross(a - c).dot(step) / squared;
    let third = normal.cross(b - a).dot(step) / squared;
    (second.is_finite() && third.is_finite()).then_some([-second - third, second, third])
}

/// The triangle of the same material across an edge, and its edge. Where there are several, the one
/// that bends least; of equal ones the lowest.
fn flattest_neighbour(
    surface: &Surface,
    triangle: TriangleId,
    edge: usize,
) -> Option<(TriangleId, usize)> {
    let neighbours = surface.neighbours(triangle, edge);
    let from = surface.vertex_of(triangle, edge);
    let to = surface.vertex_of(triangle, (edge + 1) % 3);
    let edge_of = |other: TriangleId| {
        let at = [0, 1, 2].map(|k| surface.vertex_of(other, k));
        (0..3).find(|&k| {
            let ends = (at[k], at[(k + 1) % 3]);
            ends == (from, to) || ends == (to, from)
        })
    };
    let bend = |other: TriangleId, its_edge: usize| {
        let turned = surface.vertex_of(other, its_edge) == from;
        let cosine = surface.geometric_normal(triangle).dot(surface.geometric_normal(other));
        if turned { cosine } else { -cosine }
    };
    let alone = neighbours.len() == 1;
    neighbours
        .iter()
        .filter(|&&other| surface.material_of(other) == surface.material_of(triangle))
        .filter_map(|&other| Some((other, edge_of(other)?)))
        .map(|(other, its_edge)| (if alone { 0.0 } else { bend(other, its_edge) }, other, its_edge))
        .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))
        .map(|(_, other, its_edge)| (other, its_edge))
}

/// A way from a border towards the point with weights `target` of its triangle, not longer than
/// `longest`: where it ends, on the surface across where there is one, else in the triangle's plane.
pub(crate) fn carry(
    surface: &Surface,
    (triangle, edge, share): (TriangleId, usize, f64),
    target: [f64; 3],
    longest: f64,
) -> (TriangleId, [f64; 3]) {
    let corners = surface.positions_of(triangle);
    let start = on_edge(edge, share);
    let change = [0, 1, 2].map(|k| target[k] - start[k]);
    let step = weighted(corners, change);
    let length = step.length();
    let kept = if length > longest { longest / length } else { 1.0 };
    let way = Way { triangle, edge, share, step: step * kept };
    way.follow(surface)
        .unwrap_or_else(|| (triangle, [0, 1, 2].map(|k| start[k] + change[k] * kept)))
}

#[cfg(test)]
mod tests;
