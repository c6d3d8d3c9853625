//! Stretches of a lathe's profile: radius and height, in metres.

use std::f64::consts::PI;

use glam::DVec2;

/// A point of a profile.
pub(crate) fn at(radius: f64, height: f64) -> DVec2 {
    DVec2::new(radius, height)
}

/// Each curve begins where the one before ends.
pub(crate) fn chain(curves: impl IntoIterator<Item = Vec<DVec2>>) -> Vec<DVec2> {
    let mut points = curves.into_iter().flatten().collect::<Vec<_>>();
    points.dedup_by(|a, b| a.distance(*b) < 1e-9);
    points
}

/// A straight stretch.
pub(crate) fn line(from: DVec2, to: DVec2, segments: usize) -> Vec<DVec2> {
    (0..=segments).map(|step| from.lerp(to, step as f64 / segments as f64)).collect()
}

/// A half-round moulding that stands out between two points, to the right of the way from one to the other.
pub(crate) fn bead(from: DVec2, to: DVec2, segments: usize) -> Vec<DVec2> {
    let middle = from.midpoint(to);
    let (back, out) = (from - middle, -(to - middle).perp());
    (0..=segments)
        .map(|step| {
            let angle = PI * step as f64 / segments as f64;
            middle + back * libm::cos(angle) + out * libm::sin(angle)
        })
        .collect()
}

/// A cubic Bézier curve in the plane, its ends included.
pub(crate) fn bezier(ends: [DVec2; 2], controls: [DVec2; 2], segments: usize) -> Vec<DVec2> {
    (0..=segments)
        .map(|index| {
            let t = index as f64 / segments as f64;
            let s = 1.0 - t;
            ends[0] * (s * s * s)
                + controls[0] * (3.0 * s * s * t)
                + controls[1] * (3.0 * s * t * t)
                + ends[1] * (t * t * t)
        })
        .collect()
}

/// An arc around a middle on the axis, between two angles in turns from the lowest point.
pub(crate) fn ball(middle: f64, radius: f64, turns: [f64; 2], segments: usize) -> Vec<DVec2> {
    (0..=segments)
        .map(|step| {
            let turn = turns[0] + (turns[1] - turns[0]) * step as f64 / segments as f64;
            let angle = 2.0 * PI * turn;
            at(radius * libm::sin(angle), middle - radius * libm::cos(angle))
        })
        .collect()
}
