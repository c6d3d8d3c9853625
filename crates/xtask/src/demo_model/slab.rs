//! A flat piece with bevelled edges: a convex outline with a front at high z and a back at low z.
//!
//! Front and back are islands with their bevels folded out around them; the sides are strips.

use glam::DVec2;

use super::shell::{Island, Shell};

/// What to make.
pub(crate) struct Slab<'a> {
    /// The outline, counter-clockwise seen from the front.
    pub(crate) outline: &'a [DVec2],
    /// Height of the back.
    pub(crate) back: f64,
    /// Height of the front.
    pub(crate) front: f64,
    /// Width and depth of the bevel.
    pub(crate) bevel: f64,
    /// Divisions along and across. Only an outline of four corners can have more than one.
    pub(crate) divisions: [usize; 2],
    /// How the sides are cut.
    pub(crate) sides: Sides,
}

/// How a slab's sides are cut into strips.
#[derive(Clone, Copy)]
pub(crate) enum Sides {
    /// Strips of this many sides that follow one another.
    Strips(usize),
    /// One strip a side, its long way upright as on the front.
    Upright,
}

/// Makes the shell.
pub(crate) fn slab(slab: &Slab<'_>) -> Shell {
    let inner = inset(slab.outline, slab.bevel);
    let mut islands =
        vec![face_with_bevels(slab, &inner, true), face_with_bevels(slab, &inner, false)];
    let sides = slab.outline.len();
    match slab.sides {
        Sides::Strips(of) => {
            islands.extend((0..sides).step_by(of).map(|side| side_strip(slab, side..side + of)));
        }
        Sides::Upright => islands.extend((0..sides).map(|side| {
            let along = edge(slab.outline, side, 1)[1] - slab.outline[side];
            let quarters = match (along.x.abs() > along.y.abs(), along.y > 0.0) {
                (true, _) => 0,
                (false, true) => 1,
                (false, false) => 3,
            };
            side_strip(slab, side..side + 1).turned(quarters)
        })),
    }
    Shell { islands }
}

/// Moves every edge inwards.
fn inset(outline: &[DVec2], by: f64) -> Vec<DVec2> {
    let count = outline.len();
    (0..count)
        .map(|corner| {
            let at = outline[corner];
            let before = (at - outline[(corner + count - 1) % count]).normalize_or_zero();
            let after = (outline[(corner + 1) % count] - at).normalize_or_zero();
            let bisector = before.perp() + after.perp();
            at + bisector * (2.0 * by / bisector.length_squared())
        })
        .collect()
}

fn divisions(slab: &Slab<'_>, side: usize) -> usize {
    slab.divisions[side % 2]
}

/// Points along one edge of an outline, both ends included.
fn edge(outline: &[DVec2], side: usize, divisions: usize) -> Vec<DVec2> {
    let (from, to) = (outline[side], outline[(side + 1) % outline.len()]);
    (0..=divisions).map(|step| from.lerp(to, step as f64 / divisions as f64)).collect()
}

/// Front or back: seen from its own side, so that the back is mirrored in x.
fn face_with_bevels(slab: &Slab<'_>, inner: &[DVec2], front: bool) -> Island {
    let (face_z, edge_z) = if front {
        (slab.front, slab.front - slab.bevel)
    } else {
        (slab.back, slab.back + slab.bevel)
    };
    let seen = |at: DVec2| if front { at } else { DVec2::new(-at.x, at.y) };
    let mut island = Island::default();
    let add = |island: &mut Island, corners: &[(DVec2, f64, DVec2)], order: &mut u32| {
        let mut indices: Vec<u32> =
            corners.iter().map(|&(at, z, flat)| island.point(at.extend(z), seen(flat))).collect();
        if !front {
            indices.reverse();
        }
        island.face(&indices, *order);
        *order += 2;
    };
    let mut order = u32::from(!front);
    for corners in face_polygons(slab, inner) {
        let corners: Vec<_> = corners.into_iter().map(|at| (at, face_z, at)).collect();
        add(&mut island, &corners, &mut order);
    }
    for side in 0..slab.outline.len() {
        let steps = divisions(slab, side);
        let (near, far) = (edge(inner, side, steps), edge(slab.outline, side, steps));
        let along = (near[steps] - near[0]).normalize_or_zero();
        let outwards = -along.perp();
        let fold = |at: DVec2| {
            let from = at - near[0];
            near[0]
                + along * from.dot(along)
                + outwards * from.dot(outwards) * std::f64::consts::SQRT_2
        };
        for step in 0..steps {
            let corners = [
                (far[step], edge_z, fold(far[step])),
                (far[step + 1], edge_z, fold(far[step + 1])),
                (near[step + 1], face_z, near[step + 1]),
                (near[step], face_z, near[step]),
            ];
            add(&mut island, &corners, &mut order);
        }
    }
    island
}

/// The face itself: a grid of quads over four corners, else one polygon.
fn face_polygons(slab: &Slab<'_>, inner: &[DVec2]) -> Vec<Vec<DVec2>> {
    let &[a, b, c, d] = inner else {
        return vec![inner.to_vec()];
    };
    let [across, up] = slab.divisions;
    let at = |i: usize, j: usize| {
        let (u, v) = (i as f64 / across as f64, j as f64 / up as f64);
        a.lerp(b, u).lerp(d.lerp(c, u), v)
    };
    let cell = |i: usize, j: usize| vec![at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
    (0..up).flat_map(|j| (0..across).map(move |i| cell(i, j))).collect()
}

fn side_strip(slab: &Slab<'_>, sides: std::ops::Range<usize>) -> Island {
    let (low, high) = (slab.back + slab.bevel, slab.front - slab.bevel);
    let mut order = 1 << 20 | (sides.start as u32) << 10;
    let mut island = Island::default();
    let mut add = |at: DVec2, x: f64| {
        let pair = [(low, 0.0), (high, high - low)];
        pair.map(|(z, y)| island.point(at.extend(z), DVec2::new(x, y)))
    };
    let mut x = 0.0;
    let mut columns = vec![add(slab.outline[sides.start], x)];
    for side in sides {
        for pair in edge(slab.outline, side, divisions(slab, side)).windows(2) {
            x += pair[0].distance(pair[1]);
            columns.push(add(pair[1], x));
        }
    }
    for pair in columns.windows(2) {
        island.face(&[pair[0][0], pair[1][0], pair[1][1], pair[0][1]], order);
        order += 1;
    }
    island
}
