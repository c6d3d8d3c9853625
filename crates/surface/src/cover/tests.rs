use std::f64::consts::TAU;

use super::*;
use crate::Mesh;
use crate::testing::{Builder, prepared, soup};

/// How many triangles the sheet round `centre` has, if it hides none of its own points.
fn covering(
    surface: &Surface,
    centre: DVec3,
    radius: f64,
    sight: Sight,
    side: f64,
) -> Option<usize> {
    let mut ground = Vec::new();
    surface.triangles_in_ball(centre, radius, &mut ground);
    // Those that are collapsed to a line, at a pole, are part of no sheet.
    ground.retain(|&id| surface.geometric_normal(id) != DVec3::ZERO);
    assert!(!ground.is_empty());
    let sweep = Sweep { centre, radius, sight };
    Cover::new(surface, &sweep, side, &ground.iter().copied()).map(|cover| cover.count)
}

fn above(surface: &Surface, centre: DVec3, radius: f64) -> Option<usize> {
    let eye = Sight::Eye(centre + DVec3::Y * 3.0);
    let along = Sight::Along(DVec3::Y * 3.0);
    let counts = [eye, along].map(|sight| covering(surface, centre, radius, sight, 1.0));
    assert_eq!(counts[0].is_some(), counts[1].is_some());
    counts[0]
}

fn patch(quads: (u32, u32), place: impl Fn(DVec2) -> DVec3) -> Surface {
    let mut builder = Builder::default();
    builder.patch(quads, place, |st| st, 0);
    prepared(builder.mesh())
}

/// From 0 to 1 in x and z, facing up.
fn flat(st: DVec2) -> DVec3 {
    DVec3::new(st.x, 0.0, 1.0 - st.y)
}

/// A sheet that goes round the y axis so often before it closes.
fn round(times: f64) -> Surface {
    patch((40, 10), |st| {
        let (around, out) = (times * TAU * st.x, 1.0 - st.y);
        // Where the sheet passes through itself it has no corners in common.
        let height = 0.1 * out * (TAU * st.x + 0.1).sin();
        DVec3::new(out * around.cos(), height, -out * around.sin())
    })
}

#[test]
fn a_sheet_covers_the_disc_once_unless_it_turns_twice_round_a_point_there() {
    assert!(above(&round(1.0), DVec3::ZERO, 0.3).is_some());
    assert_eq!(above(&round(2.0), DVec3::ZERO, 0.3), None);
    let aside = DVec3::new(0.0, 0.05, -0.5);
    assert!(above(&round(2.0), aside, 0.04).is_some());
}

#[test]
fn a_border_within_the_disc_leaves_doubt() {
    let surface = patch((10, 10), flat);
    assert!(above(&surface, DVec3::new(0.5, 0.0, 0.9), 0.05).is_some());
    assert_eq!(above(&surface, DVec3::new(0.5, 0.0, 0.96), 0.05), None);
}

#[test]
fn only_the_neighbourhood_of_the_disc_is_looked_at() {
    let surface = patch((100, 100), flat);
    // A disc that meets no edge, one that meets one edge, and one of 6 x 6 quads across.
    assert_eq!(above(&surface, DVec3::new(0.5033, 0.0, 0.5047), 0.001), Some(1));
    assert_eq!(above(&surface, DVec3::new(0.505, 0.0, 0.505), 0.001), Some(2));
    let many = above(&surface, DVec3::new(0.505, 0.0, 0.505), 0.03).unwrap_or(0);
    assert!((2 * 28..2 * 49).contains(&many), "{many}");
    assert_eq!(above(&surface, DVec3::new(0.505, 0.0, 0.505), 0.2), None);
}

#[test]
fn a_sheet_seen_from_behind_is_one_for_the_other_side_alone() {
    let surface = patch((10, 10), flat);
    let centre = DVec3::new(0.52, 0.0, 0.53);
    let from = |height: f64, side| {
        covering(&surface, centre, 0.1, Sight::Eye(centre + DVec3::Y * height), side).is_some()
    };
    assert_eq!([from(2.0, 1.0), from(2.0, -1.0)], [true, false]);
    assert_eq!([from(-2.0, 1.0), from(-2.0, -1.0)], [false, true]);
}

#[test]
fn a_sheet_seen_at_a_sharp_angle_leaves_doubt() {
    let surface = patch((10, 10), flat);
    let centre = DVec3::new(0.5, 0.0, 0.5);
    // The sine that a triangle must have is 0.05.
    let at = |sine: f64| {
        let towards = DVec3::new(1.0, sine, 0.0);
        covering(&surface, centre, 0.001, Sight::Along(towards), 1.0).is_some()
    };
    assert!(at(0.06) && !at(0.04));
}

#[test]
fn triangles_that_run_along_an_edge_one_way_or_meet_there_in_threes_leave_doubt() {
    let [a, b] = [[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]];
    let [left, right, top] = [[-1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.5, 0.5, 0.0]];
    let seen = |mesh: Mesh| above(&prepared(mesh), DVec3::ZERO, 0.1);
    assert_eq!(seen(soup(&[([a, b, right], 0), ([b, a, left], 0)])), Some(2));
    assert_eq!(seen(soup(&[([a, b, right], 0), ([a, b, top], 0)])), None);
    let three = [([a, b, right], 0), ([b, a, left], 0), ([a, b, top], 0)];
    assert_eq!(seen(soup(&three)), None);
}

#[test]
fn ground_on_two_sheets_leaves_doubt() {
    let mut builder = Builder::default();
    builder.patch((4, 4), flat, |st| st, 0);
    builder.patch((4, 4), |st| flat(st) + DVec3::Y * 0.02, |st| st, 0);
    let surface = prepared(builder.mesh());
    let centre = DVec3::new(0.55, 0.0, 0.6);
    assert!(above(&surface, centre, 0.019).is_some());
    assert_eq!(above(&surface, centre, 0.021), None);
}

#[test]
fn the_picture_of_a_ball_is_the_disc() {
    let surface = patch((1, 1), flat);
    let (centre, radius) = (DVec3::new(0.2, 0.1, 0.4), 0.3);
    for look in [DVec3::new(0.1, 0.5, -0.3), DVec3::new(-40.0, 3.0, 7.0)] {
        for sight in [Sight::Eye(centre + look), Sight::Along(look)] {
            let picture = Picture::new(&surface, &Sweep { centre, radius, sight }, -1.0).unwrap();
            let mut widest = 0.0f64;
            for k in 0..10_000 {
                // Evenly over the sphere.
                let (height, turn) = (f64::from(k) / 5000.0 - 1.0, f64::from(k) * 2.399_963);
                let flat = (1.0 - height * height).sqrt();
                let out = DVec3::new(flat * turn.cos(), height, flat * turn.sin());
                widest = widest.max(picture.point(centre + out * radius).unwrap().length());
            }
            // The disc is wider by the rounding of the hull: 2e-6 of 0.3.
            assert!((0.999..1.0).contains(&widest), "{widest}");
        }
    }
    let inside = Sweep { centre, radius, sight: Sight::Eye(centre + DVec3::X * 0.29) };
    assert!(Picture::new(&surface, &inside, 1.0).is_none());
}

#[test]
fn a_triangle_off_the_cone_clears_it_and_one_across_it_does_not() {
    let surface = patch((10, 10), flat);
    let centre = DVec3::new(0.5, 0.0, 0.5);
    let sweep = Sweep { centre, radius: 0.1, sight: Sight::Eye(centre + DVec3::Y * 2.0) };
    let mut ground = Vec::new();
    surface.triangles_in_ball(centre, 0.1, &mut ground);
    let cover = Cover::new(&surface, &sweep, 1.0, &ground.iter().copied()).unwrap();
    let none = TriangleId(u32::MAX);
    // Half way to the eye the cone is half as wide.
    let at = |x: f64, size: f64| {
        let corner = |x: f64, z: f64| centre + DVec3::new(x, 1.0, z);
        cover.clears(none, [corner(x, -size), corner(x + size, 0.0), corner(x, size)])
    };
    assert!(at(0.06, 0.2) && !at(0.04, 0.2));
    assert!(!at(-0.01, 0.02) && !at(-10.0, 40.0));
    let behind = DVec3::new(0.0, 2.5, 0.0);
    assert!(!cover.clears(none, [centre + DVec3::X, centre - DVec3::X, centre + behind]));
    assert!(ground.iter().all(|&id| cover.clears(id, surface.positions_of(id))));
}
