//! A section swept along a path.
//!
//! The section turns with the path as little as it can (parallel transport). It is laid flat as straight
//! strips: each face as wide, and each ring as high, as its area asks for, so that density stays even
//! where the path bends.

use std::ops::Range;

use glam::{DVec2, DVec3};

use super::shell::{Island, Shell};

/// What to sweep.
pub(crate) struct Tube<'a> {
    /// The middle line.
    pub(crate) path: &'a [DVec3],
    /// Whether the end joins the start; the path does not repeat its first point.
    pub(crate) closed: bool,
    /// The section, counter-clockwise seen with the path coming towards the eye; x lies along `side`.
    pub(crate) section: &'a [DVec2],
    /// How much smaller the section is at the path's end.
    pub(crate) end_scale: f64,
    /// Where the section's x axis points at the start, roughly.
    pub(crate) side: DVec3,
    /// How many islands the length is cut into.
    pub(crate) pieces: usize,
    /// The section's corner where the strip is cut open.
    pub(crate) seam: usize,
}

/// A regular section.
pub(crate) fn round(radius: f64, sides: usize) -> Vec<DVec2> {
    let angle = |side: usize| std::f64::consts::TAU * side as f64 / sides as f64;
    (0..sides).map(|s| DVec2::new(libm::cos(angle(s)), libm::sin(angle(s))) * radius).collect()
}

/// A square section with its corners cut off.
pub(crate) fn chamfered_square(half: f64, chamfer: f64) -> Vec<DVec2> {
    let flat = half - chamfer;
    [(half, -flat), (half, flat), (flat, half), (-flat, half)]
        .into_iter()
        .chain([(-half, flat), (-half, -flat), (-flat, -half), (flat, -half)])
        .map(DVec2::from)
        .collect()
}

/// Sweeps the section; open tubes get a cap at each end.
pub(crate) fn tube(tube: &Tube<'_>) -> Shell {
    let rings = rings(tube);
    let steps = rings.len() - 1;
    let mut islands: Vec<Island> = (0..tube.pieces)
        .map(|piece| {
            let rows = piece * steps / tube.pieces..(piece + 1) * steps / tube.pieces;
            strip(&rings, rows, tube.seam)
        })
        .collect();
    if !tube.closed {
        let sides = tube.section.len();
        let end: Vec<DVec2> = tube.section.iter().map(|corner| corner * tube.end_scale).collect();
        islands.push(cap(&rings[0], tube.section, true, (steps * sides) as u32));
        islands.push(cap(&rings[steps], &end, false, (steps * sides) as u32 + 1));
    }
    Shell { islands }
}

/// The points of each ring; a closed tube's last ring repeats its first.
fn rings(tube: &Tube<'_>) -> Vec<Vec<DVec3>> {
    let path = tube.path;
    let mut side = tube.side;
    let last = path.len() - 1;
    let mut rings = Vec::new();
    for (index, &middle) in path.iter().enumerate() {
        let (before, after) = if tube.closed {
            (path[(index + last) % path.len()], path[(index + 1) % path.len()])
        } else {
            (path[index.saturating_sub(1)], path[(index + 1).min(last)])
        };
        let tangent = (after - before).normalize_or_zero();
        side = side.reject_from_normalized(tangent).normalize_or_zero();
        let other = tangent.cross(side);
        let scale = 1.0 + (tube.end_scale - 1.0) * index as f64 / last as f64;
        let place = |corner: &DVec2| middle + (side * corner.x + other * corner.y) * scale;
        rings.push(tube.section.iter().map(place).collect::<Vec<_>>());
    }
    if tube.closed {
        rings.push(rings[0].clone());
    }
    rings
}

fn strip(rings: &[Vec<DVec3>], rows: Range<usize>, seam: usize) -> Island {
    let sides = rings[0].len();
    let corner = |row: usize, column: usize| rings[row][(column + seam) % sides];
    let area = |row: usize, column: usize| {
        let diagonal = corner(row + 1, column + 1) - corner(row, column);
        diagonal.cross(corner(row + 1, column) - corner(row, column + 1)).length() / 2.0
    };
    let row_area = |row: usize| (0..sides).map(|column| area(row, column)).sum::<f64>();
    let length_of = |row: usize| {
        (0..sides).map(|s| rings[row][s].distance(rings[row + 1][s])).sum::<f64>() / sides as f64
    };
    let perimeter =
        rows.clone().map(row_area).sum::<f64>() / rows.clone().map(length_of).sum::<f64>();
    let width = |row: usize, column: usize| area(row, column) / row_area(row) * perimeter;
    let mut island = Island::default();
    let mut y = 0.0;
    for row in rows.start..=rows.end {
        let (below, above) = (row.max(rows.start + 1) - 1, row.min(rows.end - 1));
        let mut x = 0.0;
        for column in 0..=sides {
            island.point(corner(row, column), DVec2::new(x, y));
            if column < sides {
                x += f64::midpoint(width(below, column), width(above, column));
            }
        }
        if row < rows.end {
            y += row_area(row) / perimeter;
        }
    }
    let wide = sides as u32 + 1;
    for row in rows.clone() {
        for column in 0..sides {
            let low = (row - rows.start) as u32 * wide + column as u32;
            let order = row * sides + (column + seam) % sides;
            island.face(&[low, low + 1, low + 1 + wide, low + wide], order as u32);
        }
    }
    island
}

fn cap(ring: &[DVec3], section: &[DVec2], start: bool, order: u32) -> Island {
    let mut island = Island::default();
    for (point, flat) in ring.iter().zip(section) {
        island.point(*point, if start { DVec2::new(-flat.x, flat.y) } else { *flat });
    }
    let mut corners: Vec<u32> = (0..ring.len() as u32).collect();
    if start {
        corners.reverse();
    }
    island.face(&corners, order);
    island
}
