//! How much a dab covers at a distance from its centre, and how that fades where the surface turns away.
//!
//! What texels take is inlined by force: a call would leave the vector code.
//! Plain `f32` arithmetic without branches, so that loops over texels become vector code; a comparison
//! that NaN fails stands where the standard library's `min` and `max` would test for NaN.

/// Cosine between the brush's normal and the surface's, from which on a dab covers fully: 60 degrees
/// (common practice, no source).
pub(crate) const FULLY_FACING: f32 = 0.5;
/// Cosine below which a dab covers nothing: 80 degrees (common practice, no source).
pub(crate) const TURNED_AWAY: f32 = 0.173_648_18;

/// Where a dab's edge lies.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Edge {
    /// The distance at which it covers half.
    middle: f32,
    /// 2 / the edge's width.
    scale: f32,
}

impl Edge {
    /// Full out to `hardness` x `radius`, none from the radius on.
    pub(crate) fn new(radius: f32, hardness: f32) -> Self {
        let (inner, outer) = (radius * hardness, radius);
        Self { middle: (inner + outer) * 0.5, scale: 2.0 / (outer - inner) }
    }

    /// The edge, widened to one texel (the change of distance from one to the next) about its middle where
    /// it is narrower: so the covered area stays the same and edges are smooth.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    pub(crate) fn at_least(self, texel: f32) -> Self {
        let scale = 2.0 / texel;
        Self { middle: self.middle, scale: if scale < self.scale { scale } else { self.scale } }
    }

    /// The place in the edge of a distance that lies between its ends for sure.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    pub(crate) fn place_between(self, distance: f32) -> f32 {
        (distance - self.middle) * self.scale
    }

    /// The place in the edge: -1 at its inner end and nearer, 1 at its outer end and beyond. NaN, which the
    /// middle of an edge of no width gives, counts as the inner end.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    pub(crate) fn place(self, distance: f32) -> f32 {
        let place = self.place_between(distance);
        let place = if place > -1.0 { place } else { -1.0 };
        if place < 1.0 { place } else { 1.0 }
    }
}

/// What a dab leaves of a share, by the place in its edge: half a cosine from `1 - most` at -1 to 1 at 1.
///
/// `most (1 - sin(pi x / 2)) / 2` is what it takes. The sine is an odd polynomial with coefficients of
/// ours: least squares over 800 Chebyshev nodes, reweighted by the error 300 times (Lawson's iteration),
/// held to exactly 1/2 at 1, which leaves 3.4e-7 of the half before rounding. It is multiplied by `most`
/// once, so that a texel takes no step for that.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Falloff {
    middle: f32,
    odd: [f32; 4],
}

impl Falloff {
    /// `most`, 0..1, is what the dab takes where it covers fully.
    pub(crate) fn new(most: f32) -> Self {
        let half = [0.785_395_15, -0.322_943_03, 0.039_709_177, -0.002_161_293_8];
        let odd = half.map(|coefficient| coefficient * most);
        let falloff = Self { middle: 0.0, odd };
        // So the sum at the outer end is 1 to the last bit: nothing is taken beyond.
        Self { middle: 1.0 - falloff.left(1.0), odd }
    }

    /// What is left at a place, -1..1, in the edge.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    pub(crate) fn left(&self, place: f32) -> f32 {
        let square = place * place;
        let [a, b, c, d] = self.odd;
        self.middle + place * (a + square * (b + square * (c + square * d)))
    }
}

/// The farthest distance at which a dab covers anything, where an edge is never widened beyond `texel`.
pub(crate) fn dab_reach(radius: f32, texel: f32) -> f32 {
    radius + texel * 0.5
}

/// `value` clamped to 0..1; 0 for NaN.
#[inline(always)]
#[expect(clippy::inline_always, reason = "see the module")]
fn unit(value: f32) -> f32 {
    let value = if value > 0.0 { value } else { 0.0 };
    if value < 1.0 { value } else { 1.0 }
}

/// 1 where the surface faces the brush, 0 where it turns away, from the cosine between their normals.
#[inline(always)]
#[expect(clippy::inline_always, reason = "see the module")]
pub(crate) fn facing_weight(cosine: f32) -> f32 {
    let t = unit((cosine - TURNED_AWAY) * (1.0 / (FULLY_FACING - TURNED_AWAY)));
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weight(edge: Edge, distance: f32) -> f32 {
        1.0 - Falloff::new(1.0).left(edge.place(distance))
    }

    fn dab_weight(distance: f32, radius: f32, hardness: f32, texel: f32) -> f32 {
        weight(Edge::new(radius, hardness).at_least(texel), distance)
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

    /// Against the standard library's sine in f64. Rounding may lift a value by a few units in the last place.
    #[test]
    fn the_falloff_is_half_a_cosine_that_falls_and_ends_exactly() {
        const STEPS: i32 = 1 << 19;
        for most in [1.0, 0.75, 0.3, 0.01, 0.0] {
            let falloff = Falloff::new(most);
            let mut last = 0.0;
            for step in -STEPS..=STEPS {
                let place = step as f32 / STEPS as f32;
                let sine = (std::f64::consts::FRAC_PI_2 * f64::from(place)).sin();
                let exact = 1.0 - f64::from(most) * (0.5 - 0.5 * sine);
                let got = falloff.left(place);
                assert!((f64::from(got) - exact).abs() < 5e-7, "{got} against {exact} at {place}");
                assert!(got > last - 2.5e-7, "{got} after {last} at {place}");
                last = got;
            }
            assert_eq!(last, 1.0);
            assert!((falloff.left(-1.0) - (1.0 - most)).abs() < 1.3e-7);
        }
        assert_eq!(Falloff::new(1.0).left(-1.0), 0.0);
    }

    #[test]
    fn an_edge_of_no_width_is_a_step() {
        let (at, step) = (10.0, Edge::new(10.0, 1.0));
        assert_eq!([9.999, at, 10.001].map(|distance| weight(step, distance)), [1.0, 1.0, 0.0]);
    }

    #[test]
    fn a_surface_at_a_right_angle_gets_nothing() {
        assert_eq!(facing_weight(0.0), 0.0);
        assert_eq!(facing_weight(-1.0), 0.0);
        assert_eq!(facing_weight(0.5), 1.0);
    }
}
