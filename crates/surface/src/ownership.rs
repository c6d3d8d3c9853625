//! Which texels' centres lie in a triangle of the layout.
//!
//! An edge gives one number to both of its triangles: it is always computed from the same end. So a
//! centre on a shared edge lies in both (no hole is left), and never strictly inside of both.

use glam::DVec2;
use raster::TextureSize;

use crate::affine::centre;

/// A triangle of the layout in texel coordinates.
pub(crate) struct Outline {
    corners: [DVec2; 3],
    /// 1 or -1 for each edge: the sign of its number on the triangle's side.
    signs: [f64; 3],
}

/// How a texel's centre lies to a triangle that it is not outside of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cover {
    Edge,
    Inside,
}

/// Twice the area that the edge from `p` to `q` spans with `at`, from whichever end comes first.
fn edge_number(p: DVec2, q: DVec2, at: DVec2) -> f64 {
    let (from, to) = if (p.x, p.y) <= (q.x, q.y) { (p, q) } else { (q, p) };
    (to - from).perp_dot(at - from)
}

impl Outline {
    /// `None` where the triangle has no area in the layout.
    pub(crate) fn new(uvs: [DVec2; 3], size: TextureSize) -> Option<Self> {
        let corners = uvs.map(|uv| uv * f64::from(size.edge()));
        let mut signs = [0.0; 3];
        for k in 0..3 {
            let (p, q, tip) = (corners[k], corners[(k + 1) % 3], corners[(k + 2) % 3]);
            let number = edge_number(p, q, tip);
            if number == 0.0 {
                return None;
            }
            signs[k] = number.signum();
        }
        Some(Self { corners, signs })
    }

    fn cover(&self, at: DVec2) -> Option<Cover> {
        let mut cover = Cover::Inside;
        for k in 0..3 {
            let number =
                edge_number(self.corners[k], self.corners[(k + 1) % 3], at) * self.signs[k];
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
    pub(crate) fn rows(&self, size: TextureSize) -> (u32, u32) {
        let [a, b, c] = self.corners.map(|corner| corner.y);
        texels_between(a.min(b).min(c), a.max(b).max(c), size)
    }

    /// The texels of a row whose centres may lie in the triangle, within `size`: from, to (exclusive).
    fn columns(&self, row: u32, size: TextureSize) -> (u32, u32) {
        let y = f64::from(row) + 0.5;
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for k in 0..3 {
            let (p, q) = (self.corners[k], self.corners[(k + 1) % 3]);
            if (p.y > y && q.y > y) || (p.y < y && q.y < y) {
                continue;
            }
            let crossings = if p.y == q.y {
                [p.x, q.x]
            } else {
                [p.x + (q.x - p.x) * ((y - p.y) / (q.y - p.y)); 2]
            };
            low = low.min(crossings[0].min(crossings[1]));
            high = high.max(crossings[0].max(crossings[1]));
        }
        // Wider than rounding; the exact test decides.
        let slack = 1e-9 * (low.abs() + high.abs()) + 1e-9;
        if low > high { (0, 0) } else { texels_between(low - slack, high + slack, size) }
    }

    /// Calls `texel` with x, y and how it lies, for each texel of the rows `from..to` whose centre is
    /// in the triangle or on its edge.
    pub(crate) fn for_each_texel(
        &self,
        (from, to): (u32, u32),
        size: TextureSize,
        mut texel: impl FnMut(u32, u32, Cover),
    ) {
        let rows = self.rows(size);
        for y in rows.0.max(from)..rows.1.min(to) {
            let (left, right) = self.columns(y, size);
            for x in left..right {
                if let Some(cover) = self.cover(centre(x, y)) {
                    texel(x, y, cover);
                }
            }
        }
    }
}

/// The texels whose centres lie in `low..=high`, within `size`.
fn texels_between(low: f64, high: f64, size: TextureSize) -> (u32, u32) {
    // Casts saturate: what lies outside is cut off.
    let from = (low - 0.5).ceil().max(0.0) as u32;
    let to = ((high - 0.5).floor() + 1.0).max(0.0) as u32;
    (from.min(size.edge()), to.min(size.edge()))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
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
