use std::f64::consts::PI;

use glam::{DVec2, DVec3, Vec4};
use half::f16;
use rayon::prelude::*;

use super::quadrature::gauss_legendre;
use super::{MIN_N_DOT_V, dfg_uv, ggx_alpha};

/// Texels on an edge of the table.
pub const DFG_EDGE: usize = 64;

/// Heights and turns of the half vectors that are summed: changing to 96 x 64 moves no value by 1e-4.
const HEIGHTS: usize = 20;
const TURNS: usize = 14;

/// What GGX reflects of light from everywhere, by angle and roughness: the second factor of the split sum (Karis
/// 2013, "Real Shading in Unreal Engine 4"), and what of the light one bounce leaves out.
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
        let heights = gauss_legendre(HEIGHTS);
        let turns: Vec<DVec2> = (0..TURNS)
            .map(|turn| DVec2::from_angle(PI * (turn as f64 + 0.5) / TURNS as f64))
            .collect();
        let rows = (0..DFG_EDGE).into_par_iter().flat_map_iter(|row| {
            let alpha = f64::from(ggx_alpha(place(row) as f32));
            let one = |column| reflected(cosine(column), alpha, &heights, &turns);
            let shares: Vec<DVec2> = (0..DFG_EDGE).map(one).collect();
            let average = average(&shares);
            shares.into_iter().map(move |share| Vec4::from((share.as_vec2(), average.as_vec2())))
        });
        Self { texels: rows.collect() }
    }

    /// The table as the shader sees it: bilinear, at [`dfg_uv`].
    pub fn sample(&self, n_dot_v: f32, roughness: f32) -> Vec4 {
        let last = DFG_EDGE - 1;
        let at = dfg_uv(n_dot_v, roughness) * DFG_EDGE as f32 - 0.5;
        let low = at.floor().clamp(glam::Vec2::ZERO, glam::Vec2::splat(last as f32));
        let part = at - low;
        let (x, y) = (low.x as usize, low.y as usize);
        let texel = |x: usize, y: usize| self.texels[y.min(last) * DFG_EDGE + x.min(last)];
        let upper = texel(x, y).lerp(texel(x + 1, y), part.x);
        upper.lerp(texel(x, y + 1).lerp(texel(x + 1, y + 1), part.x), part.y)
    }

    /// For a texture `Rgba16Float` of [`DFG_EDGE`] squared, row by row: bits of half floats.
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

fn place(at: usize) -> f64 {
    at as f64 / (DFG_EDGE - 1) as f64
}

fn cosine(column: usize) -> f64 {
    (place(column) * place(column)).max(f64::from(MIN_N_DOT_V))
}

/// Bias and missing share at one angle. Half vectors are taken as they are seen, so that no weight exceeds 1: the
/// directions about the eye on a sphere, stretched (Dupuy and Benyoub 2023, "Sampling Visible GGX Normals with
/// Spherical Caps"). What they mirror is weighted by `G2 / G1` (Heitz 2018, eq. 19). The sum is Gauss-Legendre in
/// height and even in turn; the other half of the turns is the same.
fn reflected(cosine: f64, alpha: f64, heights: &[(f64, f64)], turns: &[DVec2]) -> DVec2 {
    let eye = DVec3::new((1.0 - cosine * cosine).sqrt(), 0.0, cosine);
    let stretched = DVec3::new(alpha * eye.x, 0.0, eye.z).normalize_or_zero();
    let eye_shadow = shadow(cosine, alpha);
    let mut sum = DVec2::ZERO;
    for &(at, weight) in heights {
        let z = 1.0 - at * (1.0 + stretched.z);
        let across = (1.0 - z * z).max(0.0).sqrt();
        for turn in turns {
            let bent = DVec3::new(across * turn.x, across * turn.y, z) + stretched;
            let half = DVec3::new(alpha * bent.x, alpha * bent.y, bent.z).normalize_or_zero();
            let eye_half = eye.dot(half).clamp(0.0, 1.0);
            let light = 2.0 * eye_half * half.z - eye.z;
            let unseen = if light > 0.0 {
                let light_shadow = shadow(light.min(1.0), alpha);
                light_shadow / (1.0 + eye_shadow + light_shadow)
            } else {
                1.0
            };
            let schlick = (1.0 - eye_half).powi(5);
            sum += DVec2::new(schlick * (1.0 - unseen), unseen) * weight;
        }
    }
    sum / turns.len() as f64
}

/// Smith's Lambda of GGX (Heitz 2014, eq. 72).
fn shadow(cosine: f64, alpha: f64) -> f64 {
    let tan2 = (1.0 - cosine * cosine) / (cosine * cosine);
    0.5 * ((1.0 + alpha * alpha * tan2).sqrt() - 1.0)
}

/// `2 int f(c) c dc` along a row. As columns are even in the root t of the cosine, that is `4 int f t^3 dt`:
/// Simpson's second rule, for which the number of gaps divides by three.
fn average(shares: &[DVec2]) -> DVec2 {
    let last = DFG_EDGE - 1;
    let term = |(at, share): (usize, &DVec2)| {
        let weight = match at {
            0 => 1.0,
            _ if at == last => 1.0,
            _ if at.is_multiple_of(3) => 2.0,
            _ => 3.0,
        };
        *share * (4.0 * place(at).powi(3) * weight)
    };
    let sum: DVec2 = shares.iter().enumerate().map(term).sum();
    sum * 3.0 / (8.0 * last as f64)
}
