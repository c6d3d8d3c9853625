//! What can go wrong with files. Every message is one line: the file, the place in it, what is wrong,
//! and what to do about it.

use std::io;
use std::path::Path;

use raster::{Cancelled, RasterError};
use thiserror::Error;

use crate::text::{one_line, shown_path};

/// Errors of this crate. Nothing was changed in memory and no file was written where one is returned.
#[derive(Debug, Error)]
pub enum ExchangeError {
    /// A line of a text file is wrong.
    #[error("{file}:{line}: {problem}")]
    Line {
        /// The file.
        file: String,
        /// The line, counted from 1.
        line: u64,
        /// What is wrong and what to do.
        problem: String,
    },
    /// A numbered thing of a structured file is wrong.
    #[error("{file}: {place}: {problem}")]
    Place {
        /// The file.
        file: String,
        /// Such as `accessor 3` or `node 0`, counted from 0 as the file does.
        place: String,
        /// What is wrong and what to do.
        problem: String,
    },
    /// A file as a whole is wrong.
    #[error("{file}: {problem}")]
    File {
        /// The file.
        file: String,
        /// What is wrong and what to do.
        problem: String,
    },
    /// The system refused to read or write.
    #[error("{file}: {doing}: {source}")]
    Io {
        /// The file or folder.
        file: String,
        /// What was being done.
        doing: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// The observer asked to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// A map could not be had from the document.
    #[error(transparent)]
    Raster(#[from] RasterError),
}

impl ExchangeError {
    pub(crate) fn line(file: &str, line: u64, problem: impl Into<String>) -> Self {
        Self::Line { file: one_line(file), line, problem: problem.into() }
    }

    pub(crate) fn place(file: &str, place: impl Into<String>, problem: impl Into<String>) -> Self {
        Self::Place { file: one_line(file), place: place.into(), problem: problem.into() }
    }

    pub(crate) fn file(file: &str, problem: impl Into<String>) -> Self {
        Self::File { file: one_line(file), problem: problem.into() }
    }

    pub(crate) fn io(path: &Path, doing: &'static str, source: io::Error) -> Self {
        Self::Io { file: shown_path(path), doing, source }
    }
}
