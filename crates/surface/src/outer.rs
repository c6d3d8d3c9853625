//! Which triangles are *outer*: their front lies outside of every closed shell, at each of its points.
//!
//! Every point that lies on no triangle has a winding number: how often the closed pieces (see
//! [`crate::components`]) enclose it. It is 0 far outside and changes by one where a triangle is
//! crossed. So it is one number in front of a whole triangle, and of its neighbours, unless other
//! triangles pass through them: regions of triangles that nothing passes through are found first,
//! then one ray for each region counts what it crosses on its way out.
//!
//! Triangles that share an edge are taken to meet there alone. Those that share one vertex pass
//! through each other only where an edge clearly does; all others where they are not clearly apart.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use glam::DVec3;
use rayon::prelude::*;

use crate::islands::{root, unite};
use crate::raycast::{Crossing, Sheared};
use crate::{Surface, TriangleId};

/// Triangles nearer than this share of the model's half extent touch. Ours: a little more than the
/// resolution of f32 positions there (2^-24).
const TOUCHING: f64 = 1e-7;

/// So many pairs of near triangles are looked at for each triangle, on average; where there are more,
/// none is taken to be outer: the time would grow with the square of their number.
const PAIRS: usize = 512;

/// For each triangle whether it is outer.
pub(crate) fn outer_triangles(surface: &Surface) -> Vec<bool> {
    let count = surface.triangle_count() as u32;
    let pierced = pierced(surface);
    let whole = |id: TriangleId| surface.is_closed(id) && !pierced[id.0 as usize];
    let mut region: Vec<u32> = (0..count).collect();
    for id in (0..count).map(TriangleId).filter(|&id| whole(id)) {
        for edge in 0..3 {
            for &other in surface.neighbours(id, edge) {
                if other > id && whole(other) {
                    unite(&mut region, id.0, other.0);
                }
            }
        }
    }
    for id in 0..count {
        region[id as usize] = root(&mut region, id);
    }
    let area = |id: TriangleId| plane_of(surface.positions_of(id)).length_squared();
    // Of each region the largest triangle: a ray starts farthest from its edges there.
    let mut largest: Vec<u32> = (0..count).collect();
    for id in (0..count).filter(|&id| whole(TriangleId(id))) {
        let kept = &mut largest[region[id as usize] as usize];
        if area(TriangleId(id)) > area(TriangleId(*kept)) {
            *kept = id;
        }
    }
    let outer: Vec<bool> = (0..count)
        .into_par_iter()
        .map(|id| {
            region[id as usize] == id
                && whole(TriangleId(id))
                && is_outside(surface, TriangleId(largest[id as usize]))
        })
        .collect();
    (0..count).map(|id| whole(TriangleId(id)) && outer[region[id as usize] as usize]).collect()
}

fn plane_of([a, b, c]: [DVec3; 3]) -> DVec3 {
    (b - a).cross(c - a)
}

/// True where a ray from the front of the triangle's middle leaves as many closed pieces as it enters;
/// false where that can't be told.
fn is_outside(surface: &Surface, start: TriangleId) -> bool {
    let corners = surface.positions_of(start);
    let Some(normal) = plane_of(corners).try_normalize() else { return false };
    let from = (corners[0] + corners[1] + corners[2]) / 3.0;
    let aside = (corners[1] - corners[0]).normalize_or_zero();
    // Some directions, none of them along an axis of anything: a ray along an edge can't be counted.
    let turns = [(0.0, 0.0), (0.31, 0.17), (-0.23, 0.41), (0.13, -0.37), (-0.47, -0.29)];
    turns
        .into_iter()
        .find_map(|(along, across)| {
            let direction = normal + aside * along + normal.cross(aside) * across;
            enclosing(surface, start, from, direction.normalize_or_zero())
        })
        .is_some_and(|count| count == 0)
}

/// How many closed pieces hold the point, by a ray from it; `None` where the ray passes too near to an
/// edge to tell.
fn enclosing(surface: &Surface, start: TriangleId, from: DVec3, direction: DVec3) -> Option<i64> {
    let sheared = Sheared::new(from, direction);
    let (mut count, mut sure) = (0, true);
    surface.tree().along_ray(from, direction, f64::INFINITY, |id| {
        let corners = surface.positions_of(id);
        if id != start && surface.is_closed(id) && !is_point_or_line(surface, id) {
            match sheared.crossing(corners, TOUCHING * surface.tree().half_extent()) {
                Crossing::None => {}
                Crossing::Unsure => sure = false,
                Crossing::At => {
                    count += if plane_of(corners).dot(direction) > 0.0 { 1 } else { -1 };
                }
            }
        }
        None
    });
    sure.then_some(count)
}

/// Two corners at one vertex: nothing to cross.
fn is_point_or_line(surface: &Surface, id: TriangleId) -> bool {
    let [a, b, c] = [0, 1, 2].map(|corner| surface.vertex_of(id, corner));
    a == b || b == c || c == a
}

/// For each triangle of closed pieces: whether another one passes through it, or might.
fn pierced(surface: &Surface) -> Vec<bool> {
    let pierced: Vec<AtomicBool> =
        (0..surface.triangle_count()).map(|_| AtomicBool::new(false)).collect();
    let gap = TOUCHING * surface.tree().half_extent();
    let leaves: Vec<u32> = surface.tree().leaves().collect();
    let (seen, most) = (AtomicUsize::new(0), PAIRS * surface.triangle_count());
    let solid = |id: &TriangleId| surface.is_closed(*id) && !is_point_or_line(surface, *id);
    let mark = |id: TriangleId| pierced[id.0 as usize].store(true, Ordering::Relaxed);
    leaves.par_iter().for_each(|&leaf| {
        if seen.load(Ordering::Relaxed) > most {
            return;
        }
        let own = surface.tree().triangles_of(leaf).filter(solid);
        let own: Vec<_> = own.map(|id| (id, Placed::new(surface, id))).collect();
        let Some(lowest) = own.iter().map(|(id, _)| *id).min() else { return };
        let mut near = 0;
        surface.tree().near_leaf(leaf, |other| {
            near += 1;
            if other > lowest && solid(&other) {
                let there = Placed::new(surface, other);
                for (id, here) in own.iter().filter(|(id, _)| *id < other) {
                    if here.meets(&there, gap) {
                        mark(*id);
                        mark(other);
                    }
                }
            }
            near > most
        });
        seen.fetch_add(near, Ordering::Relaxed);
    });
    if seen.into_inner() > most {
        return vec![true; surface.triangle_count()];
    }
    pierced.into_iter().map(AtomicBool::into_inner).collect()
}

/// A triangle with what its pair tests read.
struct Placed {
    vertices: [u32; 3],
    corners: [DVec3; 3],
    low: DVec3,
    high: DVec3,
}

impl Placed {
    fn new(surface: &Surface, id: TriangleId) -> Self {
        let vertices =
            [surface.vertex_of(id, 0), surface.vertex_of(id, 1), surface.vertex_of(id, 2)];
        let corners = surface.positions_of(id);
        let [a, b, c] = corners;
        Self { vertices, corners, low: a.min(b).min(c), high: a.max(b).max(c) }
    }

    fn meets(&self, other: &Self, gap: f64) -> bool {
        if (self.low - gap).cmpgt(other.high).any() || (other.low - gap).cmpgt(self.high).any() {
            return false;
        }
        let mut shared = None;
        for (mine, vertex) in self.vertices.iter().enumerate() {
            for (its, there) in other.vertices.iter().enumerate() {
                if vertex == there {
                    if shared.is_some() {
                        return false;
                    }
                    shared = Some((mine, its));
                }
            }
        }
        match shared {
            Some((mine, its)) => {
                crosses(self.corners, other.corners, its)
                    || crosses(other.corners, self.corners, mine)
            }
            None => !are_apart(self.corners, other.corners, gap),
        }
    }
}

/// Whether the edge across from corner `tip` of `other` clearly passes through the triangle.
fn crosses([a, b, c]: [DVec3; 3], other: [DVec3; 3], tip: usize) -> bool {
    let (p, q) = (other[(tip + 1) % 3], other[(tip + 2) % 3]);
    let normal = plane_of([a, b, c]);
    let (above, below) = (normal.dot(p - a), normal.dot(q - a));
    if (above > 0.0) == (below > 0.0) || above == 0.0 || below == 0.0 {
        return false;
    }
    let volume = |from: DVec3, to: DVec3| (from - p).cross(to - p).dot(q - p);
    let sides = [volume(a, b), volume(b, c), volume(c, a)];
    sides.iter().all(|&side| side > 0.0) || sides.iter().all(|&side| side < 0.0)
}

/// Whether a plane parts the triangles by more than `gap`: two triangles that don't meet are parted
/// along one of their normals, of a normal and an edge, or of two edges (separating axis theorem).
fn are_apart(a: [DVec3; 3], b: [DVec3; 3], gap: f64) -> bool {
    let parted = |axis: DVec3| {
        let extent = |[p, q, r]: [DVec3; 3]| {
            let (p, q, r) = (axis.dot(p - a[0]), axis.dot(q - a[0]), axis.dot(r - a[0]));
            (p.min(q).min(r), p.max(q).max(r))
        };
        let (mine, its) = (extent(a), extent(b));
        let wanted = gap * axis.length();
        its.0 - mine.1 > wanted || mine.0 - its.1 > wanted
    };
    let edges = |[p, q, r]: [DVec3; 3]| [q - p, r - q, p - r];
    let (normal_a, normal_b) = (plane_of(a), plane_of(b));
    parted(normal_a)
        || parted(normal_b)
        || edges(a).into_iter().any(|edge| parted(normal_a.cross(edge)))
        || edges(b).into_iter().any(|edge| parted(normal_b.cross(edge)))
        || edges(a).into_iter().any(|e| edges(b).into_iter().any(|f| parted(e.cross(f))))
}

#[cfg(test)]
mod tests;
