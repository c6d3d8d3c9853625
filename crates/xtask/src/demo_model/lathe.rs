//! A surface of revolution around the y axis, cut into bands and the bands into gores.
//!
//! The profile runs so that the solid lies on its left: up on the outside, down on the inside. Each layout
//! keeps areas exactly: gores as the Bonne projection does (arcs of true length around the apex of the
//! band's mean cone), discs as Lambert's azimuthal one.

use std::f64::consts::TAU;

use glam::{DVec2, DVec3};

use super::shell::{Island, Shell};

/// How a band is laid flat.
#[derive(Clone, Copy)]
pub(crate) enum Flat {
    /// In this many gores, the first beginning at this fraction of a gore.
    Gores { count: usize, shift: f64 },
    /// As one disc or ring, seen along the axis.
    Disc,
}

/// A stretch of the profile that is laid flat together.
pub(crate) struct Band {
    /// Radius and height of its points.
    pub(crate) profile: Vec<DVec2>,
    /// How it is laid flat.
    pub(crate) flat: Flat,
    /// Quarter turns of its islands, so that up in the texture is up in space.
    pub(crate) quarters: u32,
}

/// Turns the bands into a shell; the end of each band is the start of the next.
pub(crate) fn lathe(bands: &[Band], segments: usize) -> Shell {
    let mut islands = Vec::new();
    let mut first_row = 0;
    for band in bands {
        let made = match band.flat {
            Flat::Disc => vec![disc(&band.profile, segments, first_row)],
            Flat::Gores { count, shift } => (0..count)
                .map(|gore| {
                    let edge = |gore: usize| {
                        ((gore as f64 + shift) * segments as f64 / count as f64) as usize
                    };
                    gores(&band.profile, segments, edge(gore)..edge(gore + 1), first_row)
                })
                .collect(),
        };
        islands.extend(made.into_iter().map(|island| island.turned(band.quarters)));
        first_row += band.profile.len() - 1;
    }
    Shell { islands }
}

/// Direction of a column: sine and cosine of its angle. Column 0 looks to +z, columns run towards +x.
fn around(column: usize, segments: usize) -> DVec2 {
    let angle = TAU * (column % segments) as f64 / segments as f64;
    DVec2::new(libm::sin(angle), libm::cos(angle))
}

fn on_surface(at: DVec2, column: usize, segments: usize) -> DVec3 {
    let around = around(column, segments);
    DVec3::new(at.x * around.x, at.y, at.x * around.y)
}

fn gores(
    profile: &[DVec2],
    segments: usize,
    columns: std::ops::Range<usize>,
    first_row: usize,
) -> Island {
    let lengths = lengths(profile);
    let (first, last) = (profile[0], profile[profile.len() - 1]);
    let length = lengths[lengths.len() - 1];
    let slope = (last.x - first.x) / length;
    let middle = (columns.start + columns.end) as f64 / 2.0;
    let mut island = Island::default();
    for (at, &along) in profile.iter().zip(&lengths) {
        for column in columns.clone().chain([columns.end]) {
            let arc = at.x * TAU * (column as f64 - middle) / segments as f64;
            let flat = if slope.abs() < 0.02 {
                DVec2::new(arc, along)
            } else {
                let from_apex = f64::midpoint(first.x, last.x) / slope + along - length / 2.0;
                let angle = arc / from_apex;
                DVec2::new(libm::sin(angle), libm::cos(angle)) * from_apex
            };
            island.point(on_surface(*at, column, segments), flat);
        }
    }
    let wide = columns.len() as u32 + 1;
    for row in 0..profile.len() - 1 {
        for column in columns.clone() {
            let corner = row as u32 * wide + (column - columns.start) as u32;
            let order = (first_row + row) * segments + column % segments;
            island.face(&[corner, corner + 1, corner + 1 + wide, corner + wide], order as u32);
        }
    }
    island
}

fn disc(profile: &[DVec2], segments: usize, first_row: usize) -> Island {
    let inwards = profile[0].x > profile[profile.len() - 1].x;
    let radii = disc_radii(profile, inwards);
    let mut island = Island::default();
    let mut rows = Vec::new();
    for (at, radius) in profile.iter().zip(radii) {
        let columns = if at.x == 0.0 { 1 } else { segments };
        let points = (0..columns).map(|column| {
            let flat = around(column, segments) * radius;
            let flat = if inwards { DVec2::new(flat.x, -flat.y) } else { flat };
            island.point(on_surface(*at, column, segments), flat)
        });
        rows.push(points.collect::<Vec<_>>());
    }
    for (row, pair) in rows.windows(2).enumerate() {
        for column in 0..segments {
            let corner = |row: &[u32], column: usize| row[column % row.len()];
            let corners = [
                corner(&pair[0], column),
                corner(&pair[0], column + 1),
                corner(&pair[1], column + 1),
                corner(&pair[1], column),
            ];
            island.face(&corners, ((first_row + row) * segments + column) as u32);
        }
    }
    island
}

/// Radii in the flat that keep the area between any two rows.
fn disc_radii(profile: &[DVec2], inwards: bool) -> Vec<f64> {
    let outwards: Vec<DVec2> =
        if inwards { profile.iter().rev().copied().collect() } else { profile.to_vec() };
    let mut squared = outwards[0].x * outwards[0].x;
    let mut radii = vec![outwards[0].x];
    for pair in outwards.windows(2) {
        squared += (pair[0].x + pair[1].x) * pair[0].distance(pair[1]);
        radii.push(squared.sqrt());
    }
    if inwards {
        radii.reverse();
    }
    radii
}

/// How far along the polyline each point lies.
fn lengths(profile: &[DVec2]) -> Vec<f64> {
    let mut lengths = vec![0.0];
    for pair in profile.windows(2) {
        lengths.push(lengths[lengths.len() - 1] + pair[0].distance(pair[1]));
    }
    lengths
}
