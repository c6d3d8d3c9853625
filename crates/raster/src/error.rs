//! What can go wrong with texels.

use thiserror::Error;

/// The observer of a long function asked it to stop; nothing was changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("stopped before it was done; nothing was changed")]
pub struct Cancelled;

/// A tile's body is not in memory and could not be brought back.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("a tile could not be read back: {reason}")]
pub struct PageError {
    /// What the page source said, in words for the person at the screen.
    pub reason: String,
}

/// Errors of this crate.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum RasterError {
    /// A tile's body could not be read.
    #[error(transparent)]
    Page(#[from] PageError),
    /// The observer asked to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// A texture size that is not a power of two from 64 to 8192.
    #[error("texture size {0}: give a power of two from 64 to 8192")]
    TextureSize(u32),
}
