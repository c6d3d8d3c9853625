//! Stencils of our own, made by code.

use std::f64::consts::{PI, TAU};

use brush::GreyImage;
use raster::{Extent, from_unit};

/// Edge of each, in pixels.
const EDGE: u32 = 512;

/// One of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum OwnStencil {
    /// Upright bars.
    Bars,
    /// Rows of round holes, each in the gap of the row above.
    Holes,
    /// One ring.
    Ring,
    /// A star of eight points.
    Star,
    /// A torn edge: open above.
    Torn,
    /// Squares in two tones.
    Squares,
}

impl OwnStencil {
    /// All of them, with their names and what they are for.
    pub(crate) const ALL: [(Self, &'static str, &'static str); 6] = [
        (Self::Bars, "Bars", "Upright bars: hazard stripes when it is turned"),
        (Self::Holes, "Holes", "Round holes in rows"),
        (Self::Ring, "Ring", "One ring: stains, worn rims"),
        (Self::Star, "Star", "A star of eight points: a mark"),
        (Self::Torn, "Torn edge", "Open above a ragged edge: peeling paint, tide lines"),
        (Self::Squares, "Squares", "A chequered field"),
    ];

    /// What it lets through.
    pub(crate) fn image(self) -> Option<GreyImage> {
        let share = |n: u32| (f64::from(n) + 0.5) / f64::from(EDGE);
        // Edges are about two pixels wide.
        let soft = |inside: f64| (inside * f64::from(EDGE) * 0.5 + 0.5).clamp(0.0, 1.0);
        let rows = 0..EDGE;
        let values = rows.flat_map(|y| (0..EDGE).map(move |x| (share(x), share(y))));
        let values = values.map(|(x, y)| from_unit(soft(self.inside(x, y)) as f32)).collect();
        // None is black all over.
        GreyImage::new(Extent { width: EDGE, height: EDGE }, values).ok()
    }

    /// How far inside a hole a place of 0..1 lies; below 0 outside.
    fn inside(self, x: f64, y: f64) -> f64 {
        let (dx, dy) = (x - 0.5, y - 0.5);
        let away = dx.hypot(dy);
        match self {
            Self::Bars => libm::sin(x * TAU * 6.0) / (TAU * 6.0),
            Self::Holes => {
                let row = (y * 8.0).floor();
                let shift = if row % 2.0 == 0.0 { 0.0 } else { 0.5 };
                let (u, v) = ((x * 8.0 + shift).fract() - 0.5, (y * 8.0).fract() - 0.5);
                (0.33 - u.hypot(v)) / 8.0
            }
            Self::Ring => 0.06 - (away - 0.38).abs(),
            Self::Star => {
                let point = PI / 8.0;
                let angle = libm::atan2(dy, dx).rem_euclid(2.0 * point);
                let folded = (angle - point).abs();
                // The edge from a tip at 0.46 to a notch at 0.2.
                let (tip, notch) = (0.46, 0.2);
                let (u, v) = (away * libm::cos(folded), away * libm::sin(folded));
                let to = (tip * libm::cos(point), tip * libm::sin(point));
                let (ex, ey) = (to.0 - notch, to.1);
                (ex * v - ey * (u - notch)) / ex.hypot(ey)
            }
            Self::Torn => {
                let waves =
                    [(3.0, 0.05, 0.3), (7.0, 0.025, 1.9), (17.0, 0.012, 4.0), (41.0, 0.006, 2.2)];
                let edge: f64 =
                    waves.iter().map(|(f, a, p)| a * libm::sin(x * f * TAU * 0.5 + p)).sum();
                0.5 + edge - y
            }
            Self::Squares => {
                let side = |at: f64| libm::sin(at * TAU * 4.0) / (TAU * 4.0);
                let (a, b) = (side(x), side(y));
                if a * b > 0.0 { a.abs().min(b.abs()) } else { -a.abs().min(b.abs()) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_lets_a_fair_share_through() {
        for (stencil, name, _) in OwnStencil::ALL {
            let image = stencil.image().unwrap();
            let open = image.values().iter().map(|value| f64::from(*value) / 65_535.0).sum::<f64>();
            let share = open / f64::from(EDGE * EDGE);
            assert!((0.15..0.7).contains(&share), "{name}: {share}");
        }
    }
}
