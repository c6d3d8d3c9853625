//! Noise over space, in units of its own lattice, for the texels of a block at once: plain arithmetic, the same on
//! every processor.
//!
//! Loops run over corners or cells outside and texels inside, which makes vector code of them. All is inlined by
//! force: a call would leave the instructions that the caller was compiled for.
#![expect(clippy::inline_always, clippy::needless_range_loop, reason = "see the module")]

use glam::Vec3;
use surface::BLOCK_TEXELS;

use super::hash::{hash3, unit};
use crate::kernel::Lane;

/// Points in space.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Space {
    pub(crate) x: Lane,
    pub(crate) y: Lane,
    pub(crate) z: Lane,
}

impl Space {
    #[inline(always)]
    pub(crate) fn of(point: impl Fn(usize) -> Vec3) -> Self {
        let mut space = Self { x: [0.0; _], y: [0.0; _], z: [0.0; _] };
        for n in 0..BLOCK_TEXELS {
            let p = point(n);
            (space.x[n], space.y[n], space.z[n]) = (p.x, p.y, p.z);
        }
        space
    }

    #[inline(always)]
    pub(crate) fn at(&self, n: usize) -> Vec3 {
        Vec3::new(self.x[n], self.y[n], self.z[n])
    }

    #[inline(always)]
    pub(crate) fn map(&self, change: impl Fn(Vec3) -> Vec3) -> Self {
        Self::of(|n| change(self.at(n)))
    }
}

/// Perlin 2002, "Improving Noise", eq. for the fade: second derivatives are 0 at the lattice.
#[inline(always)]
fn fade(t: f32) -> f32 {
    t * t * t * (t * (t * 6.0 - 15.0) + 10.0)
}

/// The share that a corner has of a point this far beyond the lower one, 0..1, in one direction.
#[inline(always)]
fn share(corner: i32, t: f32) -> f32 {
    if corner == 1 { fade(t) } else { 1.0 - fade(t) }
}

/// Blends what stands at the eight corners of each point's cell: `corner` is given the corner's random words and
/// how far the point is from it.
#[inline(always)]
fn blended(p: &Space, seed: u32, corner: impl Fn([u32; 3], Vec3) -> f32) -> Lane {
    let mut sum = [0.0; BLOCK_TEXELS];
    for number in 0..8 {
        let (x, y, z) = (number & 1, number >> 1 & 1, number >> 2);
        for n in 0..BLOCK_TEXELS {
            let (low, within) = cell_of(p.at(n));
            let words =
                hash3([(low[0] + x) as u32 ^ seed, (low[1] + y) as u32, (low[2] + z) as u32]);
            let away = within - Vec3::new(x as f32, y as f32, z as f32);
            let share = share(x, within.x) * share(y, within.y) * share(z, within.z);
            sum[n] += share * corner(words, away);
        }
    }
    sum
}

/// A point's cell, and where the point lies in it.
#[inline(always)]
fn cell_of(p: Vec3) -> ([i32; 3], Vec3) {
    let low = Vec3::new(p.x.floor(), p.y.floor(), p.z.floor());
    ([low.x as i32, low.y as i32, low.z as i32], p - low)
}

/// Value noise: random numbers at the lattice, blended; 0..1, mean 1/2.
#[inline(always)]
pub(crate) fn value(p: &Space, seed: u32) -> Lane {
    blended(p, seed, |words, _| unit(words[0]))
}

/// Gradient noise: Perlin 2002, with gradients of random direction in place of twelve fixed ones; about
/// -1..1, 0 at the lattice, mean 0.
#[inline(always)]
pub(crate) fn gradient(p: &Space, seed: u32) -> Lane {
    blended(p, seed, |words, away| {
        let slope = words.map(|word| 2.4 * unit(word) - 1.2);
        slope[0] * away.x + slope[1] * away.y + slope[2] * away.z
    })
}

/// Calls `see` with each texel, the distance of a point scattered one a cell in each of the cells around, and that
/// point's random number.
#[inline(always)]
fn scattered(p: &Space, seed: u32, mut see: impl FnMut(usize, f32, f32)) {
    for number in 0..27 {
        let (x, y, z) = (number % 3 - 1, number / 3 % 3 - 1, number / 9 - 1);
        for n in 0..BLOCK_TEXELS {
            let (low, within) = cell_of(p.at(n));
            let words =
                hash3([(low[0] + x) as u32 ^ seed, (low[1] + y) as u32, (low[2] + z) as u32]);
            let away = Vec3::new(
                x as f32 + unit(words[0]) - within.x,
                y as f32 + unit(words[1]) - within.y,
                z as f32 + unit(words[2]) - within.z,
            );
            let distance = (away.x * away.x + away.y * away.y + away.z * away.z).sqrt();
            see(n, distance, unit(words[0].rotate_left(13) ^ words[2]));
        }
    }
}

/// The nearest and second nearest of points scattered one a cell, as distances: Worley 1996, "A Cellular Texture
/// Basis Function".
#[inline(always)]
pub(crate) fn cellular(p: &Space, seed: u32) -> (Lane, Lane) {
    let (mut first, mut second) = ([f32::MAX; BLOCK_TEXELS], [f32::MAX; BLOCK_TEXELS]);
    scattered(p, seed, |n, distance, _| {
        let farther = if first[n] > distance { first[n] } else { distance };
        second[n] = if farther < second[n] { farther } else { second[n] };
        first[n] = if distance < first[n] { distance } else { first[n] };
    });
    (first, second)
}

/// Balls scattered one a cell, each of a radius that its random number of 0..1 gives, at most half a cell: 1
/// inside of them, falling to 0 over their outer third.
#[inline(always)]
pub(crate) fn specks(p: &Space, seed: u32, radius: impl Fn(f32) -> f32) -> Lane {
    let mut most = [0.0; BLOCK_TEXELS];
    scattered(p, seed, |n, distance, its| {
        let radius = radius(its);
        let there = (radius - distance) / (radius * 0.33);
        let there = if there < 1.0 { there } else { 1.0 };
        most[n] = if there > most[n] { there } else { most[n] };
    });
    most
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 64 points a number.
    fn places(number: u32) -> Space {
        Space::of(|n| {
            let words = hash3([number, n as u32, 9]);
            Vec3::from_array(words.map(|word| unit(word) * 200.0 - 100.0))
        })
    }

    #[test]
    fn noises_keep_their_ranges_and_means() {
        let blocks = 3000;
        let (mut values, mut gradients, mut most) = (0.0, 0.0, 0.0_f32);
        for number in 0..blocks {
            let p = places(number);
            let (v, g) = (value(&p, 3), gradient(&p, 3));
            let (first, second) = cellular(&p, 3);
            for n in 0..BLOCK_TEXELS {
                assert!((0.0..=1.0).contains(&v[n]) && (-1.3..=1.3).contains(&g[n]));
                assert!(first[n] <= second[n] && first[n] < 1.5);
                values += f64::from(v[n]);
                gradients += f64::from(g[n]);
                most = most.max(g[n].abs());
            }
        }
        let count = f64::from(blocks) * BLOCK_TEXELS as f64;
        assert!((values / count - 0.5).abs() < 0.01);
        assert!((gradients / count).abs() < 0.01 && most > 0.7);
    }

    #[test]
    fn noises_have_no_steps() {
        for number in 0..100 {
            let p = places(number);
            let near = p.map(|p| p + Vec3::new(1e-3, -1e-3, 1e-3));
            let noises: [fn(&Space, u32) -> Lane; 3] =
                [value, gradient, |p, seed| cellular(p, seed).0];
            for noise in noises {
                let (here, there) = (noise(&p, 1), noise(&near, 1));
                assert!(here.iter().zip(there).all(|(here, there)| (here - there).abs() < 0.01));
            }
        }
    }

    #[test]
    fn another_seed_is_another_noise() {
        let p = places(0);
        let (one, other) = (value(&p, 1), value(&p, 2));
        let same = one.iter().zip(other).filter(|(one, other)| (*one - other).abs() < 1e-3).count();
        assert!(same < 4, "{same}");
    }
}
