//! What keeps the window from opening.

use thiserror::Error;

/// Why the window could not be opened or kept.
#[derive(Debug, Error)]
pub enum AppError {
    /// There is no display to open a window on.
    #[error("no window can be opened here: {0}")]
    NoDisplay(String),
    /// The window could not be made or drawn on.
    #[error("the window can't be kept open: {0}")]
    Window(String),
    /// There is nothing to draw with.
    #[error(transparent)]
    Viewport(#[from] viewport::ViewportError),
    /// The editor gave up.
    #[error(transparent)]
    Editor(#[from] editor::EditorError),
}
