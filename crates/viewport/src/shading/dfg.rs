use std::f64::consts::TAU;

use glam::{DVec2, Vec2, Vec4};
use half::f16;
use rayon::prelude::*;

use super::{MIN_N_DOT_V, dfg_uv, ggx_alpha};

/// Columns and rows of the table.
pub const DFG_SIZE: [usize; 2] = [64, 32];

/// A Fibonacci lattice (Sloan and Joe 1994): of so many points each has a height and a turn of its own, so that the
/// horizon cuts through them smoothly. 610 points instead move no value by 5e-4.
const POINTS: usize = 377;
const STEP: usize = 144;

/// What GGX reflects of light from everywhere, by angle and roughness: the second factor of the split sum (Karis
/// 2013), and what of the light one bounce leaves out.
///
/// A texel is (bias, missing, average bias, average missing). *Bias* is what Schlick's f90 adds. *Missing* is 1
/// less the albedo of a perfect metal: stored instead of the scale, which is `1 - missing - bias`, since on smooth
/// surfaces it is far smaller than a half float's step at 1. Averages are over all angles, weighted by the cosine;
/// they are the same along a row.
#[derive(Debug, Clone, PartialEq)]
pub struct DfgTable {
    texels: Vec<Vec4>,
}

impl DfgTable {
    /// Computes the table: the same values each time, in some hundredths of a second.
    pub fn new() -> Self {
        let lattice = lattice();
        let [columns, rows] = DFG_SIZE;
        let row = |row| {
            let alpha = f64::from(ggx_alpha(place(row, rows) as f32));
            let shares: Vec<DVec2> =
                (0..columns).map(|at| reflected(cosine(at), alpha, &lattice)).collect();
            let average = average(&shares).as_vec2();
            shares.into_iter().map(move |share| Vec4::from((share.as_vec2(), average)))
        };
        Self { texels: (0..rows).into_par_iter().flat_map_iter(row).collect() }
    }

    /// The table as the shader sees it: bilinear, at [`dfg_uv`].
    pub fn sample(&self, n_dot_v: f32, roughness: f32) -> Vec4 {
        let [columns, rows] = DFG_SIZE;
        let at = dfg_uv(n_dot_v, roughness) * Vec2::new(columns as f32, rows as f32) - 0.5;
        let (x, y) = (at.x.max(0.0) as usize, at.y.max(0.0) as usize);
        let part = at - Vec2::new(x as f32, y as f32);
        let texel =
            |x: usize, y: usize| self.texels[y.min(rows - 1) * columns + x.min(columns - 1)];
        let upper = texel(x, y).lerp(texel(x + 1, y), part.x);
        upper.lerp(texel(x, y + 1).lerp(texel(x + 1, y + 1), part.x), part.y)
    }

    /// For a texture `Rgba16Float` of [`DFG_SIZE`], row by row: bits of half floats.
    pub fn texture(&self) -> Vec<[u16; 4]> {
        let halves = |texel: &Vec4| texel.to_array().map(|value| f16::from_f32(value).to_bits());
        self.texels.iter().map(halves).collect()
    }
}

impl Default for DfgTable {
    fn default() -> Self {
        Self::new()
    }
}

/// One point: share of the heights that lie above it, cosine and sine of its turn, and its weight.
struct Point {
    above: f64,
    turn: DVec2,
    weight: f64,
}

/// Denser towards the lowest heights, from where rare steep facets come that a smooth surface still has.
fn lattice() -> Vec<Point> {
    let middle = |at: usize| (at as f64 + 0.5) / POINTS as f64;
    let point = |at: usize| {
        let low = middle(at);
        Point {
            above: 1.0 - low * low * low,
            turn: DVec2::from_angle(TAU * middle(at * STEP % POINTS)),
            weight: 3.0 * low * low / POINTS as f64,
        }
    };
    (0..POINTS).map(point).collect()
}

fn place(at: usize, count: usize) -> f64 {
    at as f64 / (count - 1) as f64
}

fn cosine(column: usize) -> f64 {
    let root = place(column, DFG_SIZE[0]);
    (root * root).max(f64::from(MIN_N_DOT_V))
}

/// Bias and missing share at one angle. Half vectors are taken as they are seen, so that no weight exceeds 1: the
/// directions about the eye on a sphere, stretched (Dupuy and Benyoub 2023, "Sampling Visible GGX Normals with
/// Spherical Caps"). What they mirror is weighted by `G2 / G1` (Heitz 2018, eq. 19).
fn reflected(cosine: f64, alpha: f64, lattice: &[Point]) -> DVec2 {
    let eye = DVec2::new((1.0 - cosine * cosine).sqrt(), cosine);
    let stretched = DVec2::new(alpha * eye.x, eye.y).normalize_or_zero();
    let eye_shadow = shadow(cosine, alpha);
    let mut sum = DVec2::ZERO;
    for point in lattice {
        let height = 1.0 - point.above * (1.0 + stretched.y);
        let across = (1.0 - height * height).max(0.0).sqrt();
        let along = alpha * (across * point.turn.x + stretched.x);
        let aside = alpha * across * point.turn.y;
        let up = height + stretched.y;
        let length = (along * along + aside * aside + up * up).sqrt();
        let eye_half = ((eye.x * along + eye.y * up) / length).clamp(0.0, 1.0);
        let light = 2.0 * eye_half * (up / length) - eye.y;
        let unseen = if light > 0.0 {
            let light_shadow = shadow(light.min(1.0), alpha);
            light_shadow / (1.0 + eye_shadow + light_shadow)
        } else {
            1.0
        };
        let grazing = 1.0 - eye_half;
        let squared = grazing * grazing;
        let schlick = squared * squared * grazing;
        sum += DVec2::new(schlick * (1.0 - unseen), unseen) * point.weight;
    }
    sum
}

/// Smith's Lambda of GGX (Heitz 2014, eq. 72).
fn shadow(cosine: f64, alpha: f64) -> f64 {
    let tan2 = (1.0 - cosine * cosine) / (cosine * cosine);
    0.5 * ((1.0 + alpha * alpha * tan2).sqrt() - 1.0)
}

/// `2 int f(c) c dc` along a row. As columns are even in the root t of the cosine, that is `4 int f t^3 dt`:
/// Simpson's second rule, for which the number of gaps divides by three.
fn average(shares: &[DVec2]) -> DVec2 {
    let last = shares.len() - 1;
    let term = |(at, share): (usize, &DVec2)| {
        let weight = match at {
            0 => 1.0,
            _ if at == last => 1.0,
            _ if at.is_multiple_of(3) => 2.0,
            _ => 3.0,
        };
        *share * (4.0 * place(at, shares.len()).powi(3) * weight)
    };
    let sum: DVec2 = shares.iter().enumerate().map(term).sum();
    sum * 3.0 / (8.0 * last as f64)
}
