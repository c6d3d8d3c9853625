//! An image laid on a surface from the three sides of a box, each as far as the surface faces it. A function of the
//! point and its normal alone.
//!
//! Where nothing may repeat, each side is covered with pieces of the image by Heitz and Neyret 2018, "High-Performance
//! By-Example Noise using a Histogram-Preserving Blending Operator": of a grid of triangles each corner has a piece
//! of its own from a random place, and what lies within a triangle is blended of three. Values are blended as those of
//! a normal distribution, which a weighted sum divided by the root of the sum of the squares of the weights
//! leaves with its variance; so are the three sides. Pixels are sampled at the image's own size: another size for
//! coarser texels would differ between layouts.
#![expect(clippy::inline_always, reason = "see `noise`")]

use glam::{Vec2, Vec3};
use surface::BLOCK_TEXELS;

use super::hash::{hash3, unit};
use super::noise::Space;
use super::{Places, Tiling};
use crate::GreyImage;
use crate::image::Bell;
use crate::kernel::Lane;

/// How fast a side fades as the surface turns away from it (4 to 8: common practice, no source), as an exponent of
/// two of the cosine.
const SHARPNESS: u32 = 3;
/// A side that would have less than this has nothing.
const LEAST: f32 = 0.02;
/// Triangles a length of the image: Heitz and Neyret's own choice.
const TRIANGLES: f32 = 3.464_101_6;

/// The image's values at points in units of its longer edge, 0..1.
#[inline(always)]
pub(super) fn heights(
    image: &GreyImage,
    tiling: Tiling,
    p: &Space,
    places: &Places,
    seed: u32,
) -> Lane {
    let (mut sum, mut squares) = ([0.0; BLOCK_TEXELS], [0.0; BLOCK_TEXELS]);
    let bell = image.bell();
    let sides = Sides::of(p, places);
    for side in 0..3 {
        let (weight, at) = (&sides.weights[side], &sides.places[side]);
        if weight.iter().all(|weight| *weight == 0.0) {
            continue;
        }
        match tiling {
            Tiling::Structured => plain(image, at, weight, &mut sum),
            Tiling::Unstructured => {
                scattered(bell, at, seed ^ (side as u32) << 30, weight, (&mut sum, &mut squares));
            }
        }
    }
    if tiling == Tiling::Unstructured {
        for n in 0..BLOCK_TEXELS {
            sum[n] = bell.back(sum[n] / squares[n].max(1e-12).sqrt());
        }
    }
    sum
}

/// Where the sides of the box have a point, v down, and how much of it.
struct Sides {
    weights: [Lane; 3],
    places: [[Lane; 2]; 3],
}

impl Sides {
    #[inline(always)]
    fn of(p: &Space, places: &Places) -> Self {
        let mut weights = [[0.0; BLOCK_TEXELS]; 3];
        let mut at = [[[0.0; BLOCK_TEXELS]; 2]; 3];
        for n in 0..BLOCK_TEXELS {
            let up = places.axis.as_ref().map_or(Vec3::Y, |axis| axis.at(n));
            let [right, up, front] = frame(up);
            let turned = |v: Vec3| Vec3::new(v.dot(right), v.dot(up), v.dot(front));
            let (q, normal) = (turned(p.at(n)), turned(places.normal.at(n)));
            let mut share = normal * normal;
            for _ in 1..SHARPNESS {
                share *= share;
            }
            let share = share / (share.x + share.y + share.z).max(1e-12);
            let share = (share - LEAST).max(Vec3::ZERO);
            let share = share / (share.x + share.y + share.z).max(1e-12);
            for side in 0..3 {
                weights[side][n] = share[side];
            }
            for (side, (u, v)) in [(q.z, -q.y), (q.x, q.z), (q.x, -q.y)].into_iter().enumerate() {
                (at[side][0][n], at[side][1][n]) = (u, v);
            }
        }
        Self { weights, places: at }
    }
}

/// The axes of the box: its middle one is the part's.
#[inline(always)]
fn frame(up: Vec3) -> [Vec3; 3] {
    // The more upright, the more its front is +Z.
    let other = if up.z.abs() < 0.9 { Vec3::Z } else { Vec3::X };
    let right = up.cross(other);
    let right = right / right.length().max(1e-12);
    [right, up, right.cross(up)]
}

/// Adds the image, side by side with itself.
#[inline(always)]
fn plain(image: &GreyImage, at: &[Lane; 2], weight: &Lane, sum: &mut Lane) {
    let extent = image.extent();
    let (width, height) = (extent.width as usize, extent.height as usize);
    let values = image.values();
    let value = |index: usize| f32::from(values[index]) / 65_535.0;
    for n in 0..BLOCK_TEXELS {
        let uv = Vec2::new(at[0][n], at[1][n]);
        sum[n] += weight[n] * between(uv, (width, height), value);
    }
}

/// Adds three pieces of the image, by their corners' shares.
#[inline(always)]
fn scattered(
    bell: &Bell,
    at: &[Lane; 2],
    seed: u32,
    weight: &Lane,
    (sum, squares): (&mut Lane, &mut Lane),
) {
    let mut corners = [[[0_u32; BLOCK_TEXELS]; 2]; 3];
    let mut shares = [[0.0; BLOCK_TEXELS]; 3];
    for n in 0..BLOCK_TEXELS {
        let (u, v) = (at[0][n] * TRIANGLES, at[1][n] * TRIANGLES);
        // In the lattice of triangles, whose edges have the length 1: 1/sqrt 3 and 2/sqrt 3.
        let (x, y) = (u - 0.577_350_27 * v, 1.154_700_5 * v);
        let (low_x, low_y) = (x.floor(), y.floor());
        let (x, y) = (x - low_x, y - low_y);
        let (column, row) = (low_x as i32 as u32, low_y as i32 as u32);
        let rest = 1.0 - x - y;
        let upper = rest <= 0.0;
        let one = u32::from(upper);
        let found = if upper { [-rest, 1.0 - y, 1.0 - x] } else { [rest, y, x] };
        let places = [
            [column.wrapping_add(one), row.wrapping_add(one)],
            [column.wrapping_add(one), row.wrapping_add(1 - one)],
            [column.wrapping_add(1 - one), row.wrapping_add(one)],
        ];
        for corner in 0..3 {
            shares[corner][n] = found[corner] * weight[n];
            (corners[corner][0][n], corners[corner][1][n]) = (places[corner][0], places[corner][1]);
        }
    }
    let value = |index: usize| bell.values()[index];
    let (width, height) = bell.size();
    let longer = width.max(height) as f32;
    // By whole pixels, so that pieces are as sharp as the image.
    let piece = |word: u32, edge: usize| (unit(word) * edge as f32).floor() / longer;
    for corner in 0..3 {
        let ([column, row], share) = (&corners[corner], &shares[corner]);
        for n in 0..BLOCK_TEXELS {
            let words = hash3([column[n], row[n], seed]);
            let away = Vec2::new(piece(words[0], width), piece(words[1], height));
            let uv = Vec2::new(at[0][n], at[1][n]) + away;
            sum[n] += share[n] * between(uv, bell.size(), value);
            squares[n] += share[n] * share[n];
        }
    }
}

/// Between four pixels of an image that goes on at its other edge; `uv` is in its longer edges, from its corner.
#[inline(always)]
fn between(uv: Vec2, (width, height): (usize, usize), value: impl Fn(usize) -> f32) -> f32 {
    let longer = width.max(height) as f32;
    let axis = |at: f32, edge: usize| {
        let turns = at * (longer / edge as f32);
        let place = (turns - turns.floor()) * edge as f32 - 0.5;
        let below = place.floor();
        let t = place - below;
        let first = if below < 0.0 { edge - 1 } else { (below as usize).min(edge - 1) };
        let second = if first + 1 == edge { 0 } else { first + 1 };
        (first, second, t)
    };
    let ((left, right, tx), (top, bottom, ty)) = (axis(uv.x, width), axis(uv.y, height));
    let mix = |a: f32, b: f32, t: f32| a + (b - a) * t;
    mix(
        mix(value(top * width + left), value(top * width + right), tx),
        mix(value(bottom * width + left), value(bottom * width + right), tx),
        ty,
    )
}
