//! How much a dab covers at a distance from its centre, and how that fades where the surface turns away.

use std::f32::consts::PI;

/// Cosine between the brush's normal and the surface's, from which on a dab covers fully: 60 degrees
/// (common practice, no source).
const FULLY_FACING: f32 = 0.5;
/// Cosine below which a dab covers nothing: 80 degrees (common practice, no source).
const TURNED_AWAY: f32 = 0.173_648_18;

/// Coverage 0..1 at `distance` from the centre of a dab of `radius`: full out to `hardness` x `radius`,
/// then half a cosine down to 0 at the radius. Where that edge is narrower than `texel` (the change of
/// distance from one texel to the next) it is widened to one texel about its middle, so that the covered
/// area stays the same and edges are smooth.
pub(crate) fn dab_weight(distance: f32, radius: f32, hardness: f32, texel: f32) -> f32 {
    let mut inner = radius * hardness;
    let mut outer = radius;
    if outer - inner < texel {
        let middle = (inner + outer) * 0.5;
        inner = middle - texel * 0.5;
        outer = middle + texel * 0.5;
    }
    if distance <= inner {
        1.0
    } else if distance >= outer {
        0.0
    } else {
        0.5 + 0.5 * libm::cosf(PI * ((distance - inner) / (outer - inner)))
    }
}

/// The farthest distance at which [`dab_weight`] is not 0.
pub(crate) fn dab_reach(radius: f32, texel: f32) -> f32 {
    radius + texel * 0.5
}

/// 1 where the surface faces the brush, 0 where it turns away, from the cosine between their normals.
pub(crate) fn facing_weight(cosine: f32) -> f32 {
    let t = ((cosine - TURNED_AWAY) / (FULLY_FACING - TURNED_AWAY)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;

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

    #[test]
    fn a_surface_at_a_right_angle_gets_nothing() {
        assert_eq!(facing_weight(0.0), 0.0);
        assert_eq!(facing_weight(-1.0), 0.0);
        assert_eq!(facing_weight(0.5), 1.0);
    }
}
