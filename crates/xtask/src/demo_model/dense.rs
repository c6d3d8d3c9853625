//! The dense sculpt: the same model with more faces, worked over, as loose parts without UVs.

use glam::{DQuat, DVec3};

use super::assemble::{Welded, weld};
use super::shell::Shell;

/// How a part's surface was worked: its roughness in metres.
#[derive(Clone, Copy)]
pub(crate) struct Worked {
    /// Depth of the relief.
    pub(crate) depth: f64,
    /// Waves a metre in each direction; wood has fewer along its grain.
    pub(crate) waves: DVec3,
}

/// Welds a shell and moves its points in and out along their normals.
pub(crate) fn worked(shell: &Shell, worked: Worked) -> Welded {
    let mut welded = weld(shell);
    let normals = welded.point_normals();
    for (point, normal) in welded.points.iter_mut().zip(normals) {
        *point += normal * (relief(*point * worked.waves) * worked.depth);
    }
    welded
}

/// Three octaves of value noise, each turned so that their lattices do not line up; about -1..1.
fn relief(mut at: DVec3) -> f64 {
    let turn = DQuat::from_xyzw(0.36, 0.48, 0.64, 0.48);
    let mut sum = 0.0;
    let mut weight = 0.57;
    for octave in 0..3 {
        sum += weight * noise(at, octave);
        at = turn * at * 2.03;
        weight *= 0.5;
    }
    sum
}

/// Value noise: random values at whole points, blended smoothly; -1..1.
fn noise(at: DVec3, octave: u32) -> f64 {
    let low = at.floor();
    let part = at - low;
    let smooth = part * part * (3.0 - 2.0 * part);
    let corner = |x: f64, y: f64, z: f64| random(low + DVec3::new(x, y, z), octave);
    let along_x = |y, z| lerp(corner(0.0, y, z), corner(1.0, y, z), smooth.x);
    let along_y = |z| lerp(along_x(0.0, z), along_x(1.0, z), smooth.y);
    lerp(along_y(0.0), along_y(1.0), smooth.z)
}

fn lerp(from: f64, to: f64, t: f64) -> f64 {
    from + (to - from) * t
}

/// A value in -1..1 that belongs to a whole point (multiply and shift, constants chosen at random).
fn random(at: DVec3, octave: u32) -> f64 {
    let mut hash = octave.wrapping_mul(0x9e37_79b9);
    for whole in at.to_array() {
        hash = (hash ^ (whole as i64 as u32)).wrapping_mul(0x85eb_ca6b);
        hash ^= hash >> 15;
        hash = hash.wrapping_mul(0xc2b2_ae35);
        hash ^= hash >> 13;
    }
    f64::from(hash) / f64::from(u32::MAX) * 2.0 - 1.0
}
