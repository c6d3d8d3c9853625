//! Pieces with a border, or that fold, or that have no inside.

use super::*;

/// Of (s, t) in 0..1 the point on a plate from -1 to 1, at this height; its front is up.
fn at_height(st: DVec2, height: f64) -> DVec3 {
    DVec3::new(st.x * 2.0 - 1.0, height, 1.0 - 2.0 * st.y)
}

fn rippled(st: DVec2, steepness: f64) -> DVec3 {
    at_height(st, steepness / 20.0 * (st.x * 40.0).sin() * (st.y * 34.0).cos())
}

/// Ripples whose crests lean over their hollows.
fn overhanging(st: DVec2) -> DVec3 {
    let lean = DVec3::new(0.06 * (st.x * 40.0 + 1.0).sin(), 0.0, 0.0);
    rippled(st, 1.2) + lean * (2.0 + (st.y * 9.0).sin())
}

/// Turns of a ramp about the y axis, from `inner` to 1 off it. It faces up everywhere.
fn ramp(st: DVec2, turns: f64, inner: f64) -> DVec3 {
    let (around, out) = (turns * TAU * st.x, inner + (1.0 - inner) * (1.0 - st.y));
    DVec3::new(out * around.cos(), 0.3 * turns * st.x, -out * around.sin())
}

/// A sheet that goes twice round one of its own points before it closes. It faces up everywhere.
fn twice_round(st: DVec2) -> DVec3 {
    let (around, out) = (2.0 * TAU * st.x, 1.0 - st.y);
    DVec3::new(out * around.cos(), 0.1 * out * (around / 2.0 + 0.1).sin(), -out * around.sin())
}

/// A strip that comes back to itself after half a twist.
fn half_twist(st: DVec2) -> DVec3 {
    let (around, across) = (TAU * st.x, 0.6 * (st.y - 0.5));
    let out = 1.0 + across * (around / 2.0).cos();
    DVec3::new(out * around.cos(), across * (around / 2.0).sin(), -out * around.sin())
}

/// A plate with a pleat: its middle flap goes back under the upper one. `turned` winds that flap so
/// that it faces up too.
fn pleat(builder: &mut Builder, width: f64, turned: bool) {
    let flap = |from: DVec2, to: DVec2| {
        move |st: DVec2| {
            let at = from.lerp(to, st.x);
            DVec3::new(at.x, at.y, 1.0 - 2.0 * st.y)
        }
    };
    let (low, high) = (DVec2::new(width, 0.0), DVec2::new(-width, width));
    let middle = flap(low, high);
    let backwards = |st: DVec2| middle(DVec2::new(1.0 - st.x, st.y));
    builder.patch((10, 30), flap(DVec2::new(-1.0, 0.0), low), |st| st, 0);
    builder.patch((10, 30), flap(high, DVec2::new(1.0, width)), |st| st, 0);
    if turned {
        builder.patch((2, 30), backwards, |st| st, 0);
    } else {
        builder.patch((2, 30), middle, |st| st, 0);
    }
}

/// A plate without its middle.
fn holed(builder: &mut Builder, height: f64) {
    for (from, size) in [
        (DVec2::ZERO, DVec2::new(0.4, 1.0)),
        (DVec2::new(0.6, 0.0), DVec2::new(0.4, 1.0)),
        (DVec2::new(0.4, 0.0), DVec2::new(0.2, 0.4)),
        (DVec2::new(0.4, 0.6), DVec2::new(0.2, 0.4)),
    ] {
        let quads = size * 40.0;
        let place = |st: DVec2| {
            let st = from + st * size;
            rippled(st, 0.3) + DVec3::Y * height
        };
        builder.patch((quads.x.round() as u32, quads.y.round() as u32), place, |st| st, 0);
    }
}

/// Each with how many balls in a hundred are free of doubt at least, and how many hold hidden points.
fn open_scenes() -> Vec<(&'static str, [usize; 2], Mesh)> {
    let made = |make: &dyn Fn(&mut Builder)| {
        let mut builder = Builder::default();
        make(&mut builder);
        builder.mesh()
    };
    let sheet = |quads: (u32, u32), place: &dyn Fn(DVec2) -> DVec3| {
        made(&|b| b.patch(quads, place, |st| st, 0))
    };
    vec![
        ("gentle ripples", [90, 0], sheet((60, 60), &|st| rippled(st, 0.2))),
        ("steep ripples", [60, 15], sheet((90, 90), &|st| rippled(st, 1.5))),
        ("ripples that lean over", [25, 50], sheet((90, 90), &overhanging)),
        ("a ramp", [50, 25], sheet((120, 8), &|st| ramp(st, 3.0, 0.3))),
        ("a ramp about its axis", [45, 30], sheet((120, 8), &|st| ramp(st, 3.0, 0.0))),
        ("a ramp with a narrow well", [45, 30], sheet((120, 8), &|st| ramp(st, 3.0, 0.01))),
        ("a sheet twice round a point", [35, 40], sheet((40, 12), &twice_round)),
        ("a strip with half a twist", [80, 1], sheet((60, 6), &half_twist)),
        ("a wide pleat", [70, 10], made(&|b| pleat(b, 0.2, false))),
        ("a wide pleat, its flap turned", [70, 10], made(&|b| pleat(b, 0.2, true))),
        ("a narrow pleat", [80, 5], made(&|b| pleat(b, 0.01, false))),
        ("a narrow pleat, its flap turned", [80, 5], made(&|b| pleat(b, 0.01, true))),
        (
            "two sheets close above each other",
            [15, 60],
            made(&|b| {
                b.patch((60, 60), |st| rippled(st, 0.3), |st| st, 0);
                b.patch((50, 50), |st| rippled(st, 0.3) + DVec3::Y * 0.01, |st| st, 0);
            }),
        ),
        (
            "a wire over ripples",
            [80, 1],
            made(&|b| {
                b.patch((60, 60), |st| rippled(st, 0.4), |st| st, 0);
                cuboid(b, DVec3::new(-0.9, 0.1, -0.002), DVec3::new(0.9, 0.104, 0.002));
            }),
        ),
        (
            "a plate with a hole over another",
            [45, 30],
            made(&|b| {
                b.patch((50, 50), |st| rippled(st, 0.3), |st| st, 0);
                holed(b, 0.15);
            }),
        ),
    ]
}

#[test]
fn where_nothing_may_block_an_open_piece_no_ray_is_blocked() {
    for (name, least, mesh) in open_scenes() {
        let Answers { asked, free, hidden } = ask(name, mesh);
        assert!(free * 100 >= asked * least[0], "{name}: {free} of {asked}");
        assert!(hidden * 100 >= asked * least[1], "{name}: {hidden} of {asked}");
    }
}

/// A plate of side 1, as fine as `quads` along each edge, with ripples of 20 degrees.
fn plate(quads: u32) -> Surface {
    let mut builder = Builder::default();
    let place =
        |st: DVec2| DVec3::new(st.x, 0.004 * (90.0 * st.x).sin() * (70.0 * st.y).cos(), 1.0 - st.y);
    builder.patch((quads, quads), place, |st| st, 0);
    prepared(builder.mesh())
}

/// How many of many balls of `texels` x `texels` at 4096 x 4096 are free of doubt from above.
fn free_from_above(surface: &Surface, texels: f64) -> (usize, usize) {
    let radius = texels / 4096.0 * 0.5f64.sqrt();
    let (mut asked, mut free) = (0, 0);
    for k in 0..2000 {
        let [x, z, _] = spread(k, 3);
        let across = |share: f64| 0.03 + 0.94 * share;
        let above = DVec3::new(across(x), 0.0, across(z));
        let Some(on) = surface.nearest(above) else { continue };
        let centre = surface.position(on.triangle, on.barycentric);
        let sweep = Sweep { centre, radius, sight: Sight::Eye(DVec3::new(0.5, 1.5, 0.5)) };
        let mut ground = Vec::new();
        surface.triangles_in_ball(centre, radius, &mut ground);
        asked += 1;
        free += usize::from(!surface.may_be_blocked(&sweep, 1.0, &ground.iter().copied()));
    }
    (free, asked)
}

#[test]
fn a_rippled_plate_seen_from_above_is_free_of_doubt_by_blocks_and_tiles() {
    for quads in [158, 500] {
        let surface = plate(quads);
        let (free, asked) = free_from_above(&surface, 8.0);
        assert!(asked == 2000 && free * 100 > asked * 95, "{quads}: {free} of {asked}");
        let (free, asked) = free_from_above(&surface, 64.0);
        assert!(free * 100 > asked * 95, "{quads}: tiles, {free} of {asked}");
    }
}
