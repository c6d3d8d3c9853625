//! Whether anything can hide any point of a ball: one question instead of a ray for each point.
//!
//! The segments from all points of the ball to the eye fill a *sweep*: the hull of the ball and the
//! eye (or of the ball and its copy one look away). Nothing hides a point if every triangle that meets
//! the sweep is one of these:
//!
//! - where all points lie on outer triangles (see [`crate::outer`]): an outer triangle that faces the
//!   eye. In front of an outer triangle no closed piece encloses anything, so every segment starts
//!   outside of all of them. The first triangle of a closed piece that it crossed would, if it faces the
//!   eye, be left from behind, where the piece does enclose: and it can't have got there without
//!   crossing another before.
//! - a triangle that lies nowhere above the plane of any triangle that the points lie on. Segments
//!   rise from those planes.
//! - a triangle of the sheet that all points lie on, where that hides none of its own points (see
//!   [`crate::cover`]). Only this one tells anything in the hollows of an open piece.

use glam::{DVec3, Vec3};
use obvhs::aabb::Aabb;

use crate::cover::Cover;
use crate::facing::Facing;
use crate::nearest::nearest_weights;
use crate::{PartId, Surface, TriangleId};

/// What the points of a ball look at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sight {
    /// A point, in model units.
    Eye(DVec3),
    /// As far as this vector leads from each point.
    Along(DVec3),
}

/// The lines of sight of all points of a ball.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sweep {
    /// The ball's middle, in model units.
    pub centre: DVec3,
    /// Its radius.
    pub radius: f64,
    /// Where its points look.
    pub sight: Sight,
}

/// A triangle faces the eye if the sine of the angle between its plane and the look is at least this.
/// Ours: points are rounded to f32, a few millionths of a tile off their triangle, and rays start a
/// hundredth of a texel along the look; so they start in front of a triangle that they started behind.
const FACING: f64 = 0.05;
/// Rounding of positions and planes, as a share of the model's half extent.
const ROUNDING: f64 = 1e-7;
/// Triangles that are looked at more closely before rays are the cheaper way.
const CLOSELY: usize = 64;
/// How much wider than the sweep its hull is, as a share of the model's half extent: more than rounding
/// in the frame of the tree, where all lies within a few units of 0.
pub(crate) const ROUNDING_OF_HULL: f64 = 4e-6;

impl Surface {
    /// False only if nothing hides any point of the ball that lies on one of the triangles `ground`, as
    /// [`Surface::is_blocked`] sees it from a hair's breadth off the point towards the eye. When in
    /// doubt true: ask again for less, or cast rays. `side` is 1 where points are seen from the front
    /// of their triangles, -1 from the back. Points that lie beyond their triangle
    /// ([`crate::TexelBlock::beyond`]) need rays.
    pub fn may_be_blocked(
        &self,
        sweep: &Sweep,
        side: f64,
        ground: &(impl Iterator<Item = TriangleId> + Clone),
    ) -> bool {
        self.may_be_blocked_where(sweep, side, ground, |_| true)
    }

    /// As [`Surface::may_be_blocked`], by the parts that count: a part is made of whole pieces, so that
    /// what holds of pieces holds without it.
    pub fn may_be_blocked_where(
        &self,
        sweep: &Sweep,
        side: f64,
        ground: &(impl Iterator<Item = TriangleId> + Clone),
        counts: impl Fn(PartId) -> bool,
    ) -> bool {
        let hull = Hull::new(self, sweep);
        let all_outer = ground.clone().all(|id| self.is_outer(id));
        let mut cover: Option<Cover> = None;
        let mut closely = 0;
        self.tree().any_in(
            |node, boxed| {
                hull.may_meet(boxed)
                    && !(all_outer && hull.is_faced(&self.facing()[node as usize], boxed, side))
            },
            |id| {
                let corners = self.positions_of(id);
                if cover.as_ref().is_some_and(|cover| cover.clears(id, corners)) {
                    return false;
                }
                let passed = all_outer && self.is_outer(id) && faces(corners, sweep.sight, side);
                if passed || hull.misses(corners) || !counts(self.part_of(id)) {
                    return false;
                }
                closely += 1;
                let below = closely <= CLOSELY
                    && self.lies_below(corners, sweep.sight, side, ground.clone());
                if below || cover.is_some() {
                    return !below;
                }
                cover = Cover::new(self, sweep, side, ground);
                !cover.as_ref().is_some_and(|cover| cover.clears(id, corners))
            },
        )
    }

    /// Whether the triangle lies nowhere above the planes of these, and these face the eye.
    fn lies_below(
        &self,
        corners: [DVec3; 3],
        sight: Sight,
        side: f64,
        ground: impl Iterator<Item = TriangleId>,
    ) -> bool {
        let allowed = ROUNDING * self.tree().half_extent();
        let mut last = None;
        for id in ground {
            if last.replace(id) == Some(id) {
                continue;
            }
            let plane = self.positions_of(id);
            let normal = (plane[1] - plane[0]).cross(plane[2] - plane[0]) * side;
            let highest = corners
                .iter()
                .map(|&corner| normal.dot(corner - plane[0]))
                .fold(f64::NEG_INFINITY, f64::max);
            if highest > allowed * normal.length() || !faces(plane, sight, side) {
                return false;
            }
        }
        last.is_some()
    }
}

/// Whether the triangle's front (its back for -1) faces the eye for sure. Never without area.
pub(crate) fn faces([a, b, c]: [DVec3; 3], sight: Sight, side: f64) -> bool {
    let normal = (b - a).cross(c - a);
    let (look, longest) = match sight {
        Sight::Eye(eye) => {
            let squared = |corner: DVec3| (eye - corner).length_squared();
            (eye - a, squared(a).max(squared(b)).max(squared(c)))
        }
        Sight::Along(vector) => (vector, vector.length_squared()),
    };
    let height = normal.dot(look) * side;
    height > 0.0 && height * height >= FACING * FACING * normal.length_squared() * longest
}

/// The hull of two balls: the sweep as far as the model reaches, in the frame of the tree.
struct Hull<'a> {
    surface: &'a Surface,
    from: Vec3,
    /// Of unit length; zero for a single ball.
    direction: Vec3,
    length: f32,
    radii: [f32; 2],
    low: Vec3,
    high: Vec3,
    look: Look,
}

/// [`Sight`] in the frame of the tree.
#[derive(Clone, Copy)]
enum Look {
    Eye(Vec3),
    /// Of unit length.
    Along(Vec3),
}

impl<'a> Hull<'a> {
    fn new(surface: &'a Surface, sweep: &Sweep) -> Self {
        let tree = surface.tree();
        let from = tree.to_frame(sweep.centre);
        let radius = sweep.radius / tree.half_extent();
        let (along, end) = match sweep.sight {
            Sight::Eye(eye) => (tree.to_frame(eye) - from, 0.0),
            Sight::Along(vector) => (vector / tree.half_extent(), radius),
        };
        let whole = along.length();
        // The model lies within 2 of the frame's origin.
        let length = whole.min(from.length() + radius + 2.0);
        let share = if whole > 0.0 { length / whole } else { 0.0 };
        let radii =
            [radius, radius + (end - radius) * share].map(|r| (r + ROUNDING_OF_HULL) as f32);
        let to = (from + along * share).as_vec3();
        let from = from.as_vec3();
        Self {
            surface,
            from,
            direction: along.as_vec3().normalize_or_zero(),
            length: length as f32,
            radii,
            low: (from - radii[0]).min(to - radii[1]),
            high: (from + radii[0]).max(to + radii[1]),
            look: match sweep.sight {
                Sight::Eye(eye) => Look::Eye(tree.to_frame(eye).as_vec3()),
                Sight::Along(vector) => Look::Along(vector.normalize_or_zero().as_vec3()),
            },
        }
    }

    /// The point of the axis nearest to `point`.
    #[inline]
    fn on_axis(&self, point: Vec3) -> Vec3 {
        let along = (point - self.from).dot(self.direction).clamp(0.0, self.length);
        self.from + self.direction * along
    }

    /// How far the hull reaches along `axis`, from where it begins.
    #[inline]
    fn reach(&self, axis: Vec3, length: f32) -> f32 {
        let far = axis.dot(self.direction) * self.length + self.radii[1] * length;
        (self.radii[0] * length).max(far)
    }

    /// Whether all triangles of the box face the eye for sure.
    #[inline]
    fn is_faced(&self, facing: &Facing, boxed: &Aabb, side: f64) -> bool {
        // A little more than for a triangle: rounding in f32.
        let (side, least) = (side as f32, FACING as f32 * 1.01);
        match self.look {
            Look::Eye(eye) => facing.faces_eye(boxed, eye, side, least),
            Look::Along(look) => facing.faces_along(look, side, least),
        }
    }

    /// False only if the box lies apart from the hull: along an axis of space, or along the way from
    /// the hull's axis to the box's middle.
    #[inline]
    fn may_meet(&self, boxed: &Aabb) -> bool {
        let (min, max) = (Vec3::from(boxed.min), Vec3::from(boxed.max));
        if self.low.cmpgt(max).any() || min.cmpgt(self.high).any() {
            return false;
        }
        let (centre, half) = ((min + max) * 0.5, (max - min) * 0.5);
        let axis = centre - self.on_axis(centre);
        let nearest = axis.dot(centre - self.from) - axis.abs().dot(half);
        nearest <= self.reach(axis, axis.length())
    }

    /// True only if the triangle lies apart from the hull: along its normal, or along the way from the
    /// hull's axis to about the triangle's nearest point.
    fn misses(&self, corners: [DVec3; 3]) -> bool {
        let tree = self.surface.tree();
        let [a, b, c] = corners;
        let placed =
            [tree.to_frame(a).as_vec3(), tree.to_frame(b).as_vec3(), tree.to_frame(c).as_vec3()];
        let apart = |axis: Vec3| {
            let along = |corner: Vec3| axis.dot(corner - self.from);
            let [a, b, c] = placed;
            along(a).min(along(b)).min(along(c)) > self.reach(axis, axis.length())
        };
        let normal = (placed[1] - placed[0]).cross(placed[2] - placed[0]).normalize_or_zero();
        if apart(normal) || apart(-normal) {
            return true;
        }
        let mut on_axis = self.on_axis((placed[0] + placed[1] + placed[2]) / 3.0);
        for _ in 0..3 {
            let [p, q, r] = placed;
            let weights = nearest_weights([p, q, r].map(Vec3::as_dvec3), on_axis.as_dvec3());
            let nearest = p * weights[0] as f32 + q * weights[1] as f32 + r * weights[2] as f32;
            on_axis = self.on_axis(nearest);
            if apart(nearest - on_axis) {
                return true;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests;
