//! A shell: one closed surface, made of islands that already lie flat.
//!
//! A shape (lathe, tube, slab) makes its islands together with their flat outlines, in metres, so that
//! texel density is even by construction. Corners run counter-clockwise seen from outside, and so they do
//! in the flat, where x points right and y up. Neighbouring islands repeat the points that they share;
//! `assemble` welds them.

use glam::{DVec2, DVec3};

/// One polygon of an island.
pub(crate) struct Face {
    /// Indices into the island's points.
    pub(crate) corners: Vec<u32>,
    /// The face's place in its shell. It does not depend on how the shell was cut, so that two layouts of
    /// one shape list their faces in the same order.
    pub(crate) order: u32,
}

/// A connected piece of surface and its outline laid flat.
#[derive(Default)]
pub(crate) struct Island {
    /// Where its points are, in metres.
    pub(crate) points: Vec<DVec3>,
    /// The same points laid flat, in metres, y up.
    pub(crate) flat: Vec<DVec2>,
    /// Its polygons.
    pub(crate) faces: Vec<Face>,
}

/// A closed surface.
pub(crate) struct Shell {
    /// What it is cut into.
    pub(crate) islands: Vec<Island>,
}

/// How to cut a shape: the two layouts differ in their seams as well as in their packing.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cut {
    /// The layout of `harbour-bell.obj`.
    First,
    /// The layout of `harbour-bell-second-layout.obj`.
    Second,
}

/// What the shapes are asked for.
#[derive(Clone, Copy)]
pub(crate) struct Plan {
    /// How to cut them.
    pub(crate) cut: Cut,
    /// How many times more divisions than the painted model has along each direction.
    pub(crate) detail: f64,
}

impl Plan {
    /// A number of divisions at this plan's detail.
    pub(crate) fn divisions(self, base: usize) -> usize {
        (base as f64 * self.detail) as usize
    }

    /// The same for large flat faces, which only a dense sculpt divides finely.
    pub(crate) fn flat_divisions(self, base: usize) -> usize {
        (base as f64 * self.detail * self.detail) as usize
    }
}

impl Island {
    /// Adds a point and where it lies flat.
    pub(crate) fn point(&mut self, point: DVec3, flat: DVec2) -> u32 {
        self.points.push(point);
        self.flat.push(flat);
        self.points.len() as u32 - 1
    }

    /// Adds a polygon; corners that repeat the one before (at a pole) are left out.
    pub(crate) fn face(&mut self, corners: &[u32], order: u32) {
        let mut corners = corners.to_vec();
        corners.dedup();
        if corners.first() == corners.last() {
            corners.pop();
        }
        self.faces.push(Face { corners, order });
    }

    /// Turns the flat outline by a quarter turn, counter-clockwise.
    pub(crate) fn turn(&mut self) {
        for flat in &mut self.flat {
            *flat = flat.perp();
        }
    }

    /// The same with its flat outline turned by quarter turns, counter-clockwise.
    pub(crate) fn turned(mut self, quarters: u32) -> Self {
        (0..quarters).for_each(|_| self.turn());
        self
    }

    /// The lowest and the highest corner of the flat outline's box.
    pub(crate) fn flat_bounds(&self) -> (DVec2, DVec2) {
        self.flat.iter().fold(
            (DVec2::splat(f64::INFINITY), DVec2::splat(f64::NEG_INFINITY)),
            |(low, high), &flat| (low.min(flat), high.max(flat)),
        )
    }
}

impl Shell {
    /// Moves every point; the flat outlines stay, so the move should keep lengths.
    pub(crate) fn moved(mut self, to: impl Fn(DVec3) -> DVec3) -> Self {
        for point in self.islands.iter_mut().flat_map(|island| &mut island.points) {
            *point = to(*point);
        }
        self
    }
}
