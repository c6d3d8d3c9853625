//! The parts of a tile that are walked in f32 by the exact arithmetic, and their way to 15 bits.

use std::sync::LazyLock;

use raster::{Lanes, TILE_EDGE, TILE_TEXELS, Texels, encode_srgb, from_unit};

use super::display::Plane15;
use super::kernel::ONE;
use crate::node::Node;
use crate::paint::{Base, Row, Rows, Run};

/// One channel's way through the exact arithmetic.
#[derive(Debug, Clone, Copy)]
pub(super) struct Precise {
    pub(super) components: usize,
    pub(super) linear: bool,
    pub(super) lanes: Lanes,
}

impl Precise {
    fn run(self, first: usize, len: usize) -> Run {
        let Self { components, linear, lanes } = self;
        Run { components, linear, first, len, lanes }
    }

    /// Composites nodes over the ground into a plane for each component.
    pub(super) fn over_ground(self, nodes: &[Node<'_>], ground: &[u16], planes: &mut [Plane15]) {
        if nodes.iter().all(Node::is_uniform) {
            let rows = self.run(0, 1).over_ground(nodes, ground);
            for (plane, row) in planes.iter_mut().zip(&rows.colour) {
                let value = if self.linear { encode_srgb(row[0]) } else { row[0] };
                plane.fill(fifteen_bits(value));
            }
            return;
        }
        for first in (0..TILE_TEXELS).step_by(TILE_EDGE) {
            let rows = self.run(first, TILE_EDGE).over_ground(nodes, ground);
            for (plane, row) in planes.iter_mut().zip(&rows.colour) {
                plane.uniform = false;
                self.store(row, &mut plane.texels.0[first..][..TILE_EDGE]);
            }
        }
    }

    fn store(self, row: &Row, texels: &mut [u16]) {
        if self.linear {
            let encoded = row.map(|value| SQUARES.encode(value));
            self.lanes.run(|| store_row(&encoded, texels));
        } else {
            self.lanes.run(|| store_row(row, texels));
        }
    }

    /// What an isolated group's children come to over nothing: straight values, then coverage, as
    /// stored. The texels of the first row alone are told where all is uniform.
    pub(super) fn isolated(self, children: &[Node<'_>], planes: &mut [&mut Texels]) {
        for first in (0..TILE_TEXELS).step_by(TILE_EDGE) {
            self.isolated_run(children, first, TILE_EDGE, planes);
        }
    }

    /// As [`Precise::isolated`] where every node is uniform: one value a plane.
    pub(super) fn isolated_uniform(self, children: &[Node<'_>]) -> ([u16; 3], u16) {
        let (colour, coverage) = self.isolated_rows(children, 0, 1);
        (colour.map(|row| from_unit(row[0])), from_unit(coverage[0]))
    }

    fn isolated_rows(self, children: &[Node<'_>], first: usize, len: usize) -> ([Row; 3], Row) {
        let run = self.run(first, len);
        let mut rows = Rows::NOTHING;
        run.paint(children, &mut rows, Base::Transparent);
        (run.straight(&rows), rows.coverage)
    }

    fn isolated_run(
        self,
        children: &[Node<'_>],
        first: usize,
        len: usize,
        planes: &mut [&mut Texels],
    ) {
        let (colour, coverage) = self.isolated_rows(children, first, len);
        let rows = colour[..self.components].iter().chain([&coverage]);
        for (plane, row) in planes.iter_mut().zip(rows) {
            self.lanes.run(|| {
                for (texel, &value) in plane[first..][..len].iter_mut().zip(row) {
                    *texel = (value.clamp(0.0, 1.0) * 65_535.0 + 0.5) as i32 as u16;
                }
            });
        }
    }
}

#[inline]
fn store_row(row: &Row, texels: &mut [u16]) {
    for (texel, &value) in texels.iter_mut().zip(row) {
        *texel = fifteen_bits(value);
    }
}

/// 0..1 as 15 bits, rounded. By way of `i32`, for which there is a vector instruction.
#[inline]
pub(super) fn fifteen_bits(value: f32) -> u16 {
    (value.clamp(0.0, 1.0) * f32::from(ONE) + 0.5) as i32 as u16
}

/// The sRGB encoding of the squares of 0, 1/1024, 2/1024 ..: between two of them the curve is straight
/// within 5e-6: over the square root its second derivative is at most 25.84, and 25.84 / 8 / 1024^2 is
/// 3.1e-6; the rest is the join of its two pieces, where the slope jumps a little.
static SQUARES: LazyLock<Squares> = LazyLock::new(|| {
    Squares(
        (0..=STEPS + 1)
            .map(|step| {
                let root = step as f32 / STEPS as f32;
                encode_srgb(root * root)
            })
            .collect(),
    )
});

const STEPS: usize = 1024;

struct Squares(Vec<f32>);

impl Squares {
    fn encode(&self, linear: f32) -> f32 {
        let root = linear.clamp(0.0, 1.0).sqrt() * STEPS as f32;
        let step = root as usize;
        let (low, high) = (self.0[step], self.0[step + 1]);
        low + (high - low) * (root - step as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn encoding_by_squares_is_the_standard_curve() {
        for step in 0..=100_000 {
            let linear = step as f32 / 100_000.0;
            let off = (SQUARES.encode(linear) - encode_srgb(linear)).abs();
            assert!(off < 5e-6, "{linear}: {off}");
        }
    }
}
