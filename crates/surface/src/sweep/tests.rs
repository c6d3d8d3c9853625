use std::f64::consts::TAU;

use glam::{DVec2, DVec3};

use super::*;
use crate::Mesh;
use crate::testing::{Builder, cube, prepared, two_sheets};

mod open;

/// A ring of a tube, with ripples.
fn torus(builder: &mut Builder, quads: u32, centre: DVec3, (ring, tube): (f64, f64), ripple: f64) {
    let place = |st: DVec2| {
        let (around, across) = (st.x * TAU, st.y * TAU);
        let tube = tube * (1.0 + ripple * (9.0 * around).sin() * (5.0 * across).cos());
        let out = ring + tube * across.cos();
        centre + DVec3::new(out * around.sin(), tube * across.sin(), out * around.cos())
    };
    builder.patch((quads, quads), place, |st| st, 0);
}

fn cuboid(builder: &mut Builder, low: DVec3, high: DVec3) {
    let data = cube().into_data();
    for face in data.corners.chunks(4) {
        let at = |k: usize| data.positions[face[k].position as usize].as_dvec3();
        let points = [0, 1, 2, 3].map(|k| low + at(k) * (high - low));
        builder.face(&points, &[], 0, 0);
    }
}

fn scenes() -> Vec<(&'static str, Mesh)> {
    let made = |make: &dyn Fn(&mut Builder)| {
        let mut builder = Builder::default();
        make(&mut builder);
        builder.mesh()
    };
    let sheet = |st: DVec2| {
        DVec3::new(
            st.x * 2.0 - 1.0,
            0.05 * (st.x * 20.0).sin() * (st.y * 17.0).cos(),
            1.0 - 2.0 * st.y,
        )
    };
    vec![
        ("a torus", made(&|b| torus(b, 40, DVec3::ZERO, (1.0, 0.4), 0.0))),
        ("a rippled torus", made(&|b| torus(b, 60, DVec3::ZERO, (1.0, 0.4), 0.1))),
        ("a torus through itself", made(&|b| torus(b, 40, DVec3::ZERO, (0.3, 0.6), 0.02))),
        (
            "shells through each other",
            made(&|b| {
                torus(b, 30, DVec3::ZERO, (1.0, 0.4), 0.05);
                torus(b, 30, DVec3::new(0.8, 0.3, 0.2), (0.7, 0.3), 0.0);
                torus(b, 30, DVec3::new(1.0, 0.0, 0.1), (0.1, 0.3), 0.0);
            }),
        ),
        ("a rippled sheet", made(&|b| b.patch((40, 40), sheet, |st| st, 0))),
        ("two sheets back to back", two_sheets(20, 0.01)),
        (
            "a wire over a plate",
            made(&|b| {
                let plate = |st: DVec2| DVec3::new(st.x * 2.0 - 1.0, 0.0, 1.0 - 2.0 * st.y);
                b.patch((30, 30), plate, |st| st, 0);
                cuboid(b, DVec3::new(-0.9, 0.1, -0.002), DVec3::new(0.9, 0.104, 0.002));
            }),
        ),
        (
            "blocks that touch",
            made(&|b| {
                cuboid(b, DVec3::ZERO, DVec3::ONE);
                cuboid(b, DVec3::new(0.2, 1.0, 0.2), DVec3::new(0.6, 1.5, 0.7));
                cuboid(b, DVec3::new(0.7, 0.9, 0.7), DVec3::new(1.3, 1.3, 1.2));
            }),
        ),
    ]
}

/// Multiples of irrational numbers: 0..1, evenly spread.
fn spread(k: u32, seed: u32) -> [f64; 3] {
    let k = f64::from(k * 7 + seed * 1013 + 1);
    [0.819_172_513, 0.671_043_607, 0.549_700_478].map(|step| (k * step).fract())
}

/// Points of the ball on its triangles, rounded as a tile of the texel map rounds them.
fn points(surface: &Surface, sweep: &Sweep, ground: &[TriangleId]) -> Vec<(TriangleId, DVec3)> {
    let mut all = Vec::new();
    for &id in ground {
        let nearest = surface.nearest_on(id, sweep.centre).barycentric;
        for k in 0..24 {
            let [p, q, nearer] = spread(k, id.0);
            let (p, q) = if p + q > 1.0 { (1.0 - p, 1.0 - q) } else { (p, q) };
            let random = [p, q, 1.0 - p - q];
            let weights = [0, 1, 2].map(|k| random[k] + (nearest[k] - random[k]) * nearer);
            let point = surface.position(id, weights);
            if point.distance(sweep.centre) <= sweep.radius {
                all.push((id, sweep.centre + (point - sweep.centre).as_vec3().as_dvec3()));
            }
        }
    }
    all
}

/// As a stroke asks for one texel.
fn is_hidden(
    surface: &Surface,
    id: TriangleId,
    point: DVec3,
    sight: Sight,
    side: f64,
    lift: f64,
) -> bool {
    let towards = match sight {
        Sight::Eye(eye) => eye - point,
        Sight::Along(vector) => vector,
    };
    let (distance, direction) = (towards.length(), towards.normalize_or_zero());
    surface.geometric_normal(id).dot(direction) * side <= 0.0
        || surface.is_blocked(point + direction * lift, direction, distance, id)
}

/// How the questions asked of one surface were answered.
#[derive(Debug, Default)]
struct Answers {
    asked: usize,
    /// Nothing may block.
    free: usize,
    /// Something may, and does.
    hidden: usize,
}

/// Asks about 1500 balls, seen from near and far, some from the back: where nothing may block, no ray
/// is blocked.
fn ask(name: &str, mesh: Mesh) -> Answers {
    let surface = prepared(mesh);
    let mut answers = Answers::default();
    for k in 0..1500 {
        let id = TriangleId(k * 7 % surface.triangle_count() as u32);
        let [p, q, r] = spread(k, 1);
        let centre = surface.position(id, [p * q, p * (1.0 - q), 1.0 - p]);
        let radius = 0.002 * 50f64.powf(r);
        let [x, y, z] = spread(k, 2).map(|share| share * 2.0 - 1.0);
        let side = if k % 5 == 0 { -1.0 } else { 1.0 };
        let away = surface.geometric_normal(id) * side + DVec3::new(x, y, z) * 0.8;
        let sight = match k % 4 {
            0 => Sight::Along(away * 2.0 * radius),
            1 => Sight::Eye(centre + away * 0.3),
            2 => Sight::Eye(centre + away * 3.0),
            _ => Sight::Eye(centre + away * 1e4),
        };
        let sweep = Sweep { centre, radius, sight };
        let mut ground = Vec::new();
        surface.triangles_in_ball(centre, radius, &mut ground);
        let points = points(&surface, &sweep, &ground);
        let lift = radius * 0.002;
        let found = points.iter().find(|(id, at)| is_hidden(&surface, *id, *at, sight, side, lift));
        answers.asked += 1;
        if surface.may_be_blocked(&sweep, side, &ground.iter().copied()) {
            answers.hidden += usize::from(found.is_some());
        } else {
            answers.free += 1;
            assert!(found.is_none(), "{name}: {found:?} of {sweep:?}, side {side}");
        }
    }
    answers
}

#[test]
fn where_nothing_may_block_no_ray_is_blocked() {
    for (name, mesh) in scenes() {
        let Answers { asked, free, hidden } = ask(name, mesh);
        assert!(free * 5 > asked, "{name}: {free} of {asked}");
        assert!(hidden > 0, "{name}: {hidden} of {asked}");
    }
}

#[test]
fn a_bumpy_ball_seen_from_outside_is_free_of_doubt_but_for_its_rim() {
    let mut builder = Builder::default();
    let place = |st: DVec2| {
        let (longitude, latitude) = (st.x * TAU, (st.y - 0.5) * TAU / 2.0);
        let radius = 1.0 + 0.01 * (25.0 * longitude).sin() * (30.0 * latitude).sin();
        let flat = latitude.cos() * radius;
        DVec3::new(longitude.sin() * flat, latitude.sin() * radius, longitude.cos() * flat)
    };
    builder.patch((200, 100), place, |st| st, 0);
    let surface = prepared(builder.mesh());
    let eye = DVec3::new(0.0, 0.0, 5.0);
    let (mut asked, mut free) = (0, 0);
    for id in (0..surface.triangle_count() as u32).step_by(5).map(TriangleId) {
        let centre = surface.position(id, [0.3, 0.3, 0.4]);
        // The bumps are up to 17 degrees steep.
        if centre.normalize_or_zero().dot((eye - centre).normalize_or_zero()) > 0.4 {
            let sweep = Sweep { centre, radius: 0.01, sight: Sight::Eye(eye) };
            let mut ground = Vec::new();
            surface.triangles_in_ball(centre, 0.01, &mut ground);
            asked += 1;
            free += usize::from(!surface.may_be_blocked(&sweep, 1.0, &ground.iter().copied()));
        }
    }
    assert!(asked > 1000 && free * 100 >= asked * 99, "{free} of {asked}");
}
