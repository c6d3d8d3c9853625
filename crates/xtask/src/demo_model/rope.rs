//! The hemp rope: three strands, led through the clapper's ring, its eye seized with thin cord, with a
//! barrel knot for the hand and a whipped end.

use std::f64::consts::TAU;

use glam::DVec3;

use super::clapper::ring_bottom;
use super::path::{even, through, wound};
use super::shell::{Cut, Plan, Shell};
use super::tube::{Tube, round, tube};

/// Radius of the whole rope.
const ROPE: f64 = 0.0100;
/// Radius of the thin cord.
const CORD: f64 = 0.0017;
/// Length in which a strand winds once around.
const LAY: f64 = 0.0640;

/// Strands of the rope, strands of the knot, the seizing, the whipping.
pub(crate) fn rope(plan: Plan) -> Vec<Shell> {
    let origin = ring_bottom();
    let line: Vec<DVec3> = course().into_iter().map(|point| point + origin).collect();
    let step = 0.0052 / plan.detail;
    let line = through(&line, step);
    let mut shells = laid(plan, &line, 5);
    let standing = |height: f64| at_height(&line, origin.y + height);
    shells.extend(laid(plan, &knot(&standing, step), 4));
    shells.push(cord(plan, &seizing(&standing, origin), 4));
    shells.push(cord(plan, &whipping(&standing), 2));
    shells
}

/// From the short end, up behind the ring, over its lowest stretch, and down to the whipped end.
fn course() -> Vec<DVec3> {
    [
        [0.0, -0.0720, -0.0100],
        [0.0, -0.0520, -0.0102],
        [0.0, -0.0340, -0.0125],
        [0.0, -0.0160, -0.0172],
        [0.0, 0.0000, -0.0178],
        [0.0, 0.0130, -0.0110],
        [0.0, 0.0172, 0.0000],
        [0.0, 0.0130, 0.0110],
        [0.0, 0.0000, 0.0178],
        [0.0, -0.0160, 0.0172],
        [0.0, -0.0340, 0.0125],
        [0.0, -0.0520, 0.0102],
        [0.0, -0.0740, 0.0085],
        [0.0010, -0.1050, 0.0030],
        [0.0030, -0.1450, 0.0000],
        [0.0030, -0.1900, 0.0000],
        [-0.0010, -0.2350, 0.0000],
        [-0.0030, -0.2700, 0.0010],
        [-0.0020, -0.2950, 0.0020],
    ]
    .map(DVec3::from)
    .into()
}

/// The point of the standing part (the later one of two) at a height.
fn at_height(line: &[DVec3], height: f64) -> DVec3 {
    line.iter().rev().find(|point| point.y >= height).copied().unwrap_or(line[0])
}

/// Three strands that touch one another, laid right-handed.
fn laid(plan: Plan, line: &[DVec3], pieces: usize) -> Vec<Shell> {
    // Three equal circles inside one (their radius is 2 sqrt(3) - 3 of its), pressed a little together.
    let strand = ROPE * 0.4641 * 1.1;
    let sides = plan.divisions(8);
    (0..3)
        .map(|index| {
            let path = wound(line, ROPE - strand, LAY, f64::from(index) / 3.0);
            tube(&Tube {
                path: &path,
                closed: false,
                section: &round(strand, sides),
                end_scale: 1.0,
                side: DVec3::X,
                pieces: if plan.cut == Cut::First { pieces } else { pieces + 1 },
                seam: if plan.cut == Cut::First { 0 } else { sides / 2 },
            })
        })
        .collect()
}

fn cord(plan: Plan, path: &[DVec3], pieces: usize) -> Shell {
    let path = even(path, 0.0050 / plan.detail);
    tube(&Tube {
        path: &path,
        closed: false,
        section: &round(CORD, plan.divisions(5)),
        end_scale: 1.0,
        side: DVec3::Y,
        pieces: if plan.cut == Cut::First { pieces } else { pieces + 1 },
        seam: if plan.cut == Cut::First { 0 } else { 2 },
    })
}

/// Turns of the rope around its own standing part, both ends tucked in.
fn knot(standing: &impl Fn(f64) -> DVec3, step: f64) -> Vec<DVec3> {
    let turns = 3.5;
    let count = 260;
    let points: Vec<DVec3> = (0..=count)
        .map(|index| {
            let t = f64::from(index) / f64::from(count);
            let edge = (t.min(1.0 - t) * 9.0).min(1.0);
            let radius = ROPE * (0.75 + 1.1 * edge * edge * (3.0 - 2.0 * edge));
            let height = -0.1850 - 2.0 * ROPE * 0.96 * turns * (t - 0.5) * (0.86 + 0.14 * edge);
            around(standing(height), turns * t, radius, radius, height)
        })
        .collect();
    let offset = DVec3::Y * (standing(-0.1850).y + 0.1850);
    even(&points.into_iter().map(|point| point + offset).collect::<Vec<_>>(), step)
}

/// A point of a turn around a middle, at a height of its own.
fn around(middle: DVec3, turn: f64, across: f64, along: f64, height: f64) -> DVec3 {
    let angle = TAU * turn;
    DVec3::new(middle.x + across * libm::sin(angle), height, middle.z + along * libm::cos(angle))
}

/// Thin cord around both legs under the ring, in an oval.
fn seizing(standing: &impl Fn(f64) -> DVec3, origin: DVec3) -> Vec<DVec3> {
    let turns = 7.0;
    (0..=280)
        .map(|index| {
            let t = f64::from(index) / 280.0;
            let height = -0.0360 - 2.05 * CORD * turns * t;
            let middle = DVec3::new(standing(height).x, 0.0, origin.z);
            around(middle, turns * t, ROPE + CORD * 0.7, ROPE * 2.12 + CORD * 0.7, height)
                + DVec3::Y * origin.y
        })
        .collect()
}

/// Thin cord around the end.
fn whipping(standing: &impl Fn(f64) -> DVec3) -> Vec<DVec3> {
    let turns = 6.0;
    let top = standing(-0.2640);
    (0..=240)
        .map(|index| {
            let t = f64::from(index) / 240.0;
            let height = -0.2640 - 2.05 * CORD * turns * t;
            let radius = ROPE + CORD * 0.5;
            around(standing(height), turns * t, radius, radius, top.y - (-0.2640 - height))
        })
        .collect()
}
