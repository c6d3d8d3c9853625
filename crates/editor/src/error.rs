//! What can go wrong while a document is open. The document is never harmed.

use brush::BrushError;
use document::{DocumentError, wire::WireError};
use layers::LayersError;
use raster::{Cancelled, RasterError};
use surface::SurfaceError;
use thiserror::Error;

/// Errors of this crate.
#[derive(Debug, Error)]
pub enum EditorError {
    /// An edit was refused.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// A composite could not be made.
    #[error(transparent)]
    Layers(#[from] LayersError),
    /// A gesture could not be resolved.
    #[error(transparent)]
    Brush(#[from] BrushError),
    /// Texels could not be had.
    #[error(transparent)]
    Raster(#[from] RasterError),
    /// An edit of a list can't be read or was refused.
    #[error(transparent)]
    List(#[from] WireError),
    /// The observer asked to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// A texel beyond the texture.
    #[error("there is no texel {x}, {y}: the texture has {edge} x {edge}")]
    NoTexel {
        /// Its column.
        x: u32,
        /// Its row.
        y: u32,
        /// Texels along the texture's edge.
        edge: u32,
    },
    /// A stroke goes on.
    #[error("the pen is down: end the stroke or take it back first")]
    PenDown,
    /// No stroke goes on.
    #[error("the pen is up: begin a stroke first")]
    PenUp,
    /// Work that was started here, but is none of the editor's, failed.
    #[error(transparent)]
    Outside(Box<dyn std::error::Error + Send + Sync>),
    /// A long edit came too late.
    #[error("{material} was changed while this was made, so it was left as it is: do it again")]
    Overtaken {
        /// The material's name.
        material: String,
    },
    /// A fault of the program ended long work.
    #[error("a fault in the program ended the work: nothing was changed, try it again")]
    JobFailed,
    /// The thread pools could not be started.
    #[error("worker threads can't be started: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
}

impl EditorError {
    /// What work handed to [`crate::Editor::start`] met outside of the editor: a file that can't be read.
    pub fn outside(error: impl std::error::Error + Send + Sync + 'static) -> Self {
        Self::Outside(Box::new(error))
    }

    /// True where nothing went wrong: the observer asked to stop, wherever the work was just then.
    pub fn is_cancelled(&self) -> bool {
        use RasterError::Cancelled as Stopped;
        match self {
            Self::Cancelled(_)
            | Self::Raster(Stopped(_))
            | Self::Layers(LayersError::Cancelled(_) | LayersError::Raster(Stopped(_)))
            | Self::Brush(BrushError::Raster(Stopped(_))) => true,
            Self::Document(refused) => matches!(
                refused,
                DocumentError::Raster(Stopped(_))
                    | DocumentError::Layers(
                        LayersError::Cancelled(_) | LayersError::Raster(Stopped(_))
                    )
                    | DocumentError::Brush(BrushError::Raster(Stopped(_)))
                    | DocumentError::Surface(
                        SurfaceError::Cancelled(_) | SurfaceError::Raster(Stopped(_))
                    )
            ),
            _ => false,
        }
    }
}
