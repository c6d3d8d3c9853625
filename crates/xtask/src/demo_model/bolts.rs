//! Four iron bolts through plate and board: a hexagonal head on a washer, a shank, and a nut behind.

use glam::{DVec2, DVec3};

use super::board::DEPTH;
use super::bracket::{BOLTS, PLATE};
use super::lathe::{Band, Flat, lathe};
use super::path::turned;
use super::profile::{at, line};
use super::shell::{Cut, Plan, Shell};
use super::slab::{Sides, Slab, slab};

/// All four, each turned as the spanner left it.
pub(crate) fn bolts(plan: Plan) -> Vec<Shell> {
    let turns = [0.1, 0.55, 0.3, 0.85];
    BOLTS.iter().zip(turns).flat_map(|(&place, turn)| bolt(plan, place, turn)).collect()
}

fn bolt(plan: Plan, place: DVec2, turn: f64) -> Vec<Shell> {
    let washer = PLATE + 0.0030;
    let pieces = [
        hexagon(washer - 0.0002, washer + 0.0110, 0.0140, 0.0018),
        ring(plan, PLATE - 0.0004, washer),
        shank(plan, -DEPTH - 0.0100, washer + 0.0060),
        hexagon(-DEPTH - 0.0075, -DEPTH + 0.0010, 0.0130, 0.0014),
    ];
    let spanner = turned(DVec3::ZERO, DVec3::Z, turn);
    pieces.map(|shell| shell.moved(|point| spanner(point) + place.extend(0.0))).into()
}

/// A head or a nut.
fn hexagon(back: f64, front: f64, radius: f64, bevel: f64) -> Shell {
    let outline = super::tube::round(radius, 6);
    slab(&Slab {
        outline: &outline,
        back,
        front,
        bevel,
        divisions: [1, 1],
        sides: Sides::Strips(6),
    })
}

const SHANK: f64 = 0.0068;

/// The washer: a flat ring with a narrow bevel.
fn ring(plan: Plan, back: f64, front: f64) -> Shell {
    let (inner, outer, bevel) = (SHANK + 0.0004, 0.0185, 0.0008);
    let wall = [at(outer, back), at(outer, front - bevel), at(outer - bevel, front)];
    upright(
        plan,
        vec![
            (wall.to_vec(), false),
            (line(at(outer - bevel, front), at(inner, front), 1), true),
            (line(at(inner, front), at(inner, back), 1), false),
            (line(at(inner, back), at(outer, back), 1), true),
        ],
    )
}

fn shank(plan: Plan, back: f64, front: f64) -> Shell {
    upright(
        plan,
        vec![
            (line(at(0.0, back), at(SHANK, back), 1), true),
            (line(at(SHANK, back), at(SHANK, front), plan.divisions(3)), false),
            (line(at(SHANK, front), at(0.0, front), 1), true),
        ],
    )
}

/// A lathe piece along z; true marks what is laid flat as a disc.
fn upright(plan: Plan, profiles: Vec<(Vec<DVec2>, bool)>) -> Shell {
    let gores = match plan.cut {
        Cut::First => Flat::Gores { count: 1, shift: 0.5 },
        Cut::Second => Flat::Gores { count: 1, shift: 0.0 },
    };
    let bands: Vec<Band> = profiles
        .into_iter()
        .map(|(profile, disc)| Band {
            profile,
            flat: if disc { Flat::Disc } else { gores },
            quarters: 0,
        })
        .collect();
    lathe(&bands, plan.divisions(18)).moved(|point| DVec3::new(point.x, -point.z, point.y))
}
