//! The parts of a tile that are walked in f32 by the exact arithmetic, and their way to 15 bits.

use std::sync::LazyLock;

use raster::{Lanes, TILE_TEXELS, Texels, encode_srgb, from_unit};

use super::cache::Affine;
use super::display::Plane15;
use super::kernel::ONE;
use crate::BlendMode;
use crate::node::Node;
use crate::paint::{Base, RUN, Row, Rows, Run, Which};

/// One channel's way through the exact arithmetic.
#[derive(Debug, Clone, Copy)]
pub(super) struct Precise {
    pub(super) components: usize,
    pub(super) linear: bool,
    pub(super) lanes: Lanes,
}

/// What nodes are composited over.
#[derive(Debug, Clone, Copy)]
pub(super) enum Start<'a> {
    Ground(&'a [u16]),
    /// From [`Precise::keep`].
    Kept(&'a [Vec<f32>]),
}

impl Start<'_> {
    fn is_uniform(self) -> bool {
        match self {
            Self::Ground(_) => true,
            Self::Kept(kept) => kept.iter().all(|row| row.len() == 1),
        }
    }
}

impl Precise {
    fn run(self, first: usize, len: usize) -> Run<'static> {
        let Self { components, linear, lanes } = self;
        Run { components, linear, which: Which::From(first), len, lanes }
    }

    /// Composites nodes over what is below into a plane for each component.
    pub(super) fn composite(self, below: Start<'_>, nodes: &[Node<'_>], planes: &mut [Plane15]) {
        if below.is_uniform() && nodes.iter().all(Node::is_uniform) {
            let rows = self.rows(below, nodes, 0, 1);
            for (plane, row) in planes.iter_mut().zip(&rows.colour) {
                let value = if self.linear { encode_srgb(row[0]) } else { row[0] };
                plane.fill(fifteen_bits(value));
            }
            return;
        }
        for first in (0..TILE_TEXELS).step_by(RUN) {
            let rows = self.rows(below, nodes, first, RUN);
            for (plane, row) in planes.iter_mut().zip(&rows.colour) {
                plane.uniform = false;
                self.store(row, &mut plane.texels.0[first..][..RUN]);
            }
        }
    }

    /// What nodes come to over the ground, in f32: one value where it is uniform.
    pub(super) fn keep(self, ground: &[u16], nodes: &[Node<'_>]) -> Vec<Vec<f32>> {
        let uniform = nodes.iter().all(Node::is_uniform);
        let (edge, len) = if uniform { (1, 1) } else { (RUN, TILE_TEXELS) };
        let mut kept = vec![Vec::with_capacity(len); self.components];
        for first in (0..len).step_by(edge) {
            let rows = self.rows(Start::Ground(ground), nodes, first, edge);
            for (kept, row) in kept.iter_mut().zip(&rows.colour) {
                kept.extend_from_slice(&row[..edge]);
            }
        }
        kept
    }

    fn rows(self, below: Start<'_>, nodes: &[Node<'_>], first: usize, len: usize) -> Rows {
        let run = self.run(first, len);
        let mut rows = match below {
            Start::Ground(ground) => run.ground(ground),
            Start::Kept(kept) => {
                let mut rows = Rows::NOTHING;
                for (row, kept) in rows.colour.iter_mut().zip(kept) {
                    load_kept(row, kept, first, len);
                }
                rows
            }
        };
        run.paint(nodes, &mut rows, Base::Opaque);
        rows
    }

    /// What nodes whose blends are affine do to a backdrop, as `a Cb + b`; methods: with coverage `as`
    /// and source `Cs`, normal has a = 1 - as, b = as Cs; multiply a = 1 - as + as Cs, b = 0; screen
    /// a = 1 - as Cs, b = as Cs; exclusion a = 1 - 2 as Cs, b = as Cs. One after the other:
    /// (a2 a1, a2 b1 + b2).
    pub(super) fn affine(self, nodes: &[Node<'_>]) -> Affine {
        let plane = |_| Plane15::new();
        let mut slopes: Vec<_> = (0..self.components).map(plane).collect();
        let mut offsets: Vec<_> = (0..self.components).map(plane).collect();
        let uniform = nodes.iter().all(Node::is_uniform);
        let (edge, len) = if uniform { (1, 1) } else { (RUN, TILE_TEXELS) };
        for first in (0..len).step_by(edge) {
            let (a, b) = self.affine_rows(nodes, first, edge);
            for component in 0..self.components {
                let (slope, offset) = (&mut slopes[component], &mut offsets[component]);
                if uniform {
                    slope.fill(negative_slope(a[component][0]));
                    offset.fill(fifteen_bits(b[component][0]));
                    continue;
                }
                (slope.uniform, offset.uniform) = (false, false);
                let slope = &mut slope.texels.0[first..][..edge];
                let offset = &mut offset.texels.0[first..][..edge];
                self.lanes.run(|| {
                    for (to, &a) in slope.iter_mut().zip(&a[component]) {
                        *to = negative_slope(a);
                    }
                    store_row(&b[component], offset);
                });
            }
        }
        Affine { slopes, offsets }
    }

    fn affine_rows(self, nodes: &[Node<'_>], first: usize, len: usize) -> ([Row; 3], [Row; 3]) {
        let run = self.run(first, len);
        let (mut a, mut b) = ([[1.0; RUN]; 3], [[0.0; RUN]; 3]);
        let mut source = Rows::NOTHING;
        for node in nodes {
            run.source(node, &mut source);
            for component in 0..self.components {
                let (a, b) = (&mut a[component], &mut b[component]);
                let values = source.colour[component].iter().zip(&source.coverage);
                self.lanes.run(|| {
                    for ((a, b), (&value, &coverage)) in a.iter_mut().zip(b).zip(values) {
                        let given = coverage * value;
                        let (slope, offset) = match node.blend {
                            BlendMode::Multiply => (1.0 - coverage + given, 0.0),
                            BlendMode::Screen => (1.0 - given, given),
                            BlendMode::Exclusion => (1.0 - 2.0 * given, given),
                            _ => (1.0 - coverage, given),
                        };
                        *a *= slope;
                        *b = *b * slope + offset;
                    }
                });
            }
        }
        (a, b)
    }

    fn store(self, row: &Row, texels: &mut [u16]) {
        if self.linear {
            let encoded = row.map(|value| SQUARES.encode(value));
            self.lanes.run(|| store_row(&encoded, texels));
        } else {
            self.lanes.run(|| store_row(row, texels));
        }
    }

    /// What an isolated group's children come to: straight values, then coverage, as stored. `below` is
    /// what lower children come to, from [`Precise::keep_inside`].
    pub(super) fn isolated(
        self,
        below: Inside<'_>,
        children: &[Node<'_>],
        planes: &mut [&mut Texels],
    ) {
        for first in (0..TILE_TEXELS).step_by(RUN) {
            let (colour, coverage) = self.isolated_rows(below, children, first, RUN);
            let rows = colour[..self.components].iter().chain([&coverage]);
            for (plane, row) in planes.iter_mut().zip(rows) {
                self.lanes.run(|| {
                    for (texel, &value) in plane[first..][..RUN].iter_mut().zip(row) {
                        *texel = from_unit(value);
                    }
                });
            }
        }
    }

    /// As [`Precise::isolated`] where all is uniform: one value a plane.
    pub(super) fn isolated_uniform(
        self,
        below: Inside<'_>,
        children: &[Node<'_>],
    ) -> ([u16; 3], u16) {
        let (colour, coverage) = self.isolated_rows(below, children, 0, 1);
        (colour.map(|row| from_unit(row[0])), from_unit(coverage[0]))
    }

    fn isolated_rows(
        self,
        below: Inside<'_>,
        children: &[Node<'_>],
        first: usize,
        len: usize,
    ) -> ([Row; 3], Row) {
        let run = self.run(first, len);
        let mut rows = Rows::NOTHING;
        if let Some((coverage, colour)) = below.and_then(<[_]>::split_last) {
            load_kept(&mut rows.coverage, coverage, first, len);
            for (row, kept) in rows.colour.iter_mut().zip(colour) {
                load_kept(row, kept, first, len);
            }
        }
        run.paint(children, &mut rows, Base::Transparent);
        (run.straight(&rows), rows.coverage)
    }

    /// What the lower children of an isolated group come to, in f32: multiplied values, then coverage.
    pub(super) fn keep_inside(self, nodes: &[Node<'_>]) -> Vec<Vec<f32>> {
        let uniform = nodes.iter().all(Node::is_uniform);
        let (edge, len) = if uniform { (1, 1) } else { (RUN, TILE_TEXELS) };
        let mut kept = vec![Vec::with_capacity(len); self.components + 1];
        for first in (0..len).step_by(edge) {
            let mut rows = Rows::NOTHING;
            self.run(first, edge).paint(nodes, &mut rows, Base::Transparent);
            let rows = rows.colour[..self.components].iter().chain([&rows.coverage]);
            for (kept, row) in kept.iter_mut().zip(rows) {
                kept.extend_from_slice(&row[..edge]);
            }
        }
        kept
    }
}

/// What is known of the lower children of an isolated group.
pub(super) type Inside<'a> = Option<&'a [Vec<f32>]>;

/// A run of what was kept: its texels, or its one value.
fn load_kept(row: &mut Row, kept: &[f32], first: usize, len: usize) {
    match kept.get(first..first + len) {
        Some(kept) => row[..len].copy_from_slice(kept),
        None => row[..len].fill(kept[0]),
    }
}

#[inline]
fn store_row(row: &Row, texels: &mut [u16]) {
    for (texel, &value) in texels.iter_mut().zip(row) {
        *texel = fifteen_bits(value);
    }
}

/// -a in 15 bits and a sign.
#[inline]
fn negative_slope(a: f32) -> u16 {
    ((a.clamp(-1.0, 1.0) * -32_768.0 + 32_768.5) as i32 - 32_768).min(32_767) as u16
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
