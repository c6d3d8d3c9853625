//! Directions that cover the sphere.

use std::f32::consts::{PI, TAU};

use glam::Vec3;

/// About `2 edge^2` directions, each in the middle of an equal share of the sphere.
pub(crate) fn directions(edge: usize) -> impl Iterator<Item = Vec3> {
    (0..edge).flat_map(move |row| {
        (0..2 * edge).map(move |column| {
            let z = 1.0 - (2 * row + 1) as f32 / edge as f32;
            let turn = TAU * (column as f32 + 0.5) / (2 * edge) as f32;
            let across = (1.0 - z * z).sqrt();
            Vec3::new(across * turn.cos(), across * turn.sin(), z)
        })
    })
}

/// The solid angle that each of [`directions`] stands for.
pub(crate) fn share(edge: usize) -> f32 {
    4.0 * PI / (2 * edge * edge) as f32
}
