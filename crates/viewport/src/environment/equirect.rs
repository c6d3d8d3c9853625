//! An equirectangular picture as a function of direction.

use std::f32::consts::{PI, TAU};

use glam::{Vec3, Vec3A};
use rayon::prelude::*;

use super::cube::CubeTexel;

/// Rows from the zenith down, columns from +Z over -X, -Z and +X back to +Z.
#[derive(Debug)]
pub(super) struct Equirect {
    width: usize,
    height: usize,
    texels: Vec<Vec3A>,
}

impl Equirect {
    pub(super) fn new(width: usize, height: usize, texels: &[[f32; 3]]) -> Option<Self> {
        let count = width.checked_mul(height)?;
        let kept = |v: f32| if v.is_finite() { v.max(0.0) } else { 0.0 };
        let texels: Vec<Vec3A> =
            texels.par_iter().map(|&texel| Vec3A::from(texel.map(kept))).collect();
        (count > 0 && texels.len() == count).then_some(Self { width, height, texels })
    }

    /// Made smaller, until a cube's texel is about as wide as three columns.
    pub(super) fn shrunk(mut self, cube_edge: usize) -> Self {
        while self.width > 8 * cube_edge {
            self = self.halved();
        }
        self
    }

    /// Half as wide and high: each texel the mean of four, rows weighted by their share of the sphere. A last odd
    /// row or column stands alone.
    fn halved(&self) -> Self {
        let (width, height) = (self.width.div_ceil(2), self.height.div_ceil(2));
        let share = |row: usize| (PI * (row as f32 + 0.5) / self.height as f32).sin();
        let mut texels = vec![Vec3A::ZERO; width * height];
        texels.par_chunks_mut(width).enumerate().for_each(|(row, out)| {
            let rows = 2 * row..(2 * row + 2).min(self.height);
            for (column, texel) in out.iter_mut().enumerate() {
                let columns = 2 * column..(2 * column + 2).min(self.width);
                let (mut sum, mut total) = (Vec3A::ZERO, 0.0);
                for row in rows.clone() {
                    for value in &self.texels[row * self.width..][columns.clone()] {
                        sum += *value * share(row);
                        total += share(row);
                    }
                }
                *texel = sum / total;
            }
        });
        Self { width, height, texels }
    }

    /// Mean radiance of a cube's texel.
    pub(super) fn within(&self, texel: CubeTexel) -> Vec3 {
        let across = 2.0 / texel.edge as f32 / (TAU / self.width as f32);
        let count = (across.ceil() as usize).max(1);
        let mut sum = Vec3::ZERO;
        for y in 0..count {
            for x in 0..count {
                let part = |at: usize| (at as f32 + 0.5) / count as f32;
                sum += self.radiance(texel.direction(part(x), part(y)));
            }
        }
        sum / (count * count) as f32
    }

    /// Bilinear; around the back it goes on, and over a pole on the other side.
    fn radiance(&self, direction: Vec3) -> Vec3 {
        let turn = 0.5 + direction.x.atan2(-direction.z) / TAU;
        let across = direction.x.hypot(direction.z);
        let down = across.atan2(direction.y) / PI;
        let x = turn * self.width as f32 - 0.5;
        let y = down * self.height as f32 - 0.5;
        let (left, top) = (x.floor(), y.floor());
        let at = |column: f32, row: f32| self.wrapped(column as isize, row as isize);
        let upper = at(left, top).lerp(at(left + 1.0, top), x - left);
        let lower = at(left, top + 1.0).lerp(at(left + 1.0, top + 1.0), x - left);
        upper.lerp(lower, y - top).into()
    }

    fn wrapped(&self, column: isize, row: isize) -> Vec3A {
        let (width, height) = (self.width as isize, self.height as isize);
        let (over, row) = match row {
            _ if row < 0 => (width / 2, -1 - row),
            _ if row >= height => (width / 2, 2 * height - 1 - row),
            _ => (0, row),
        };
        let column = (column + over).rem_euclid(width);
        self.texels[row as usize * self.width + column as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halving_keeps_the_light_of_the_sphere() {
        let texels: Vec<[f32; 3]> = (0..16 * 8).map(|at| [(at * 7 % 23) as f32; 3]).collect();
        let whole = Equirect::new(16, 8, &texels).unwrap();
        let mean = |picture: &Equirect| {
            let (mut sum, mut total) = (0.0, 0.0);
            for (at, texel) in picture.texels.iter().enumerate() {
                let row = (at / picture.width) as f32;
                let share = (PI * (row + 0.5) / picture.height as f32).sin();
                sum += texel.x * share;
                total += share;
            }
            sum / total
        };
        // Analytic: sin a + sin b is 2 sin((a + b)/2) cos((a - b)/2), so pairs keep their share.
        assert!((mean(&whole.halved()) - mean(&whole)).abs() < 1e-4);
    }
}
