//! Middle lines for tubes.

use std::f64::consts::TAU;

use glam::{DQuat, DVec3};

/// A smooth line through all points (Catmull and Rom, 1974, uniform), in even steps of about this length.
pub(crate) fn through(points: &[DVec3], step: f64) -> Vec<DVec3> {
    let last = points.len() - 1;
    let mut fine = vec![points[0]];
    for at in 0..last {
        let (a, b) = (points[at.saturating_sub(1)], points[at]);
        let (c, d) = (points[at + 1], points[(at + 2).min(last)]);
        for index in 1..=64 {
            let t = f64::from(index) / 64.0;
            let cubic = 2.0 * b
                + (c - a) * t
                + (2.0 * a - 5.0 * b + 4.0 * c - d) * (t * t)
                + (3.0 * b - a - 3.0 * c + d) * (t * t * t);
            fine.push(cubic / 2.0);
        }
    }
    even(&fine, step)
}

/// The same line in even steps of about this length; both ends stay.
pub(crate) fn even(line: &[DVec3], step: f64) -> Vec<DVec3> {
    let length: f64 = line.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
    let steps = ((length / step).round() as usize).max(1);
    let mut points = vec![line[0]];
    let mut gone = 0.0;
    for pair in line.windows(2) {
        let long = pair[0].distance(pair[1]);
        while points.len() < steps && gone + long >= length * points.len() as f64 / steps as f64 {
            let wanted = length * points.len() as f64 / steps as f64;
            points.push(pair[0].lerp(pair[1], (wanted - gone) / long));
        }
        gone += long;
    }
    points.push(line[line.len() - 1]);
    points
}

/// A circle in the plane of two unit vectors, without its first point repeated.
pub(crate) fn circle(
    middle: DVec3,
    x: DVec3,
    y: DVec3,
    radius: f64,
    segments: usize,
) -> Vec<DVec3> {
    (0..segments)
        .map(|index| {
            let angle = TAU * index as f64 / segments as f64;
            middle + (x * libm::cos(angle) + y * libm::sin(angle)) * radius
        })
        .collect()
}

/// One strand that winds around a line: at this distance, once in `lay` metres, from this phase (turns).
pub(crate) fn wound(line: &[DVec3], distance: f64, lay: f64, phase: f64) -> Vec<DVec3> {
    let last = line.len() - 1;
    let mut side = DVec3::X;
    let mut along = 0.0;
    let mut strand = Vec::new();
    for (index, &at) in line.iter().enumerate() {
        let tangent = line[(index + 1).min(last)] - line[index.saturating_sub(1)];
        let tangent = tangent.normalize_or_zero();
        if index == 0 && tangent.dot(side).abs() > 0.9 {
            side = DVec3::Z;
        }
        side = side.reject_from_normalized(tangent).normalize_or_zero();
        if index > 0 {
            along += at.distance(line[index - 1]);
        }
        let angle = TAU * (along / lay + phase);
        let offset = side * libm::cos(angle) + tangent.cross(side) * libm::sin(angle);
        strand.push(at + offset * distance);
    }
    strand
}

/// Turns points around an axis through a pivot; the angle is in radians.
pub(crate) fn turned(pivot: DVec3, axis: DVec3, angle: f64) -> impl Fn(DVec3) -> DVec3 {
    let (sine, cosine) = (libm::sin(angle / 2.0), libm::cos(angle / 2.0));
    let turn = DQuat::from_xyzw(axis.x * sine, axis.y * sine, axis.z * sine, cosine);
    move |point| pivot + turn * (point - pivot)
}
