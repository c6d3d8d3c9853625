//! What can go wrong with a stroke.

use raster::{Cancelled, PageError, RasterError};
use thiserror::Error;

/// Errors of this crate.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum BrushError {
    /// A setting outside of its range.
    #[error("{what} is {value}: give {range}")]
    Setting {
        /// The setting's name.
        what: &'static str,
        /// What it was.
        value: f64,
        /// What it may be.
        range: &'static str,
    },
    /// A path point that names a triangle that the model does not have.
    #[error("triangle {triangle} is named, but the model has only {count}")]
    NoSuchTriangle {
        /// The triangle.
        triangle: u32,
        /// How many there are.
        count: usize,
    },
    /// A number in a path that is not finite.
    #[error("point {index} of the stroke holds a number that is not finite")]
    NotFinite {
        /// Which point, counted over all runs from 0.
        index: usize,
    },
    /// A point that can't be meant.
    #[error(
        "point {index} of the stroke is more than 1000 times the model's size away from it: \
         give its position in the model's units"
    )]
    FarAway {
        /// Which point, counted over all runs from 0.
        index: usize,
    },
    /// Weights of a triangle's corners that give no point of it.
    #[error("the barycentric weights of point {index} sum to {sum}: give three that make 1")]
    Weights {
        /// Which point, counted over all runs from 0.
        index: usize,
        /// What they sum to.
        sum: f32,
    },
    /// A fill whose tooth belongs to dabs.
    #[error("a fill has no dabs: its tooth belongs to the surface")]
    FillTooth,
    /// A stencil's matrix that takes all points onto one line.
    #[error("the stencil's places take the view onto a line: give three rows that are independent")]
    StencilPlaces,
    /// A stroke without any point.
    #[error("the stroke has no points")]
    EmptyPath,
    /// A stroke that would never end.
    #[error("the stroke would take {dabs} dabs: raise its spacing or its radius (at most {most})")]
    TooManyDabs {
        /// How many it would take.
        dabs: u64,
        /// How many are allowed.
        most: u64,
    },
    /// A stroke made by a kernel that this program does not have.
    #[error("the stroke was made by kernel {version}, which this program does not have")]
    UnknownKernel {
        /// Its version.
        version: u16,
    },
    /// A stroke whose brush does what its kernel can't.
    #[error(
        "the stroke names kernel {version}, which has no tooth, jitter, ovals, images, tilt, speed, symmetry, stencils and guides, and moves no paint: leave \"kernel\" out"
    )]
    NotInKernel {
        /// The kernel's version.
        version: u16,
    },
    /// A stroke that moves paint where coverage is wanted, or the other way round.
    #[error("a stroke that moves paint can't be painted with a value, nor the other way round")]
    Transport,
    /// Symmetry on the flat texture.
    #[error("a stroke on the flat texture can't be repeated by symmetry: paint on the model")]
    SymmetryOnTexture,
    /// A clone source that holds a number that is not finite.
    #[error("the point to clone from holds a number that is not finite: pick it again")]
    SourceNotFinite,
    /// A clone source on the surface for a stroke on the flat texture, or the other way round.
    #[error("the point to clone from was picked in the other view: pick one in this view")]
    SourceElsewhere,
    /// Something of the texture side failed.
    #[error(transparent)]
    Raster(#[from] RasterError),
}

impl From<Cancelled> for BrushError {
    fn from(cancelled: Cancelled) -> Self {
        Self::Raster(cancelled.into())
    }
}

impl From<PageError> for BrushError {
    fn from(error: PageError) -> Self {
        Self::Raster(error.into())
    }
}
