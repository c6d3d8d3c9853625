//! The tree of boxes over all triangles: traversed for rays by a library, walked here for distances.
//!
//! Boxes are f32, in a frame that takes the model to -1..1, and wider than the triangles by more than
//! all rounding: so a box never hides a triangle that the exact tests (f64, in model units) would find,
//! however large or far off the model is.

use std::fmt;

use glam::DVec3;
use obvhs::aabb::Aabb;
use obvhs::bvh2::Bvh2;
use obvhs::ray::{Ray as TreeRay, RayHit as TreeHit};

use crate::TriangleId;
use crate::tree_build::{DEEPEST, build};

/// How much wider boxes are on each side, in the frame of -1..1. Rounding of a ray's origin, direction
/// and box distances stays below 2e-6 there (six operations of 2^-24 each over a length of 3.5).
const WIDER: f32 = 4e-6;
/// How far past a hit the search goes on, in the same frame.
const PAST_HIT: f64 = 1e-5;

/// See the module.
pub(crate) struct Tree {
    boxes: Bvh2,
    centre: DVec3,
    half_extent: f64,
}

impl fmt::Debug for Tree {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter
            .debug_struct("Tree")
            .field("nodes", &self.boxes.nodes.len())
            .finish_non_exhaustive()
    }
}

impl Tree {
    /// From the corners of every triangle.
    pub(crate) fn new(count: usize, corners_of: impl Fn(TriangleId) -> [DVec3; 3]) -> Self {
        let ids = || (0..count as u32).map(TriangleId);
        let none = (DVec3::splat(f64::INFINITY), DVec3::splat(f64::NEG_INFINITY));
        let (low, high) = ids()
            .flat_map(&corners_of)
            .fold(none, |(low, high), point| (low.min(point), high.max(point)));
        let centre = (low + high) / 2.0;
        let widest = (high - low).max_element() / 2.0;
        let half_extent = if widest > 0.0 { widest } else { 1.0 };
        let boxes: Vec<Aabb> = ids()
            .map(|id| {
                let [a, b, c] = corners_of(id);
                let inside = |p: DVec3| ((p - centre) / half_extent).as_vec3a();
                Aabb::new(inside(a.min(b).min(c)) - WIDER, inside(a.max(b).max(c)) + WIDER)
            })
            .collect();
        Self { boxes: build(&boxes), centre, half_extent }
    }

    /// Half of the model's widest extent, in model units; 1 where it has none.
    pub(crate) fn half_extent(&self) -> f64 {
        self.half_extent
    }

    /// Calls `hit` with each triangle whose box the ray meets before `limit`, roughly from near to far.
    /// `direction` must be of unit length, `limit` in model units. Where `hit` gives a distance,
    /// boxes that lie beyond it are left out from then on.
    pub(crate) fn along_ray(
        &self,
        origin: DVec3,
        direction: DVec3,
        limit: f64,
        mut hit: impl FnMut(TriangleId) -> Option<f64>,
    ) {
        let Some((ray, start)) = self.enter(origin, direction, limit) else { return };
        self.boxes.ray_traverse(ray, &mut TreeHit::none(), |_, index| {
            let distance = hit(TriangleId(self.boxes.primitive_indices[index]));
            distance.map_or(f32::INFINITY, |d| (d / self.half_extent - start + PAST_HIT) as f32)
        });
    }

    /// True as soon as `blocks` is for a triangle whose box the ray meets before `limit`.
    pub(crate) fn any_along_ray(
        &self,
        origin: DVec3,
        direction: DVec3,
        limit: f64,
        mut blocks: impl FnMut(TriangleId) -> bool,
    ) -> bool {
        let Some((ray, _)) = self.enter(origin, direction, limit) else { return false };
        !self.boxes.ray_traverse_miss(ray, |_, index| {
            if blocks(TriangleId(self.boxes.primitive_indices[index])) {
                -1.0
            } else {
                f32::INFINITY
            }
        })
    }

    /// A point in the frame of the boxes.
    pub(crate) fn to_frame(&self, point: DVec3) -> DVec3 {
        (point - self.centre) / self.half_extent
    }

    /// True as soon as `found` is for a triangle in a leaf whose box `enters` lets in, as it does every
    /// box above it.
    #[inline]
    pub(crate) fn any_in(
        &self,
        mut enters: impl FnMut(u32, &Aabb) -> bool,
        mut found: impl FnMut(TriangleId) -> bool,
    ) -> bool {
        let nodes = &self.boxes.nodes;
        if nodes.is_empty() || !enters(0, nodes[0].aabb()) {
            return false;
        }
        let mut open = [0; DEEPEST + 1];
        let mut waiting = 1;
        while waiting > 0 {
            waiting -= 1;
            let index = open[waiting];
            if nodes[index as usize].is_leaf() {
                if self.triangles_of(index).any(&mut found) {
                    return true;
                }
                continue;
            }
            let first = nodes[index as usize].first_index;
            for child in [first, first + 1] {
                if enters(child, nodes[child as usize].aabb()) {
                    open[waiting] = child;
                    waiting += 1;
                }
            }
        }
        false
    }

    /// How many boxes there are; they are numbered from the root, each before its children.
    pub(crate) fn node_count(&self) -> usize {
        self.boxes.nodes.len()
    }

    /// The two boxes in a box; `None` for a leaf.
    pub(crate) fn children_of(&self, node: u32) -> Option<[u32; 2]> {
        let node = &self.boxes.nodes[node as usize];
        (!node.is_leaf()).then_some([node.first_index, node.first_index + 1])
    }

    /// The leaves of the tree.
    pub(crate) fn leaves(&self) -> impl Iterator<Item = u32> {
        let nodes = self.boxes.nodes.iter().enumerate();
        nodes.filter(|(_, node)| node.is_leaf()).map(|(index, _)| index as u32)
    }

    /// One box, in their frame.
    #[cfg(test)]
    pub(crate) fn box_of(&self, node: u32) -> &Aabb {
        self.boxes.nodes[node as usize].aabb()
    }

    /// The triangles of a leaf.
    #[inline]
    pub(crate) fn triangles_of(&self, leaf: u32) -> impl Iterator<Item = TriangleId> + Clone {
        let node = &self.boxes.nodes[leaf as usize];
        let first = node.first_index as usize;
        let ids = &self.boxes.primitive_indices[first..first + node.prim_count as usize];
        ids.iter().map(|&id| TriangleId(id))
    }

    /// The triangles of all leaves whose boxes meet that of this one, its own among them, until `found`
    /// says that it is enough.
    pub(crate) fn near_leaf(&self, leaf: u32, found: impl FnMut(TriangleId) -> bool) {
        let boxed = *self.boxes.nodes[leaf as usize].aabb();
        self.any_in(|_, other| boxed.intersect_aabb(other), found);
    }

    /// The ray in the tree's frame, begun where it enters the outermost box, and that distance (in the
    /// frame). `None` where it misses that box.
    fn enter(&self, origin: DVec3, direction: DVec3, limit: f64) -> Option<(TreeRay, f64)> {
        let from = (origin - self.centre) / self.half_extent;
        if !from.is_finite() || !direction.is_finite() {
            return None;
        }
        let (mut near, mut far) = (0.0f64, limit / self.half_extent);
        for axis in 0..3 {
            let reach = 1.0 + f64::from(WIDER);
            if direction[axis] == 0.0 {
                if from[axis].abs() > reach {
                    return None;
                }
                continue;
            }
            let (a, b) =
                ((-reach - from[axis]) / direction[axis], (reach - from[axis]) / direction[axis]);
            (near, far) = (near.max(a.min(b)), far.min(a.max(b)));
        }
        if near > far {
            return None;
        }
        let start = (from + direction * near).as_vec3a();
        let length = (far - near + PAST_HIT) as f32;
        Some((TreeRay::new(start, direction.as_vec3a(), 0.0, length), near))
    }

    /// Visits triangles by the distance of their boxes from `point`, nearest boxes first. `visit` gives
    /// the squared distance, in model units, beyond which nothing more is wanted.
    pub(crate) fn around(
        &self,
        point: DVec3,
        mut within_squared: f64,
        mut visit: impl FnMut(TriangleId) -> f64,
    ) {
        let at = (point - self.centre) / self.half_extent;
        if self.boxes.nodes.is_empty() || !at.is_finite() {
            return;
        }
        let to_frame = 1.0 / (self.half_extent * self.half_extent);
        let distance = |index: u32| {
            let aabb = self.boxes.nodes[index as usize].aabb();
            let (low, high) = (aabb.min.as_dvec3(), aabb.max.as_dvec3());
            (low - at).max(at - high).max(DVec3::ZERO).length_squared()
        };
        let mut open = vec![(0, distance(0))];
        while let Some((index, near)) = open.pop() {
            if near > within_squared * to_frame {
                continue;
            }
            let node = &self.boxes.nodes[index as usize];
            let first = node.first_index;
            if node.is_leaf() {
                for slot in first..first + node.prim_count {
                    let id = self.boxes.primitive_indices[slot as usize];
                    within_squared = visit(TriangleId(id));
                }
            } else {
                let (left, right) = ((first, distance(first)), (first + 1, distance(first + 1)));
                open.extend(if left.1 <= right.1 { [right, left] } else { [left, right] });
            }
        }
    }

    /// Bytes of memory that the tree takes.
    pub(crate) fn bytes(&self) -> usize {
        size_of_val(&*self.boxes.nodes) + size_of_val(&*self.boxes.primitive_indices)
    }
}
