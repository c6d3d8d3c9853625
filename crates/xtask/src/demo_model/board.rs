//! The oak board: three upright planks with bevelled edges, and two ledges behind that hold them.

use glam::{DVec2, DVec3};

use super::path::turned;
use super::shell::{Plan, Shell};
use super::slab::{Sides, Slab, slab};

/// Depth of the planks; their front lies at z = 0.
pub(crate) const DEPTH: f64 = 0.036;

/// Where the outer planks' tops begin to fall away, and where they end.
const SHOULDERS: [f64; 2] = [0.600, 0.560];

/// The planks, then the ledges.
pub(crate) fn board(plan: Plan) -> Vec<Shell> {
    let left =
        [[-0.2500, -0.2280], [-0.0845, -0.2280], [-0.0845, SHOULDERS[0]], [-0.2500, SHOULDERS[1]]];
    let middle = [[-0.0810, -0.2280], [0.0830, -0.2280], [0.0830, 0.6440], [-0.0810, 0.6440]];
    let right =
        [[0.0865, -0.2280], [0.2500, -0.2280], [0.2500, SHOULDERS[1]], [0.0865, SHOULDERS[0]]];
    let mut shells: Vec<Shell> = [left, middle, right]
        .iter()
        .zip([0.0, 0.37, 0.71])
        .map(|(outline, phase)| plank(plan, &outline.map(DVec2::from)).moved(|p| settled(p, phase)))
        .collect();
    shells.extend([-0.105, 0.445].map(|height| ledge(plan, height)));
    shells
}

fn plank(plan: Plan, outline: &[DVec2]) -> Shell {
    slab(&Slab {
        outline,
        back: -DEPTH,
        front: 0.0,
        bevel: 0.0055,
        divisions: [plan.flat_divisions(5), plan.flat_divisions(24)],
        sides: Sides::Upright,
    })
}

/// Wood does not stay flat: each plank has bowed and twisted by a millimetre or two.
fn settled(point: DVec3, phase: f64) -> DVec3 {
    let bow = libm::sin((point.y * 1.3 + phase) * std::f64::consts::TAU) * 0.0012;
    let twist = (point.x * point.y) * (phase - 0.35) * 0.02;
    point + DVec3::Z * (bow + twist)
}

/// Made upright, so that its grain lies as the planks' does in the texture, then laid across.
fn ledge(plan: Plan, height: f64) -> Shell {
    let half = [0.040, 0.215];
    let outline =
        [[-half[0], -half[1]], [half[0], -half[1]], [half[0], half[1]], [-half[0], half[1]]];
    let upright = slab(&Slab {
        outline: &outline.map(DVec2::from),
        back: -DEPTH - 0.026,
        front: -DEPTH + 0.003,
        bevel: 0.004,
        divisions: [plan.flat_divisions(2), plan.flat_divisions(10)],
        sides: Sides::Upright,
    });
    let across = turned(DVec3::ZERO, DVec3::Z, -std::f64::consts::FRAC_PI_2);
    upright.moved(|point| across(point) + DVec3::Y * height)
}
