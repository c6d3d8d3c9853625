//! Padding carried across seams: which point of the surface a texel just outside of an island shows.
//!
//! The owner's plane is followed past the border to where the texel would be. Where the surface goes on
//! there, under another piece of the layout, that way is laid over it: turned about the shared edge
//! into the next triangle's plane, and so on from triangle to triangle, as unrolled paper would lie
//! (a straightest geodesic: Polthier and Schmies, 1998). Where the surface ends, or another material
//! begins, the point stays in the owner's plane; further on it stops at that end.
//!
//! The ways of a tile are followed together, one triangle at a time: each next number of a way waits
//! for its last, and the processor works on another way meanwhile.

use glam::DVec3;
use rustc_hash::FxHashMap;

use crate::affine::weighted;
use crate::{Surface, TriangleId};

/// Triangles that one way may cross.
const MOST_STEPS: usize = 512;
/// How far a weight may be below zero and still count as inside.
const INSIDE: f64 = -1e-12;

/// A triangle that a [`Walker`] has met: an index into its list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Met(u32);

/// Where a way ends.
#[derive(Debug, Clone, Copy)]
pub(crate) struct End {
    pub(crate) triangle: Met,
    /// Of its corners; not all are positive where the surface does not go on.
    pub(crate) weights: [f64; 3],
}

/// How the plane of a triangle continues across one of its edges.
#[derive(Debug, Clone, Copy)]
struct Crossing {
    /// The triangle across.
    next: Met,
    /// Its corners: the ones that the edge's first and second are, and the third.
    corners: [u8; 3],
    /// Where a way goes on that passes by the first of these corners, and by the second.
    exits: [Exit; 2],
    /// Where the corner opposite the edge comes to lie when its triangle is turned about the edge into
    /// the plane of `next`: weights of `corners`.
    opposite: [f64; 3],
}

/// The edge opposite a corner.
#[derive(Debug, Clone, Copy)]
struct Exit {
    /// From this corner of the triangle to the next.
    edge: u8,
    /// Which of [`Crossing::corners`] its ends are.
    first: u8,
    second: u8,
}

impl Crossing {
    fn new(next: Met, corners: [usize; 3], opposite: [f64; 3]) -> Self {
        let exit = |passed: usize| {
            let edge = (corners[passed] + 1) % 3;
            let ends = ((passed + 1) % 3, (passed + 2) % 3);
            let (first, second) = if corners[ends.0] == edge { ends } else { (ends.1, ends.0) };
            Exit { edge: edge as u8, first: first as u8, second: second as u8 }
        };
        let exits = [exit(0), exit(1)];
        Self { next, corners: corners.map(|corner| corner as u8), exits, opposite }
    }

    /// Weights in the plane of the triangle across, of a point given by weights in the plane of this
    /// one: both planes are laid flat, and affine maps keep weights. Here the edge's first corner, its
    /// second and the opposite one; there `corners`.
    #[inline]
    fn carry(&self, [first, second, opposite]: [f64; 3]) -> [f64; 3] {
        let [a, b, c] = self.opposite;
        [a * opposite + first, b * opposite + second, c * opposite]
    }

    /// Weights of the corners in the triangle's own order.
    #[inline]
    fn in_order(&self, weights: [f64; 3]) -> [f64; 3] {
        let mut ordered = [0.0; 3];
        for (corner, weight) in self.corners.into_iter().zip(weights) {
            ordered[corner as usize] = weight;
        }
        ordered
    }
}

/// The number, or zero where it is below.
#[inline]
fn positive(number: f64) -> f64 {
    if number > 0.0 { number } else { 0.0 }
}

/// An edge of a triangle as the walker knows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Across {
    Unknown,
    /// An open border, another material, or no area.
    Closed,
    /// An index into the walker's crossings.
    Open(u32),
}

/// A way at an edge that it is about to cross.
#[derive(Debug, Clone, Copy)]
struct Way {
    /// Which of the ways that were begun.
    slot: u32,
    crossing: u32,
    /// Where it meets the edge: how far along.
    share: f64,
    /// Where it goes: weights of the edge's first corner, its second and the opposite one.
    target: [f64; 3],
}

/// Follows ways over the surface; remembers each triangle that one has met and each edge that one has
/// crossed.
pub(crate) struct Walker<'a> {
    surface: &'a Surface,
    met: FxHashMap<TriangleId, Met>,
    triangles: Vec<(TriangleId, [DVec3; 3])>,
    across: Vec<[Across; 3]>,
    crossings: Vec<Crossing>,
    ends: Vec<End>,
    open: Vec<Way>,
}

impl<'a> Walker<'a> {
    pub(crate) fn new(surface: &'a Surface) -> Self {
        Self {
            surface,
            met: FxHashMap::default(),
            triangles: Vec::new(),
            across: Vec::new(),
            crossings: Vec::new(),
            ends: Vec::new(),
            open: Vec::new(),
        }
    }

    pub(crate) fn meet(&mut self, id: TriangleId) -> Met {
        let next = Met(self.triangles.len() as u32);
        let met = *self.met.entry(id).or_insert(next);
        if met == next {
            self.triangles.push((id, self.surface.positions_of(id)));
            self.across.push([Across::Unknown; 3]);
        }
        met
    }

    /// Which triangle it is, and where its corners are.
    pub(crate) fn triangle(&self, met: Met) -> (TriangleId, &[DVec3; 3]) {
        let (id, corners) = &self.triangles[met.0 as usize];
        (*id, corners)
    }

    /// Begins a way from a point of a border (`share` of the way along `edge` of `triangle`) towards
    /// the point with weights `target`, not longer than `longest`.
    pub(crate) fn begin(
        &mut self,
        (triangle, edge, share): (Met, usize, f64),
        target: [f64; 3],
        longest: f64,
    ) {
        let start = on_edge(edge, share);
        let change = [0, 1, 2].map(|k| target[k] - start[k]);
        let length = weighted(*self.triangle(triangle).1, change).length();
        let kept = if length > longest { longest / length } else { 1.0 };
        let target = [0, 1, 2].map(|k| start[k] + change[k] * kept);
        let slot = self.ends.len() as u32;
        self.ends.push(End { triangle, weights: target });
        // A way that can't leave over its first edge ends in the triangle's plane.
        if target[(edge + 2) % 3] >= 0.0 {
            return;
        }
        if let Across::Open(crossing) = self.across(triangle, edge) {
            let target = [0, 1, 2].map(|k| target[(edge + k) % 3]);
            self.open.push(Way { slot, crossing, share, target });
        }
    }

    /// Follows all ways that were begun since the last call: where they end, in the order in which they
    /// were begun, on the surface across where there is one, else in their first triangle's plane.
    pub(crate) fn follow(&mut self, ends: &mut Vec<End>) {
        let mut open = std::mem::take(&mut self.open);
        for step in 1..=MOST_STEPS {
            let mut kept = 0;
            for index in 0..open.len() {
                let way = open[index];
                match self.step(&way, step == MOST_STEPS) {
                    Ok(further) => {
                        open[kept] = further;
                        kept += 1;
                    }
                    Err(end) => self.ends[way.slot as usize] = end,
                }
            }
            open.truncate(kept);
            if open.is_empty() {
                break;
            }
        }
        self.open = open;
        std::mem::swap(ends, &mut self.ends);
        self.ends.clear();
    }

    /// Crosses the edge and goes on to the next one, unless it is the `last` step that a way may take.
    #[inline]
    fn step(&mut self, way: &Way, last: bool) -> Result<Way, End> {
        let crossing = &self.crossings[way.crossing as usize];
        let next = crossing.next;
        let start = crossing.carry([1.0 - way.share, way.share, 0.0]);
        let target = crossing.carry(way.target);
        // Both are computed: which of the two edges it meets first can't be foreseen.
        let part = |corner: usize| {
            let from = positive(start[corner]);
            let part = from / (from - target[corner]);
            if target[corner] < INSIDE { part } else { f64::INFINITY }
        };
        let (first, second) = (part(0), part(1));
        let passed = usize::from(second < first);
        let part = if second < first { second } else { first };
        if part == f64::INFINITY {
            let weights = crossing.in_order(target);
            return Err(End { triangle: next, weights });
        }
        let exit = crossing.exits[passed];
        let (first, second) = (exit.first as usize, exit.second as usize);
        let at = |corner: usize| positive(start[corner] + (target[corner] - start[corner]) * part);
        let (from, to) = (at(first), at(second));
        let share = if from + to > 0.0 { to / (from + to) } else { 0.5 };
        let edge = exit.edge as usize;
        match self.across(next, edge) {
            Across::Open(crossing) if !last => {
                let target = [target[first], target[second], target[passed]];
                Ok(Way { slot: way.slot, crossing, share, target })
            }
            _ => Err(End { triangle: next, weights: on_edge(edge, share) }),
        }
    }

    #[inline]
    fn across(&mut self, triangle: Met, edge: usize) -> Across {
        match self.across[triangle.0 as usize][edge] {
            Across::Unknown => self.explore(triangle, edge),
            known => known,
        }
    }

    #[cold]
    fn explore(&mut self, triangle: Met, edge: usize) -> Across {
        let crossing = crossing(self.surface, self.triangle(triangle).0, edge);
        let across = crossing.map_or(Across::Closed, |(next, corners, opposite)| {
            let next = self.meet(next);
            self.crossings.push(Crossing::new(next, corners, opposite));
            Across::Open(self.crossings.len() as u32 - 1)
        });
        self.across[triangle.0 as usize][edge] = across;
        across
    }
}

/// What a [`Crossing`] holds; `None` at an open border, at another material, and where a triangle has no
/// area.
fn crossing(
    surface: &Surface,
    triangle: TriangleId,
    edge: usize,
) -> Option<(TriangleId, [usize; 3], [f64; 3])> {
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
    let corners = [first, second, 3 - first - second];
    Some((next, corners, corners.map(|corner| weights[corner])))
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
