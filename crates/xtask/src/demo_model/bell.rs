//! The bronze bell: a moulded rim, a waist, a stepped crown, and the loop that it hangs by.

use glam::{DVec2, DVec3};

use super::lathe::{Band, Flat, lathe};
use super::profile::{at, bead, bezier, chain, line};
use super::shell::{Cut, Plan, Shell};
use super::tube::{Tube, round, tube};

/// Where the bell's axis meets the plane of its mouth.
pub(crate) const MOUTH: DVec3 = DVec3::new(0.0, 0.0, 0.245);

/// The bell and its loop.
pub(crate) fn bell(plan: Plan) -> Vec<Shell> {
    let body = lathe(&bands(plan), plan.divisions(60));
    vec![body.moved(|point| point + MOUTH), crown_loop(plan)]
}

/// The profile, up the outside and down the inside.
fn bands(plan: Plan) -> Vec<Band> {
    let gores = |first, second, shift| match plan.cut {
        Cut::First => Flat::Gores { count: first, shift: 0.0 },
        Cut::Second => Flat::Gores { count: second, shift },
    };
    let outside = |profile, flat| Band { profile, flat, quarters: 0 };
    let inside = |profile, flat| Band { profile, flat, quarters: 2 };
    vec![
        outside(lip(plan), gores(3, 4, 0.5)),
        outside(rim_mouldings(plan), gores(3, 4, 0.5)),
        outside(waist(plan), gores(4, 3, 0.5)),
        outside(shoulder_mouldings(plan), gores(2, 3, 0.5)),
        outside(crown(plan), Flat::Disc),
        inside(inner_dome(plan), Flat::Disc),
        inside(inner_waist(plan), gores(4, 3, 0.25)),
    ]
}

fn lip(plan: Plan) -> Vec<DVec2> {
    let n = |base| plan.divisions(base);
    chain([
        bezier(
            [at(0.1660, 0.0), at(0.1755, 0.0095)],
            [at(0.1715, -0.0012), at(0.1755, 0.0030)],
            n(5),
        ),
        bezier(
            [at(0.1755, 0.0095), at(0.1672, 0.0350)],
            [at(0.1750, 0.0180), at(0.1710, 0.0270)],
            n(4),
        ),
    ])
}

/// Two broad steps with a bead between fillets.
fn rim_mouldings(plan: Plan) -> Vec<DVec2> {
    let n = |base| plan.divisions(base);
    chain([
        line(at(0.1672, 0.0350), at(0.1695, 0.0362), 1),
        line(at(0.1695, 0.0362), at(0.1683, 0.0400), 1),
        line(at(0.1683, 0.0400), at(0.1655, 0.0402), 1),
        bead(at(0.1655, 0.0402), at(0.1615, 0.0490), n(6)),
        line(at(0.1615, 0.0490), at(0.1632, 0.0500), 1),
        line(at(0.1632, 0.0500), at(0.1614, 0.0540), 1),
        line(at(0.1614, 0.0540), at(0.1575, 0.0546), 1),
    ])
}

fn waist(plan: Plan) -> Vec<DVec2> {
    let ends = [at(0.1575, 0.0546), at(0.1010, 0.2180)];
    bezier(ends, [at(0.1290, 0.0900), at(0.1070, 0.1350)], plan.divisions(14))
}

/// A bead between two fillets, and a smaller one above.
fn shoulder_mouldings(plan: Plan) -> Vec<DVec2> {
    let n = |base| plan.divisions(base);
    chain([
        line(at(0.1010, 0.2180), at(0.1032, 0.2184), 1),
        line(at(0.1032, 0.2184), at(0.1030, 0.2215), 1),
        line(at(0.1030, 0.2215), at(0.1012, 0.2217), 1),
        bead(at(0.1012, 0.2217), at(0.1008, 0.2297), n(6)),
        line(at(0.1008, 0.2297), at(0.1025, 0.2299), 1),
        line(at(0.1025, 0.2299), at(0.1022, 0.2330), 1),
        line(at(0.1022, 0.2330), at(0.0985, 0.2336), 1),
    ])
}

/// The rounded shoulder, the nearly flat top, and a step under the loop.
fn crown(plan: Plan) -> Vec<DVec2> {
    let n = |base| plan.divisions(base);
    chain([
        line(at(0.0985, 0.2336), at(0.0978, 0.2420), 1),
        bezier(
            [at(0.0978, 0.2420), at(0.0740, 0.2665)],
            [at(0.0970, 0.2560), at(0.0890, 0.2640)],
            n(5),
        ),
        line(at(0.0740, 0.2665), at(0.0560, 0.2698), n(2)),
        bezier(
            [at(0.0560, 0.2698), at(0.0500, 0.2770)],
            [at(0.0535, 0.2705), at(0.0520, 0.2770)],
            n(3),
        ),
        line(at(0.0500, 0.2770), at(0.0, 0.2795), n(4)),
    ])
}

fn inner_dome(plan: Plan) -> Vec<DVec2> {
    let n = |base| plan.divisions(base);
    chain([
        line(at(0.0, 0.2600), at(0.0550, 0.2560), n(3)),
        bezier(
            [at(0.0550, 0.2560), at(0.0900, 0.2250)],
            [at(0.0780, 0.2535), at(0.0880, 0.2450)],
            n(5),
        ),
    ])
}

/// Down to the sound bow, the thickest ring of the wall, and out to the lip.
fn inner_waist(plan: Plan) -> Vec<DVec2> {
    let n = |base| plan.divisions(base);
    chain([
        bezier(
            [at(0.0900, 0.2250), at(0.1440, 0.0420)],
            [at(0.0960, 0.1450), at(0.1150, 0.0950)],
            n(12),
        ),
        bezier(
            [at(0.1440, 0.0420), at(0.1660, 0.0)],
            [at(0.1530, 0.0270), at(0.1590, 0.0120)],
            n(5),
        ),
    ])
}

/// An arch whose feet stand in the crown; the bracket's arm passes through it.
fn crown_loop(plan: Plan) -> Shell {
    let segments = plan.divisions(28);
    let path: Vec<DVec3> = (0..=segments)
        .map(|index| {
            let angle = std::f64::consts::PI * (1.16 * index as f64 / segments as f64 - 0.08);
            DVec3::new(0.0315 * libm::cos(angle), 0.2870 + 0.0430 * libm::sin(angle), 0.0)
        })
        .map(|point| point + MOUTH)
        .collect();
    let sides = plan.divisions(12);
    tube(&Tube {
        path: &path,
        closed: false,
        section: &round(0.0105, sides),
        end_scale: 1.0,
        side: DVec3::X,
        pieces: match plan.cut {
            Cut::First => 1,
            Cut::Second => 2,
        },
        // Towards the arm, where nobody looks.
        seam: if plan.cut == Cut::First { sides / 2 } else { 0 },
    })
}
