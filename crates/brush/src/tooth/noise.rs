//! Noise over space, in units of its own lattice: plain arithmetic, the same on every processor.

use glam::{IVec3, Vec3};

use super::hash::{hash3, unit};

fn words(cell: IVec3, seed: u32) -> [u32; 3] {
    hash3([cell.x as u32 ^ seed, cell.y as u32, cell.z as u32])
}

/// Perlin 2002, "Improving Noise", eq. for the fade: second derivatives are 0 at the lattice.
fn fade(t: Vec3) -> Vec3 {
    t * t * t * (t * (t * 6.0 - 15.0) + 10.0)
}

fn lerp(a: f32, b: f32, t: f32) -> f32 {
    a + (b - a) * t
}

/// Blends what stands at the eight corners of a cell.
fn in_cell(p: Vec3, corner: impl Fn(IVec3, Vec3) -> f32) -> f32 {
    let floor = p.floor();
    let (cell, within) = (floor.as_ivec3(), p - floor);
    let t = fade(within);
    let at = |x: i32, y: i32, z: i32| {
        let step = IVec3::new(x, y, z);
        corner(cell + step, within - step.as_vec3())
    };
    let along_x = |y, z| lerp(at(0, y, z), at(1, y, z), t.x);
    let along_y = |z| lerp(along_x(0, z), along_x(1, z), t.y);
    lerp(along_y(0), along_y(1), t.z)
}

/// Value noise: random numbers at the lattice, blended; 0..1, mean 1/2.
pub(crate) fn value(p: Vec3, seed: u32) -> f32 {
    in_cell(p, |cell, _| unit(words(cell, seed)[0]))
}

/// Gradient noise: Perlin 2002, with gradients of random direction in place of twelve fixed ones; about
/// -1..1, 0 at the lattice, mean 0.
pub(crate) fn gradient(p: Vec3, seed: u32) -> f32 {
    let noise = in_cell(p, |cell, away| {
        let slope = Vec3::from_array(words(cell, seed).map(|word| 2.0 * unit(word) - 1.0));
        slope.dot(away)
    });
    noise * 1.2
}

/// The nearest and second nearest of points scattered one a cell, as distances: Worley 1996, "A Cellular Texture Basis Function".
pub(crate) fn cellular(p: Vec3, seed: u32) -> (f32, f32) {
    let floor = p.floor();
    let (cell, within) = (floor.as_ivec3(), p - floor);
    let (mut first, mut second) = (f32::MAX, f32::MAX);
    for z in -1..=1 {
        for y in -1..=1 {
            for x in -1..=1 {
                let step = IVec3::new(x, y, z);
                let words = words(cell + step, seed);
                let point = step.as_vec3() + Vec3::from_array(words.map(unit));
                let distance = (point - within).length_squared();
                if distance < first {
                    (second, first) = (first, distance);
                } else if distance < second {
                    second = distance;
                }
            }
        }
    }
    (first.sqrt(), second.sqrt())
}

/// Balls scattered one a cell, each of a radius that its random number of 0..1 gives, at most half a cell: 1
/// inside of them, falling to 0 over their outer third.
pub(crate) fn specks(p: Vec3, seed: u32, radius: impl Fn(f32) -> f32) -> f32 {
    let floor = p.floor();
    let (cell, within) = (floor.as_ivec3(), p - floor);
    let mut most = 0.0_f32;
    for z in -1..=1 {
        for y in -1..=1 {
            for x in -1..=1 {
                let step = IVec3::new(x, y, z);
                let words = words(cell + step, seed);
                let point = step.as_vec3() + Vec3::from_array(words.map(unit));
                let radius = radius(unit(words[0].rotate_left(13) ^ words[2]));
                let there = (radius - (point - within).length()) / (radius * 0.33);
                most = most.max(there.min(1.0));
            }
        }
    }
    most
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(count: u32) -> impl Iterator<Item = Vec3> {
        (0..count)
            .map(|n| Vec3::from_array(hash3([n, 7, 9]).map(|word| unit(word) * 200.0 - 100.0)))
    }

    #[test]
    fn noises_keep_their_ranges_and_means() {
        let count = 200_000;
        let (mut values, mut gradients, mut most) = (0.0, 0.0, 0.0_f32);
        for p in places(count) {
            let (v, g) = (value(p, 3), gradient(p, 3));
            assert!((0.0..=1.0).contains(&v) && (-1.3..=1.3).contains(&g));
            let (first, second) = cellular(p, 3);
            assert!(first <= second && first < 1.5);
            values += f64::from(v);
            gradients += f64::from(g);
            most = most.max(g.abs());
        }
        assert!((values / f64::from(count) - 0.5).abs() < 0.01);
        assert!((gradients / f64::from(count)).abs() < 0.01 && most > 0.7);
    }

    #[test]
    fn noises_have_no_steps() {
        for p in places(2000) {
            let near = p + Vec3::new(1e-3, -1e-3, 1e-3);
            assert!((value(p, 1) - value(near, 1)).abs() < 0.01);
            assert!((gradient(p, 1) - gradient(near, 1)).abs() < 0.01);
            assert!((cellular(p, 1).0 - cellular(near, 1).0).abs() < 0.01);
        }
    }

    #[test]
    fn another_seed_is_another_noise() {
        let same = places(1000).filter(|p| (value(*p, 1) - value(*p, 2)).abs() < 1e-3).count();
        assert!(same < 20, "{same}");
    }
}
