//! Tests that cross crates, and checks against references from outside the project.
#![cfg(test)]

mod architecture;
mod meshes;
mod strokes;
