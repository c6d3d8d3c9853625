//! How much a dab covers at a distance from its centre, and how that fades where the surface turns away.
//!
//! Plain `f32` arithmetic without branches, so that loops over texels become vector code; a comparison
//! that NaN fails stands where the standard library's `min` and `max` would test for NaN.

/// Cosine between the brush's normal and the surface's, from which on a dab covers fully: 60 degrees
/// (common practice, no source).
pub(crate) const FULLY_FACING: f32 = 0.5;
/// Cosine below which a dab covers nothing: 80 degrees (common practice, no source).
pub(crate) const TURNED_AWAY: f32 = 0.173_648_18;

/// Where a dab's edge begins and ends.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Edge {
    /// Full coverage up to here.
    pub(crate) inner: f32,
    /// None from here on.
    pub(crate) outer: f32,
    /// 1 / (outer - inner).
    per_length: f32,
}

impl Edge {
    /// Full out to `hardness` x `radius`, none from the radius on.
    pub(crate) fn new(radius: f32, hardness: f32) -> Self {
        let (inner, outer) = (radius * hardness, radius);
        Self { inner, outer, per_length: 1.0 / (outer - inner) }
    }

    /// True where no texel in which distance changes by `texel` at most needs a wider edge.
    pub(crate) fn is_wider_than(&self, texel: f32) -> bool {
        self.outer - self.inner >= texel
    }

    /// The edge, widened to one texel (the change of distance from one to the next) about its middle where
    /// it is narrower: so the covered area stays the same and edges are smooth.
    #[inline]
    pub(crate) fn at_least(&self, texel: f32) -> Self {
        let width = self.outer - self.inner;
        let narrow = width < texel;
        let middle = (self.inner + self.outer) * 0.5;
        Self {
            inner: if narrow { middle - texel * 0.5 } else { self.inner },
            outer: if narrow { middle + texel * 0.5 } else { self.outer },
            per_length: if narrow { 1.0 / texel } else { self.per_length },
        }
    }

    /// The same as [`Edge::weight`] for a distance that lies between the ends for sure.
    #[inline]
    pub(crate) fn weight_between(&self, distance: f32) -> f32 {
        half_cosine((distance - self.inner) * self.per_length)
    }

    /// Coverage 0..1 at a distance: half a cosine from 1 at the inner end to 0 at the outer.
    #[inline]
    pub(crate) fn weight(&self, distance: f32) -> f32 {
        half_cosine(unit((distance - self.inner) * self.per_length))
    }
}

/// The farthest distance at which a dab covers anything, where an edge is never widened beyond `texel`.
pub(crate) fn dab_reach(radius: f32, texel: f32) -> f32 {
    radius + texel * 0.5
}

/// `value` clamped to 0..1; 0 for NaN.
#[inline]
fn unit(value: f32) -> f32 {
    let value = if value > 0.0 { value } else { 0.0 };
    if value < 1.0 { value } else { 1.0 }
}

/// `(1 + cos(pi t)) / 2` for `t` in 0..1, to 2.3e-7; exactly 1 and 0 at the ends, and never rising (both seen
/// by going through every `f32`).
///
/// It is the square of `cos(pi t / 2)`, which is `1 - t^2` times a cubic in `t^2` that is 1 at 0. The cubic's
/// other coefficients are ours: least squares over 1500 Chebyshev nodes, reweighted by the error 300 times
/// (Lawson's iteration), which leaves 4.2e-8 before rounding.
#[inline]
fn half_cosine(t: f32) -> f32 {
    let square = t * t;
    let cubic =
        1.0 + square * (-0.233_699_65 + square * (0.019_958_892 + square * -0.000_865_033_4));
    let cosine = (1.0 - square) * cubic;
    cosine * cosine
}

/// 1 where the surface faces the brush, 0 where it turns away, from the cosine between their normals.
#[inline]
pub(crate) fn facing_weight(cosine: f32) -> f32 {
    let t = unit((cosine - TURNED_AWAY) * (1.0 / (FULLY_FACING - TURNED_AWAY)));
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dab_weight(distance: f32, radius: f32, hardness: f32, texel: f32) -> f32 {
        Edge::new(radius, hardness).at_least(texel).weight(distance)
    }

    #[test]
    fn a_hard_dab_covers_half_at_its_radius() {
        assert_eq!(dab_weight(9.4, 10.0, 1.0, 1.0), 1.0);
        assert!((dab_weight(10.0, 10.0, 1.0, 1.0) - 0.5).abs() < 1e-6);
        assert_eq!(dab_weight(10.51, 10.0, 1.0, 1.0), 0.0);
    }

    #[test]
    fn a_soft_dab_falls_as_a_cosine() {
        assert_eq!(dab_weight(0.0, 10.0, 0.0, 1.0), 1.0);
        assert!((dab_weight(5.0, 10.0, 0.0, 1.0) - 0.5).abs() < 1e-6);
        assert!((dab_weight(2.5, 10.0, 0.0, 1.0) - 0.853_553_4).abs() < 1e-6);
    }

    /// Against the standard library's cosine in f64.
    #[test]
    fn the_polynomial_is_half_a_cosine_and_only_falls() {
        const STEPS: u32 = 1 << 20;
        let mut last = 1.0;
        for step in 0..=STEPS {
            let t = step as f32 / STEPS as f32;
            let exact = 0.5 + 0.5 * (std::f64::consts::PI * f64::from(t)).cos();
            let got = half_cosine(t);
            assert!((f64::from(got) - exact).abs() < 2.3e-7, "{got} against {exact} at {t}");
            assert!(got <= last, "{got} after {last} at {t}");
            last = got;
        }
        assert_eq!((half_cosine(0.0), half_cosine(1.0)), (1.0, 0.0));
    }

    #[test]
    fn an_edge_of_no_width_is_a_step() {
        let (at, step) = (10.0, Edge::new(10.0, 1.0));
        assert_eq!([9.999, at, 10.001].map(|distance| step.weight(distance)), [1.0, 1.0, 0.0]);
    }

    #[test]
    fn a_surface_at_a_right_angle_gets_nothing() {
        assert_eq!(facing_weight(0.0), 0.0);
        assert_eq!(facing_weight(-1.0), 0.0);
        assert_eq!(facing_weight(0.5), 1.0);
    }
}
