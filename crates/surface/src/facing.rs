//! For each box of the tree, which way its triangles face: a search passes over a whole box of outer
//! triangles that all face the eye.

use glam::Vec3;
use obvhs::aabb::Aabb;

use crate::Surface;

/// A cone round the normals of all triangles of a box, where all are outer (see [`crate::outer`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Facing {
    /// Of unit length.
    axis: Vec3,
    /// Cosine of its half angle; 0 where the normals lie too far apart or a triangle is not outer.
    cosine: f32,
}

/// What rounding in f32 takes from a cosine, and more.
const SLACK: f32 = 1e-5;

impl Facing {
    const NOT_KNOWN: Self = Self { axis: Vec3::Z, cosine: 0.0 };

    /// For each node of the tree.
    pub(crate) fn of_nodes(surface: &Surface) -> Vec<Self> {
        let tree = surface.tree();
        let mut all = vec![Self::NOT_KNOWN; tree.node_count()];
        // Children stand behind their parent.
        for node in (0..all.len() as u32).rev() {
            all[node as usize] = match tree.children_of(node) {
                Some([a, b]) => all[a as usize].join(all[b as usize]),
                None => Self::of_leaf(surface, node),
            };
        }
        all
    }

    fn of_leaf(surface: &Surface, leaf: u32) -> Self {
        let ids = surface.tree().triangles_of(leaf);
        if !ids.clone().all(|id| surface.is_outer(id)) {
            return Self::NOT_KNOWN;
        }
        let normals = ids.map(|id| surface.geometric_normal(id).as_vec3());
        let axis = normals.clone().sum::<Vec3>().normalize_or_zero();
        Self::bounded(axis, normals.map(|normal| axis.dot(normal)).fold(1.0, f32::min))
    }

    fn join(self, other: Self) -> Self {
        if self.cosine <= 0.0 || other.cosine <= 0.0 {
            return Self::NOT_KNOWN;
        }
        let axis = (self.axis + other.axis).normalize_or_zero();
        let farthest = |cone: Self| cosine_of_sum(axis.dot(cone.axis), cone.cosine);
        Self::bounded(axis, farthest(self).min(farthest(other)))
    }

    fn bounded(axis: Vec3, cosine: f32) -> Self {
        if cosine > 0.1 { Self { axis, cosine: cosine - SLACK } } else { Self::NOT_KNOWN }
    }

    /// Whether every triangle faces each look from a point of the box to the eye: the sine of the angle
    /// between look and plane is at least `least`. `eye` is in the frame of the boxes.
    #[inline]
    pub(crate) fn faces_eye(&self, boxed: &Aabb, eye: Vec3, side: f32, least: f32) -> bool {
        if self.cosine <= 0.0 {
            return false;
        }
        let (min, max) = (Vec3::from(boxed.min), Vec3::from(boxed.max));
        let (look, radius) = (eye - (min + max) * 0.5, (max - min).length() * 0.5);
        let distance = look.length();
        let lowest = cosine_of_sum(self.axis.dot(look) * side / distance, self.cosine);
        // From another point of the box the eye lies lower by up to the radius, and farther off.
        lowest * distance - radius >= least * (distance + radius)
    }

    /// The same for one look, of unit length, from all points.
    #[inline]
    pub(crate) fn faces_along(&self, look: Vec3, side: f32, least: f32) -> bool {
        self.cosine > 0.0 && cosine_of_sum(self.axis.dot(look) * side, self.cosine) >= least
    }
}

/// The cosine of the sum of two angles, given by their cosines: the second of less than a right angle.
/// Not more than 0 where the sum may be half a turn or more.
#[inline]
fn cosine_of_sum(a: f32, b: f32) -> f32 {
    if a <= 0.0 {
        return -1.0;
    }
    a * b - ((1.0 - a * a).max(0.0) * (1.0 - b * b).max(0.0)).sqrt() - SLACK
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::TriangleId;
    use crate::testing::{cube, prepared, six_sided_sphere};

    #[test]
    fn every_triangle_of_a_box_that_faces_an_eye_faces_it_from_all_of_its_corners() {
        let (mut facing, mut not) = (0, 0);
        for mesh in [six_sided_sphere(16), cube()] {
            let surface = prepared(mesh);
            let tree = surface.tree();
            let cones = Facing::of_nodes(&surface);
            for (k, leaf) in tree.leaves().enumerate() {
                let mut node = leaf;
                // Up the tree, to whichever box holds the leaf.
                while let Some(parent) = (0..node).rev().find(|&parent| {
                    tree.children_of(parent).is_some_and(|children| children.contains(&node))
                }) {
                    let turn = k as f32;
                    let eye = Vec3::new(turn.sin(), (turn * 0.7).cos(), (turn * 1.3).sin()) * 3.0;
                    if cones[node as usize].faces_eye(tree.box_of(node), eye, 1.0, 0.05) {
                        for id in tree.triangles_of(leaf) {
                            let normal = surface.geometric_normal(id);
                            for corner in surface.positions_of(id) {
                                let look = eye.as_dvec3() - tree.to_frame(corner);
                                assert!(normal.dot(look.normalize_or_zero()) >= 0.05);
                            }
                        }
                        facing += 1;
                    } else {
                        not += 1;
                    }
                    node = parent;
                }
            }
            assert!(surface.is_outer(TriangleId(0)));
        }
        assert!(facing > 300 && not > 300, "{facing} {not}");
    }
}
