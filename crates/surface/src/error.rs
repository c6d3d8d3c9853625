//! What can go wrong with a surface.

use raster::{Cancelled, RasterError};
use thiserror::Error;

/// Errors of this crate. Indices count from 0, in the order in which the mesh came.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum SurfaceError {
    /// A coordinate that is not a finite number.
    #[error("{what} {index} is not a finite number")]
    NotFinite {
        /// position, normal, UV, vertex colour, rest position or part axis.
        what: &'static str,
        /// Which one.
        index: usize,
    },
    /// A corner names something that does not exist.
    #[error("face {face} names {what} {index}, but there are only {count}")]
    OutOfRange {
        /// The face.
        face: usize,
        /// position, normal, UV, part or material.
        what: &'static str,
        /// What it names.
        index: u32,
        /// How many there are.
        count: usize,
    },
    /// A face of fewer than three corners.
    #[error("face {face} has {corners} corners: it needs three")]
    TooFewCorners {
        /// The face.
        face: usize,
        /// Its corners.
        corners: usize,
    },
    /// Two lists that must be equally long are not.
    #[error("{what}: {got} given for {needed}")]
    Count {
        /// Which list.
        what: &'static str,
        /// Its length.
        got: usize,
        /// The length it needs.
        needed: usize,
    },
    /// No face at all.
    #[error("the model has no faces")]
    Empty,
    /// Something of the texture side failed.
    #[error(transparent)]
    Raster(#[from] RasterError),
    /// The observer asked to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
