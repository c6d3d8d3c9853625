//! Padding carried across seams: which point of the surface a texel just outside of an island shows.
//!
//! The owner's plane is followed past the border to where the texel would be. Where the surface goes on
//! there, under another piece of the layout, that way is laid over it: turned about the shared edge
//! into the next triangle's plane, and so on from triangle to triangle, as unrolled paper would lie
//! (a straightest geodesic: Polthier and Schmies, 1998). Where the surface ends, or another material
//! begins, the point stays in the owner's plane; further on it stops at that end.

use glam::DVec3;
use rustc_hash::FxHashMap;

use crate::affine::weighted;
use crate::{Surface, TriangleId};

/// Triangles that one way may cross.
const MOST_STEPS: usize = 512;
/// How far a weight may be below zero and still count as inside.
const INSIDE: f64 = -1e-12;

/// How the plane of a triangle continues across one of its edges.
#[derive(Debug, Clone, Copy)]
struct Crossing {
    /// The triangle across, and its corners that the edge's first and second are.
    next: TriangleId,
    first: usize,
    second: usize,
    /// Where the corner opposite the edge comes to lie when its triangle is turned about the edge into
    /// the plane of `next`: weights of the corners there.
    opposite: [f64; 3],
}

impl Crossing {
    /// Weights in the plane of the triangle across, of a point given by weights in the plane of this
    /// one: both planes are laid flat, and affine maps keep weights.
    fn carry(&self, edge: usize, weights: [f64; 3]) -> [f64; 3] {
        let mut carried = self.opposite.map(|weight| weight * weights[(edge + 2) % 3]);
        carried[self.first] += weights[edge];
        carried[self.second] += weights[(edge + 1) % 3];
        carried
    }
}

/// Follows ways over the surface; remembers each edge that one has crossed.
pub(crate) struct Walker<'a> {
    surface: &'a Surface,
    crossings: FxHashMap<(TriangleId, usize), Option<Crossing>>,
}

impl<'a> Walker<'a> {
    pub(crate) fn new(surface: &'a Surface) -> Self {
        Self { surface, crossings: FxHashMap::default() }
    }

    /// A way from a point of a border (`share` of the way along `edge` of `triangle`) towards the point
    /// with weights `target`, not longer than `longest`: where it ends, on the surface across where
    /// there is one, else in the triangle's plane.
    pub(crate) fn carry(
        &mut self,
        (triangle, edge, share): (TriangleId, usize, f64),
        target: [f64; 3],
        longest: f64,
    ) -> (TriangleId, [f64; 3]) {
        let start = on_edge(edge, share);
        let change = [0, 1, 2].map(|k| target[k] - start[k]);
        let length = weighted(self.surface.positions_of(triangle), change).length();
        let kept = if length > longest { longest / length } else { 1.0 };
        let target = [0, 1, 2].map(|k| start[k] + change[k] * kept);
        self.follow(triangle, edge, start, target).unwrap_or((triangle, target))
    }

    /// `None` where the way can't leave over its first edge.
    fn follow(
        &mut self,
        mut triangle: TriangleId,
        mut edge: usize,
        mut start: [f64; 3],
        mut target: [f64; 3],
    ) -> Option<(TriangleId, [f64; 3])> {
        if target[(edge + 2) % 3] >= 0.0 {
            return None;
        }
        let mut crossing = self.crossing(triangle, edge)?;
        for _ in 0..MOST_STEPS {
            (start, target) = (crossing.carry(edge, start), crossing.carry(edge, target));
            triangle = crossing.next;
            let leaving = [crossing.first, crossing.second]
                .into_iter()
                .filter(|&corner| target[corner] < INSIDE)
                .map(|corner| (start[corner].max(0.0), corner))
                .map(|(from, corner)| (from / (from - target[corner]), corner))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((part, corner)) = leaving else { return Some((triangle, target)) };
            edge = (corner + 1) % 3;
            let at = [0, 1, 2].map(|k| start[k] + (target[k] - start[k]) * part);
            let (from, to) = (at[edge].max(0.0), at[(edge + 1) % 3].max(0.0));
            start = on_edge(edge, if from + to > 0.0 { to / (from + to) } else { 0.5 });
            match self.crossing(triangle, edge) {
                Some(next) => crossing = next,
                None => return Some((triangle, start)),
            }
        }
        Some((triangle, start))
    }

    fn crossing(&mut self, triangle: TriangleId, edge: usize) -> Option<Crossing> {
        let surface = self.surface;
        *self.crossings.entry((triangle, edge)).or_insert_with(|| crossing(surface, triangle, edge))
    }
}

/// `None` at an open border, at another material, and where a triangle has no area.
fn crossing(surface: &Surface, triangle: TriangleId, edge: usize) -> Option<Crossing> {
    let (next, its_edge) = flattest_neighbour(surface, triangle, edge)?;
    let here = surface.positions_of(triangle);
    let there = surface.positions_of(next);
    let (from, to) = (here[edge], here[(edge + 1) % 3]);
    let along = (to - from).try_normalize()?;
    let upright = |tip: DVec3| (tip - from) - along * (tip - from).dot(along);
    let opposite = here[(edge + 2) % 3] - from;
    let inward = upright(there[(its_edge + 2) % 3]).try_normalize()?;
    let turned = along * opposite.dot(along) - inward * upright(here[(edge + 2) % 3]).length();
    let same_way = surface.vertex_of(triangle, edge) == surface.vertex_of(next, its_edge);
    let ends = (its_edge, (its_edge + 1) % 3);
    let (first, second) = if same_way { ends } else { (ends.1, ends.0) };
    let mut weights = weight_changes(there, turned)?;
    weights[first] += 1.0;
    Some(Crossing { next, first, second, opposite: weights })
}

/// Weights of a point on an edge.
fn on_edge(edge: usize, share: f64) -> [f64; 3] {
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

/// The triangle of the same material across an edge, and its edge. Where there are several: one that
/// shows the same side; of those the one that bends least; of equal ones the lowest.
fn flattest_neighbour(
    surface: &Surface,
    triangle: TriangleId,
    edge: usize,
) -> Option<(TriangleId, usize)> {
    let from = surface.vertex_of(triangle, edge);
    let to = surface.vertex_of(triangle, (edge + 1) % 3);
    let edge_of = |other: TriangleId| {
        let at = [0, 1, 2].map(|k| surface.vertex_of(other, k));
        (0..3).find(|&k| {
            let ends = (at[k], at[(k + 1) % 3]);
            ends == (from, to) || ends == (to, from)
        })
    };
    let neighbours = surface.neighbours(triangle, edge);
    let mut candidates = neighbours
        .iter()
        .filter(|&&other| surface.material_of(other) == surface.material_of(triangle))
        .filter_map(|&other| Some((other, edge_of(other)?)));
    if neighbours.len() == 1 {
        return candidates.next();
    }
    let normal = surface.geometric_normal(triangle);
    candidates
        .map(|(other, its_edge)| {
            // Triangles of one side run along their edge in opposite directions.
            let turned = surface.vertex_of(other, its_edge) == from;
            let cosine = normal.dot(surface.geometric_normal(other));
            (turned, if turned { cosine } else { -cosine }, other, its_edge)
        })
        .min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)))
        .map(|(_, _, other, its_edge)| (other, its_edge))
}

#[cfg(test)]
mod tests;
