//! The iron bracket: a plate with its corners cut, an arm through the bell's loop, and a brace above it.

use glam::{DVec2, DVec3};

use super::bell::MOUTH;
use super::path::through;
use super::shell::{Cut, Plan, Shell};
use super::slab::{Sides, Slab, slab};
use super::tube::{Tube, chamfered_square, tube};

/// How far the plate stands before the board.
pub(crate) const PLATE: f64 = 0.0085;

/// Where the four bolts go through the plate: x and y.
pub(crate) const BOLTS: [DVec2; 4] = [
    DVec2::new(-0.0350, 0.2720),
    DVec2::new(0.0350, 0.2720),
    DVec2::new(0.0350, 0.5120),
    DVec2::new(-0.0350, 0.5120),
];

/// Height of the arm's middle line.
const ARM: f64 = 0.3080;
/// Where the brace leaves the plate.
const BRACE: f64 = 0.4900;

/// Plate, arm, brace, and a foot around each bar where it meets the plate.
pub(crate) fn bracket(plan: Plan) -> Vec<Shell> {
    vec![plate(), foot(ARM, 0.0200), foot(BRACE, 0.0165), arm(plan), brace(plan)]
}

fn plate() -> Shell {
    let outline = cut_corners([0.0, 0.3920], [0.0590, 0.1520], 0.0160);
    iron(&outline, [-0.002, PLATE], 0.0022, 2)
}

fn foot(height: f64, half: f64) -> Shell {
    let outline = cut_corners([0.0, height], [half, half], half * 0.25);
    iron(&outline, [PLATE - 0.001, PLATE + 0.0070], 0.0025, 8)
}

fn iron(outline: &[DVec2], [back, front]: [f64; 2], bevel: f64, strip: usize) -> Shell {
    let sides = Sides::Strips(strip);
    slab(&Slab { outline, back, front, bevel, divisions: [1, 1], sides })
}

/// A rectangle around a middle with its corners cut off.
fn cut_corners(middle: [f64; 2], half: [f64; 2], cut: f64) -> [DVec2; 8] {
    let ([x, y], [x_cut, y_cut]) = (half, half.map(|half| half - cut));
    [
        [-x_cut, -y],
        [x_cut, -y],
        [x, -y_cut],
        [x, y_cut],
        [x_cut, y],
        [-x_cut, y],
        [-x, y_cut],
        [-x, -y_cut],
    ]
    .map(|corner| DVec2::from(corner) + DVec2::from(middle))
}

/// Straight through the loop, its end turned up and back so that the bell cannot slip off.
fn arm(plan: Plan) -> Shell {
    let (y, z) = (ARM, MOUTH.z);
    let path = [
        [0.0, y, 0.0040],
        [0.0, y, 0.0900],
        [0.0, y - 0.0005, z - 0.06],
        [0.0, y, z + 0.010],
        [0.0, y + 0.0030, z + 0.042],
        [0.0, y + 0.0210, z + 0.066],
        [0.0, y + 0.0470, z + 0.068],
        [0.0, y + 0.0640, z + 0.050],
        [0.0, y + 0.0590, z + 0.030],
    ];
    bar(plan, &path, 0.0095, 0.62)
}

/// From the plate's upper half down to the arm, in one swing.
fn brace(plan: Plan) -> Shell {
    let path = [
        [0.0, BRACE, 0.0040],
        [0.0, 0.4860, 0.0260],
        [0.0, 0.4560, 0.0620],
        [0.0, 0.4080, 0.0890],
        [0.0, 0.3600, 0.1180],
        [0.0, 0.3260, 0.1560],
        [0.0, 0.3080, 0.1900],
    ];
    bar(plan, &path, 0.0075, 0.85)
}

fn bar(plan: Plan, through_points: &[[f64; 3]], half: f64, end_scale: f64) -> Shell {
    let points: Vec<DVec3> = through_points.iter().copied().map(DVec3::from).collect();
    tube(&Tube {
        path: &through(&points, 0.0085 / plan.detail),
        closed: false,
        section: &chamfered_square(half, half * 0.28),
        end_scale,
        side: DVec3::X,
        pieces: if plan.cut == Cut::First { 1 } else { 2 },
        // Underneath on the first layout, on one side on the second.
        seam: if plan.cut == Cut::First { 6 } else { 4 },
    })
}
