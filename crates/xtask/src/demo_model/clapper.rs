//! The iron clapper, swung a little towards the viewer, and the ring at its end.

use glam::DVec3;

use super::bell::MOUTH;
use super::lathe::{Band, Flat, lathe};
use super::path::{circle, turned};
use super::profile::{at, ball, bezier, chain, line};
use super::shell::{Cut, Plan, Shell};
use super::tube::{Tube, round, tube};

/// Middle of the ring's lowest stretch, where the rope goes round.
pub(crate) fn ring_bottom() -> DVec3 {
    swing()(MOUTH + DVec3::Y * (RING_MIDDLE - RING_RADIUS))
}

const RING_MIDDLE: f64 = -0.0585;
const RING_RADIUS: f64 = 0.0225;
const SWING: f64 = -0.075;

fn swing() -> impl Fn(DVec3) -> DVec3 {
    turned(MOUTH + DVec3::Y * 0.25, DVec3::X, SWING)
}

/// The rod with its ball, and the ring.
pub(crate) fn clapper(plan: Plan) -> Vec<Shell> {
    let rod = lathe(&bands(plan), plan.divisions(20)).moved(|point| point + MOUTH);
    let ring_path = circle(
        MOUTH + DVec3::Y * RING_MIDDLE,
        DVec3::Y,
        -DVec3::X,
        RING_RADIUS,
        plan.divisions(28),
    );
    let ring = tube(&Tube {
        path: &ring_path,
        closed: true,
        section: &round(0.0048, plan.divisions(9)),
        end_scale: 1.0,
        side: DVec3::Y,
        pieces: if plan.cut == Cut::First { 1 } else { 2 },
        seam: plan.divisions(9) / 2,
    });
    let swing = swing();
    vec![rod.moved(&swing), ring.moved(&swing)]
}

/// From the tail up to the end inside the crown.
fn bands(plan: Plan) -> Vec<Band> {
    let gores = |first, second| match plan.cut {
        Cut::First => Flat::Gores { count: first, shift: 0.5 },
        Cut::Second => Flat::Gores { count: second, shift: 0.0 },
    };
    let band = |profile, flat| Band { profile, flat, quarters: 0 };
    let n = |base| plan.divisions(base);
    let head = ball(0.0290, 0.0305, [0.045, 0.458], n(12));
    let (low, high) = (head[0], head[head.len() - 1]);
    let tail = chain([
        line(at(0.0100, -0.0360), at(0.0108, -0.0330), 1),
        bezier([at(0.0108, -0.0330), low], [at(0.0108, -0.0180), at(0.0075, -0.0080)], n(5)),
    ]);
    vec![
        band(line(at(0.0, -0.0360), at(0.0100, -0.0360), 1), Flat::Disc),
        band(tail, gores(1, 2)),
        band(head, gores(4, 3)),
        band(line(high, at(0.0062, 0.2650), n(10)), gores(1, 2)),
        band(line(at(0.0062, 0.2650), at(0.0, 0.2650), 1), Flat::Disc),
    ]
}
