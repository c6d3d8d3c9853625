//! What can go wrong between here and the graphics adapter.

use raster::Cancelled;
use thiserror::Error;

/// Errors of this crate: one line each, saying what to do.
#[derive(Debug, Error)]
pub enum ViewportError {
    /// The machine has nothing that draws.
    #[error(
        "no graphics adapter: install a Vulkan driver (on Debian without a graphics card: mesa-vulkan-drivers)"
    )]
    NoAdapter,
    /// There is an adapter, but it can't do what is needed.
    #[error("the graphics adapter {adapter} can't be used: {reason}; update its driver")]
    Unusable {
        /// What it is called.
        adapter: String,
        /// What it lacks.
        reason: String,
    },
    /// A mesh is too large for the adapter.
    #[error(
        "the model needs a buffer of {needed} bytes, but {adapter} allows {most}: reduce the model"
    )]
    MeshTooLarge {
        /// Bytes needed.
        needed: u64,
        /// Bytes allowed.
        most: u64,
        /// What the adapter is called.
        adapter: String,
    },
    /// A picture is larger than the adapter can make.
    #[error("a picture of {width} x {height} pixels is too large: at most {most} a side")]
    PictureTooLarge {
        /// Its width in pixels.
        width: u32,
        /// Its height in pixels.
        height: u32,
        /// Pixels a side.
        most: u32,
    },
    /// The picture can't be brought back from the adapter.
    #[error("the picture can't be read back from the graphics adapter: {0}; try again")]
    Readback(String),
    /// The work is no longer wanted.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
