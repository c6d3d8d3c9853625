//! Whether the sheet that the points of a ball lie on hides any of its own points from the eye.
//!
//! The lines of sight of the ball lie in a cone with its tip at the eye (in a cylinder, where all look
//! one way). On a plane across its axis the eye sees a picture of it: a disc. Begin with one triangle
//! and add the neighbour across each edge that the disc meets, until no more come. Suppose that all
//! these triangles face the eye and that each of those edges has just two triangles, which run along it
//! in opposite directions. In the picture these two lie on either side of it. So a point that moves
//! about in the disc, clear of corners, enters one triangle wherever it leaves another: as many triangles
//! cover one point of the disc as any other. If that is one, no line of the cone meets two of them, and
//! none of them hides a point of any.
//!
//! More triangles than needed do no harm: an edge that the disc nearly meets is taken to meet it. Sheets
//! that join within the cone cover the disc more than once, as one that goes twice round a point does;
//! of those that join elsewhere only one is reached. A ray may start a little off its triangle, as
//! rounding leaves it: all triangles face the eye by as much as that needs.

use glam::{DVec2, DVec3};

use crate::sweep::{ROUNDING_OF_HULL, Sight, Sweep, faces};
use crate::{Surface, TriangleId};

/// Triangles of a sheet that are looked at before rays are the cheaper way. Ours.
const MOST: usize = 512;
/// Places of the table in which they are found, by the upper bits of a product.
const PLACES_LOG2: u32 = 10;
const EMPTY: u16 = u16::MAX;
/// Where the triangles over the disc are counted. Any point of it serves; this one lies on no edge of
/// an even layout.
const PROBE: DVec2 = DVec2::new(0.237_1, 0.151_3);

/// The triangles of a sheet that hides none of its own points within a sweep.
pub(crate) struct Cover {
    picture: Picture,
    triangles: [TriangleId; MOST],
    count: usize,
    /// Indices into `triangles`, each at the place of its triangle or behind it.
    table: [u16; 1 << PLACES_LOG2],
}

impl Cover {
    /// The sheet that all of `ground` belongs to; `None` where it can't be told that it hides no point
    /// of its own.
    pub(crate) fn new(
        surface: &Surface,
        sweep: &Sweep,
        side: f64,
        ground: &(impl Iterator<Item = TriangleId> + Clone),
    ) -> Option<Self> {
        let mut cover = Self {
            picture: Picture::new(surface, sweep, side)?,
            triangles: [TriangleId(0); MOST],
            count: 0,
            table: [EMPTY; 1 << PLACES_LOG2],
        };
        cover.add(ground.clone().next()?)?;
        let (mut next, mut layers) = (0, 0);
        while next < cover.count {
            let id = cover.triangles[next];
            next += 1;
            let corners = surface.positions_of(id);
            if !faces(corners, sweep.sight, side) {
                return None;
            }
            let shown = cover.picture.triangle(corners)?;
            layers += usize::from(covers(shown, PROBE));
            for edge in 0..3 {
                if !is_off_disc(shown[edge], shown[(edge + 1) % 3]) {
                    cover.add(across(surface, id, edge)?)?;
                }
            }
        }
        (layers == 1 && ground.clone().all(|id| cover.has(id))).then_some(cover)
    }

    /// True only if the triangle hides no point of the ground: it belongs to the sheet, or lies off the
    /// cone.
    pub(crate) fn clears(&self, id: TriangleId, corners: [DVec3; 3]) -> bool {
        self.has(id) || self.picture.is_off_disc(corners)
    }

    fn has(&self, id: TriangleId) -> bool {
        self.table[self.place(id)] != EMPTY
    }

    /// `None` when there is no more room.
    fn add(&mut self, id: TriangleId) -> Option<()> {
        let place = self.place(id);
        if self.table[place] == EMPTY {
            *self.triangles.get_mut(self.count)? = id;
            self.table[place] = self.count as u16;
            self.count += 1;
        }
        Some(())
    }

    /// Where the triangle stands in the table, or would.
    fn place(&self, id: TriangleId) -> usize {
        let mut place = (id.0.wrapping_mul(0x9e37_79b1) >> (32 - PLACES_LOG2)) as usize;
        while self.table[place] != EMPTY && self.triangles[self.table[place] as usize] != id {
            place = (place + 1) % self.table.len();
        }
        place
    }
}

/// The one triangle across an edge, if it runs along it the other way.
fn across(surface: &Surface, id: TriangleId, edge: usize) -> Option<TriangleId> {
    let &[other] = surface.neighbours(id, edge) else { return None };
    let (from, to) = (surface.vertex_of(id, edge), surface.vertex_of(id, (edge + 1) % 3));
    let runs = |k: usize| (surface.vertex_of(other, k), surface.vertex_of(other, (k + 1) % 3));
    (0..3).any(|k| runs(k) == (to, from)).then_some(other)
}

/// What the eye sees on a plane across the middle line of sight, where the cone is a disc of radius 1
/// round 0. Triangles that face the eye turn counter-clockwise.
struct Picture {
    centre: DVec3,
    /// Across, upwards and towards the eye: at right angles, the first two over the disc's radius, the
    /// last over the distance of the eye, or zero for an eye without distance.
    axes: [DVec3; 3],
}

impl Picture {
    /// `None` for an eye within the ball.
    fn new(surface: &Surface, sweep: &Sweep, side: f64) -> Option<Self> {
        let radius = sweep.radius + ROUNDING_OF_HULL * surface.tree().half_extent();
        let look = match sweep.sight {
            Sight::Eye(eye) => eye - sweep.centre,
            Sight::Along(vector) => vector,
        };
        let distance = look.length();
        let towards = look.try_normalize()?;
        // The cone touches the ball before its middle: it is wider there than the ball.
        let (radius, share) = match sweep.sight {
            Sight::Eye(_) if distance > 1.1 * radius => {
                (radius * distance / (distance * distance - radius * radius).sqrt(), 1.0 / distance)
            }
            Sight::Eye(_) => return None,
            Sight::Along(_) => (radius, 0.0),
        };
        let (right, up) = towards.any_orthonormal_pair();
        let axes = [right * side / radius, up / radius, towards * share];
        Some(Self { centre: sweep.centre, axes })
    }

    /// True only if no part of the triangle is seen in the disc.
    fn is_off_disc(&self, [a, b, c]: [DVec3; 3]) -> bool {
        let (Some(a), Some(b), Some(c)) = (self.point(a), self.point(b), self.point(c)) else {
            return false;
        };
        is_off_disc(a, b)
            && is_off_disc(b, c)
            && is_off_disc(c, a)
            && !covers([a, b, c], DVec2::ZERO)
            && !covers([c, b, a], DVec2::ZERO)
    }

    /// `None` where it isn't clear how the triangle looks: near the eye or behind it, or seen on edge.
    fn triangle(&self, [a, b, c]: [DVec3; 3]) -> Option<[DVec2; 3]> {
        // Far more than rounding in f64, far less than any triangle worth its name.
        const CLEAR: f64 = 1e-9;
        let [a, b, c] = [self.point(a)?, self.point(b)?, self.point(c)?];
        let (one, other) = (b - a, c - a);
        let longest = one.length_squared().max(other.length_squared());
        (one.perp_dot(other) > CLEAR * longest).then_some([a, b, c])
    }

    fn point(&self, point: DVec3) -> Option<DVec2> {
        let from = point - self.centre;
        let [right, up, towards] = self.axes;
        let depth = 1.0 - from.dot(towards);
        (depth > 1e-3).then(|| DVec2::new(from.dot(right), from.dot(up)) / depth)
    }
}

/// Whether the picture of a triangle covers the point, its edges counted.
fn covers([a, b, c]: [DVec2; 3], point: DVec2) -> bool {
    // Rather twice than never: far more than rounding.
    const EDGE: f64 = 1e-9;
    let inward = |from: DVec2, to: DVec2| {
        let (from, to) = (from - point, to - point);
        from.perp_dot(to) >= -EDGE * (from.length_squared() + to.length_squared())
    };
    inward(a, b) && inward(b, c) && inward(c, a)
}

/// True only if the disc doesn't meet the edge.
fn is_off_disc(a: DVec2, b: DVec2) -> bool {
    // More than rounding, for edges of up to a million radii.
    const NEAR: f64 = 1.000_01;
    let along = b - a;
    let share = (-a.dot(along) / along.length_squared()).clamp(0.0, 1.0);
    (a + along * share).length_squared() > NEAR
}

#[cfg(test)]
mod tests;
