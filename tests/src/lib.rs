//! Tests that cross crates, and checks against references from outside the project.
#![cfg(test)]

mod architecture;
mod beyond_memory;
mod brush_images;
mod compared;
mod decals;
mod display;
mod fields;
mod gestures;
mod guides;
mod hidden;
mod image_tooth;
mod jobs;
mod laws;
mod left_out;
mod live;
mod merge;
mod meshes;
mod mirror;
mod odd_strokes;
mod pen;
mod preview;
mod random_edits;
mod reference;
mod reopened;
mod replay;
mod seams;
mod selection;
mod shades;
mod stencils;
mod strokes;
mod symmetry;
mod thumbnails;
mod tooth;
mod transport;
mod transport_copies;
