//! Why a command did not do what it was asked, and the exit code that says so.

use std::path::PathBuf;

use app::AppError;
use document::wire::WireError;
use editor::EditorError;
use exchange::ExchangeError;
use store::StoreError;
use thiserror::Error;
use viewport::ViewportError;

/// Errors of the command line: one line each.
#[derive(Debug, Error)]
pub(crate) enum Failure {
    /// A check that was asked for failed.
    #[error("{0}")]
    Check(String),
    /// A file could not be read or written.
    #[error(transparent)]
    Exchange(#[from] ExchangeError),
    /// A file that is text could not be read.
    #[error("{}: {reason}", path.display())]
    Text { path: PathBuf, reason: String },
    /// An edit of a list can't be read or was refused.
    #[error("{}:{}: {}", path.display(), fault.line, fault.reason)]
    Edits { path: PathBuf, fault: WireError },
    /// A brush can't be read, or there is none of that name.
    #[error("{0}")]
    Brush(String),
    /// A number on the command line that is out of range.
    #[error("{0}")]
    Usage(String),
    /// The editor failed.
    #[error(transparent)]
    Editor(#[from] EditorError),
    /// A project can't be read or written.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The window can't be opened or kept.
    #[error(transparent)]
    Window(#[from] AppError),
    /// A picture can't be drawn.
    #[error(transparent)]
    Viewport(#[from] ViewportError),
}

impl Failure {
    /// 1 a check failed, 2 usage, 3 bad input, 4 no graphics adapter or no display.
    pub(crate) fn code(&self) -> u8 {
        match self {
            Self::Check(_) => 1,
            Self::Usage(_) | Self::Viewport(ViewportError::PictureTooLarge { .. }) => 2,
            Self::Viewport(fault) | Self::Window(AppError::Viewport(fault))
                if is_missing(fault) =>
            {
                4
            }
            Self::Window(AppError::NoDisplay(_)) => 4,
            _ => 3,
        }
    }

    /// An editor's error, with the file of the list where it was the list's.
    pub(crate) fn in_list(error: EditorError, path: &std::path::Path) -> Self {
        match error {
            EditorError::List(fault) => Self::Edits { path: path.to_owned(), fault },
            other => Self::Editor(other),
        }
    }
}

fn is_missing(fault: &ViewportError) -> bool {
    matches!(fault, ViewportError::NoAdapter | ViewportError::Unusable { .. })
}
