use std::f64::consts::TAU;

use glam::{DVec2, DVec3};

use super::*;
use crate::Mesh;
use crate::testing::{Builder, cylinder, prepared, soup};

fn ball(builder: &mut Builder, centre: DVec3, radius: f64, inward: bool) {
    let place = |st: DVec2| {
        let (longitude, latitude) = (st.x * TAU, (st.y - 0.5) * TAU / 2.0);
        let flat = latitude.cos();
        let at = DVec3::new(longitude.sin() * flat, latitude.sin(), longitude.cos() * flat);
        centre + at * radius
    };
    let turned = |st: DVec2| place(DVec2::new(1.0 - st.x, st.y));
    if inward {
        builder.patch((32, 16), turned, |st| st, 0);
    } else {
        builder.patch((32, 16), place, |st| st, 0);
    }
}

fn balls(list: &[(DVec3, f64, bool)]) -> Mesh {
    let mut builder = Builder::default();
    for &(centre, radius, inward) in list {
        ball(&mut builder, centre, radius, inward);
    }
    builder.mesh()
}

/// How many triangles are outer, and not, of those for which `which` holds of their middle.
fn count(surface: &Surface, which: impl Fn(DVec3) -> bool) -> (usize, usize) {
    let ids = (0..surface.triangle_count() as u32).map(TriangleId);
    let solid = ids.filter(|&id| !is_point_or_line(surface, id));
    let chosen = solid.filter(|&id| which(surface.position(id, [1.0 / 3.0; 3])));
    let (outer, not): (Vec<_>, Vec<_>) = chosen.partition(|&id| surface.is_outer(id));
    (outer.len(), not.len())
}

#[test]
fn a_closed_piece_on_its_own_is_outer_all_over_and_an_open_one_nowhere() {
    let surface = prepared(balls(&[(DVec3::ZERO, 1.0, false)]));
    assert_eq!(count(&surface, |_| true), (32 * 15 * 2, 0));
    let surface = prepared(cylinder(24, 4));
    assert_eq!(count(&surface, |_| true).0, 0);
}

#[test]
fn a_ball_within_a_ball_is_not_outer_and_neither_is_one_turned_inside_out() {
    let far = DVec3::X * 9.0;
    let surface = prepared(balls(&[
        (DVec3::ZERO, 1.0, false),
        (DVec3::ZERO, 0.5, false),
        (far, 1.0, true),
        // The wall of a hollow ball: the inner side bounds the hollow.
        (-far, 1.0, false),
        (-far, 0.5, true),
    ]));
    let all = 32 * 15 * 2;
    assert_eq!(count(&surface, |at| at.length() > 0.8 && at.length() < 2.0), (all, 0));
    assert_eq!(count(&surface, |at| at.length() < 0.6), (0, all));
    assert_eq!(count(&surface, |at| at.x > 5.0), (0, all));
    assert_eq!(count(&surface, |at| at.x < -5.0), (2 * all, 0));
}

#[test]
fn where_two_balls_meet_each_is_outer_outside_of_the_other_but_for_those_cut_through() {
    let other = DVec3::new(0.9, 0.31, 0.17);
    let surface = prepared(balls(&[(DVec3::ZERO, 1.0, false), (other, 0.7, false)]));
    // How deep a triangle of one ball lies in the other ball.
    let depth = |at: DVec3| {
        let (from_first, from_other) = (1.0 - at.length(), 0.7 - at.distance(other));
        if from_first.abs() < 0.02 { from_other } else { from_first }
    };
    // Edges are up to 0.2 long: what lies deeper or farther off is not cut.
    let (outer, not) = count(&surface, |at| depth(at) > 0.2);
    assert!(outer == 0 && not > 100, "{outer} {not}");
    let (outer, not) = count(&surface, |at| depth(at) < -0.2);
    assert!(outer > 500 && not == 0, "{outer} {not}");
    let (outer, not) = count(&surface, |at| depth(at).abs() < 0.02);
    assert!(outer < not, "{outer} {not}");
}

/// A tube along a figure of eight.
#[test]
fn a_piece_that_passes_through_itself_is_outer_only_where_it_does_not_lie_within_itself() {
    let on_path = |t: f64| DVec3::new(t.sin(), 0.0, t.sin() * t.cos());
    let place = |st: DVec2| {
        let (along, across) = (st.x * TAU, st.y * TAU);
        let forward = DVec3::new(along.cos(), 0.0, (2.0 * along).cos()).normalize_or_zero();
        let aside = DVec3::Y.cross(forward);
        on_path(along) + (aside * across.sin() + DVec3::Y * across.cos()) * 0.15
    };
    let mut builder = Builder::default();
    builder.patch((120, 24), place, |st| st, 0);
    let surface = prepared(builder.mesh());
    // Near the crossing the two strands are nearly straight lines at right angles.
    let strands = [DVec3::new(1.0, 0.0, 1.0), DVec3::new(1.0, 0.0, -1.0)];
    let from_strand = |at: DVec3, k: usize| at.cross(strands[k].normalize_or_zero()).length();
    let within = |at: DVec3| {
        let nearest = from_strand(at, 0).min(from_strand(at, 1));
        at.length() < 0.3 && nearest < 0.1
    };
    let (outer, not) = count(&surface, within);
    assert!(outer == 0 && not > 20, "{outer} {not}");
    let (outer, not) = count(&surface, |at| at.length() > 0.35);
    assert!(outer > 3000 && not == 0, "{outer} {not}");
}

#[test]
fn triangles_are_apart_exactly_where_no_point_of_one_is_a_point_of_the_other() {
    let flat = [DVec3::ZERO, DVec3::X, DVec3::Y];
    let moved = |by: DVec3| flat.map(|corner| corner + by);
    assert!(are_apart(flat, moved(DVec3::Z * 0.01), 1e-3));
    assert!(are_apart(flat, moved(DVec3::new(0.6, 0.6, 0.0)), 1e-3));
    assert!(!are_apart(flat, moved(DVec3::new(0.4, 0.4, 0.0)), 1e-3));
    assert!(!are_apart(flat, moved(DVec3::Z * 1e-4), 1e-3));
    let upright =
        [DVec3::new(0.2, 0.2, -1.0), DVec3::new(0.2, 0.2, 1.0), DVec3::new(3.0, 3.0, 0.0)];
    assert!(!are_apart(flat, upright, 1e-3));
    assert!(are_apart(flat, upright.map(|corner| corner + DVec3::X), 1e-3));
}

#[test]
fn very_many_shells_in_one_place_take_no_more_than_linear_time() {
    let (a, b, c, d) = ([0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]);
    let shell = |k: u32| {
        let moved = |p: [f32; 3]| p.map(|x| x + k as f32 * 1e-5);
        [[a, c, b], [a, b, d], [b, c, d], [c, a, d]].map(|face| (face.map(moved), k))
    };
    let surface = prepared(soup(&(0..10_000).flat_map(shell).collect::<Vec<_>>()));
    assert_eq!(count(&surface, |_| true), (0, 40_000));
    let surface = prepared(soup(&shell(0)));
    assert_eq!(count(&surface, |_| true), (4, 0));
}
