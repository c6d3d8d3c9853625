//! Which texels' centres lie in a triangle of the layout.
//!
//! An edge gives one number to both of its triangles: it is always computed from the same end. So a
//! centre on a shared edge lies in both (no hole is left), and never strictly inside of both.
//!
//! Along a row that number only ever falls or only ever rises, rounded as it is: so the texels of a row
//! whose centres lie in a triangle stand side by side. Where they begin and end is estimated first; the
//! number itself is asked only for centres so near to an edge that rounding could mislead the estimate.

use std::ops::Range;

use glam::DVec2;
use raster::{Lanes, TILE_EDGE, TextureSize, Work};

use crate::affine::centre;

/// By how much an estimate of where an edge crosses a row can be off, as a share of the numbers that
/// it is made of: a few roundings of 2^-53 each, and as many in the number that decides.
const SLACK: f64 = 1e-14;

/// One edge, from the end that comes first.
#[derive(Debug, Clone, Copy, Default)]
struct Edge {
    from: DVec2,
    along: DVec2,
    /// How x changes along it with y.
    slope: f64,
    /// 1 or -1: the sign of its number on the triangle's side.
    sign: f64,
}

/// A triangle of the layout in texel coordinates.
pub(crate) struct Outline {
    corners: [DVec2; 3],
    edges: [Edge; 3],
}

/// How a texel's centre lies to a triangle that it is not outside of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cover {
    Edge,
    Inside,
}

impl Edge {
    /// `None` where `tip` lies on the edge's line.
    #[inline]
    fn new(p: DVec2, q: DVec2, tip: DVec2) -> Option<Self> {
        let (from, to) = if (p.x, p.y) <= (q.x, q.y) { (p, q) } else { (q, p) };
        let along = to - from;
        let edge = Self { from, along, slope: along.x / along.y, sign: 1.0 };
        let number = edge.number(tip);
        (number != 0.0).then_some(Self { sign: number.signum(), ..edge })
    }

    /// Twice the area that the edge spans with `at`.
    #[inline]
    fn number(&self, at: DVec2) -> f64 {
        self.along.perp_dot(at - self.from)
    }
}

/// Narrows the spans of rows from `first` on to an edge's side, but for texels whose centres are so near to
/// the edge that its number has to tell: true where there are such.
struct Narrow<'a> {
    edge: &'a Edge,
    first: u32,
    left: &'a mut [f64],
    right: &'a mut [f64],
}

impl Work for Narrow<'_> {
    type Done = bool;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> bool {
        let Self { edge, first, left, right } = self;
        let first = f64::from(first) + 0.5 - edge.from.y;
        if edge.along.y == 0.0 {
            for (row, right) in right.iter_mut().enumerate() {
                let outside = edge.along.x * (first + row as f64) * edge.sign < 0.0;
                *right = if outside { 0.0 } else { *right };
            }
            return false;
        }
        let crossing = |row: usize| {
            let x = edge.from.x + (first + row as f64) * edge.slope;
            let slack = (x.abs() + edge.from.x.abs() + 1.0) * SLACK;
            (x - slack - 0.5, x + slack - 0.5)
        };
        let mut doubtful = 0u64;
        if edge.along.y * edge.sign > 0.0 {
            for (row, right) in right.iter_mut().enumerate() {
                let (low, high) = crossing(row);
                let end = high.floor() + 1.0;
                doubtful |= u64::from(low.floor() + 1.0 != end);
                *right = if end < *right { end } else { *right };
            }
        } else {
            for (row, left) in left.iter_mut().enumerate() {
                let (low, high) = crossing(row);
                let begin = low.ceil();
                doubtful |= u64::from(high.ceil() != begin);
                *left = if begin > *left { begin } else { *left };
            }
        }
        doubtful != 0
    }
}

/// The texels of the rows of one tile, at most, whose centres lie in a triangle.
pub(crate) struct Spans {
    first: u32,
    count: usize,
    /// First texel of each row, and the one after the last.
    left: [f64; TILE_EDGE],
    right: [f64; TILE_EDGE],
}

impl Spans {
    pub(crate) fn new() -> Self {
        Self { first: 0, count: 0, left: [0.0; TILE_EDGE], right: [0.0; TILE_EDGE] }
    }

    /// Row, first texel and the one after the last, of each row that has any.
    #[inline]
    pub(crate) fn rows(&self) -> impl Iterator<Item = (u32, u32, u32)> {
        let spans = self.left[..self.count].iter().zip(&self.right[..self.count]);
        let rows = (self.first..).zip(spans);
        rows.filter(|(_, (left, right))| left < right)
            .map(|(row, (left, right))| (row, *left as u32, *right as u32))
    }
}

impl Outline {
    /// `None` where the triangle has no area in the layout.
    #[inline]
    pub(crate) fn new(uvs: [DVec2; 3], size: TextureSize) -> Option<Self> {
        let corners = uvs.map(|uv| uv * f64::from(size.edge()));
        let edge = |k: usize| Edge::new(corners[k], corners[(k + 1) % 3], corners[(k + 2) % 3]);
        Some(Self { corners, edges: [edge(0)?, edge(1)?, edge(2)?] })
    }

    #[inline]
    fn cover(&self, at: DVec2) -> Option<Cover> {
        let mut cover = Cover::Inside;
        for edge in &self.edges {
            let number = edge.number(at) * edge.sign;
            if number < 0.0 {
                return None;
            }
            if number == 0.0 {
                cover = Cover::Edge;
            }
        }
        Some(cover)
    }

    /// The rows of texels whose centres may lie in the triangle, within `size`: from, to (exclusive).
    #[inline]
    pub(crate) fn rows(&self, size: TextureSize) -> (u32, u32) {
        rows_between(self.corners.map(|corner| corner.y), size)
    }

    /// Finds the texels, within `size` and the rows `from..to` (as many as a tile has, at most), whose
    /// centres are in the triangle or on its edge.
    #[inline]
    pub(crate) fn span(&self, rows: Range<u32>, size: TextureSize, spans: &mut Spans) {
        let (from, to) = self.rows(size);
        let (from, to) = (from.max(rows.start), to.min(rows.end));
        spans.first = from;
        spans.count = (to.saturating_sub(from) as usize).min(TILE_EDGE);
        let left = &mut spans.left[..spans.count];
        let right = &mut spans.right[..spans.count];
        left.fill(0.0);
        right.fill(f64::from(size.edge()));
        let lanes = Lanes::widest();
        let mut doubtful = false;
        for edge in &self.edges {
            doubtful |= lanes.run(Narrow { edge, first: from, left, right });
        }
        if doubtful {
            self.decide(spans);
        }
    }

    /// Takes from both ends of each row what the numbers say is outside.
    #[cold]
    fn decide(&self, spans: &mut Spans) {
        let outside =
            |x: f64, row: u32| self.cover(DVec2::new(x + 0.5, f64::from(row) + 0.5)).is_none();
        let ends = spans.left[..spans.count].iter_mut().zip(&mut spans.right[..spans.count]);
        for (row, (left, right)) in (spans.first..).zip(ends) {
            while *left < *right && outside(*left, row) {
                *left += 1.0;
            }
            while *left < *right && outside(*right - 1.0, row) {
                *right -= 1.0;
            }
        }
    }

    /// Calls `texel` with x, y and how it lies, for each texel of the rows `from..to` (as many as a
    /// tile has, at most) whose centre is in the triangle or on its edge.
    pub(crate) fn for_each_texel(
        &self,
        (from, to): (u32, u32),
        size: TextureSize,
        mut texel: impl FnMut(u32, u32, Cover),
    ) {
        let mut spans = Spans::new();
        self.span(from..to, size, &mut spans);
        for (y, left, right) in spans.rows() {
            for x in left..right {
                if let Some(cover) = self.cover(centre(x, y)) {
                    texel(x, y, cover);
                }
            }
        }
    }
}

/// The rows of texels whose centres may lie in a triangle with corners at these heights, in texels,
/// within `size`: from, to (exclusive).
#[inline]
pub(crate) fn rows_between([a, b, c]: [f64; 3], size: TextureSize) -> (u32, u32) {
    let (low, high) = (a.min(b).min(c), a.max(b).max(c));
    // Casts saturate: what lies outside is cut off.
    let from = (low - 0.5).ceil().max(0.0) as u32;
    let to = ((high - 0.5).floor() + 1.0).max(0.0) as u32;
    (from.min(size.edge()), to.min(size.edge()))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Off the grid of centres, on it, and far outside.
    fn coordinate() -> impl Strategy<Value = f64> {
        prop_oneof![
            -0.2..1.2f64,
            (-4..70i32).prop_map(|k| (f64::from(k) + 0.5) / 64.0),
            (-4..70i32).prop_map(|k| f64::from(k) / 64.0),
            -1e4..1e4f64,
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn spans_hold_the_texels_whose_centres_the_edges_numbers_put_inside(
            corners in prop::array::uniform3((coordinate(), coordinate())),
            flat in 0..4u32,
        ) {
            let size = TextureSize::new(64).unwrap();
            let [a, b, mut c] = corners.map(|(x, y)| DVec2::new(x, y));
            if flat == 0 {
                // A sliver: the third corner close to the line through the others.
                c = a + (b - a) * c.x + DVec2::splat(c.y * 1e-12);
            }
            let Some(outline) = Outline::new([a, b, c], size) else { return Ok(()) };
            let mut spans = Spans::new();
            outline.span(0..64, size, &mut spans);
            let mut held = vec![false; 64 * 64];
            for (row, left, right) in spans.rows() {
                (left..right).for_each(|x| held[(row * 64 + x) as usize] = true);
            }
            let (from, to) = outline.rows(size);
            for (index, &held) in (0..).zip(&held) {
                let (x, y) = (index % 64, index / 64);
                let inside = (from..to).contains(&y) && outline.cover(centre(x, y)).is_some();
                prop_assert_eq!(held, inside, "{} {}", x, y);
            }
        }

        /// Numbers of many sizes, so that rounding differs between the edge's two directions.
        #[test]
        fn a_point_at_a_shared_edge_is_in_one_of_its_triangles_and_never_inside_both(
            numbers in prop::array::uniform4(-1.0..1.0f64),
            share in 0.1..0.9f64,
            scale in 0..12i32,
        ) {
            let size = TextureSize::new(64).unwrap();
            let p = DVec2::new(numbers[0], numbers[1] * 0.1_f64.powi(scale));
            let q = DVec2::new(numbers[2] * 0.3, numbers[3]);
            prop_assume!(p.distance(q) > 1e-3);
            let aside = (q - p).perp();
            let left = Outline::new([p, q, q + aside], size);
            let right = Outline::new([q, p, p - aside], size);
            let (Some(left), Some(right)) = (left, right) else { return Ok(()) };
            // On the edge but for rounding.
            let at = (p + (q - p) * share) * 64.0;
            let covers = [left.cover(at), right.cover(at)];
            prop_assert!(covers.iter().any(Option::is_some), "{covers:?}");
            prop_assert_ne!(covers, [Some(Cover::Inside); 2]);
        }
    }
}
