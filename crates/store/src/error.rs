//! What can go wrong with a project file.

use std::io;
use std::path::{Path, PathBuf};

use raster::{Cancelled, PageError};
use thiserror::Error;

use crate::damage::listed;
use crate::{Damage, VERSION};

/// Errors of this crate. Whatever fails leaves the file as it was.
#[derive(Debug, Error)]
pub enum StoreError {
    /// The system refused something.
    #[error("{}: {problem}: {source}", path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What could not be done.
        problem: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// The database refused something.
    #[error("the project file can't be {doing}: {source}")]
    Database {
        /// "read" or "written".
        doing: &'static str,
        /// What the database said.
        source: rusqlite::Error,
    },
    /// There is a file already.
    #[error("{}: there is a file already; choose another name", .0.display())]
    Exists(PathBuf),
    /// The file is something else.
    #[error("{}: this is no Scumble project", .0.display())]
    NotAProject(PathBuf),
    /// The file was written by a later version of the program.
    #[error(
        "this project has version {found}, and this program knows versions up to {VERSION}: \
         open it with a newer Scumble"
    )]
    Newer {
        /// The file's version.
        found: i64,
    },
    /// A part of the file was written by a later version of the program.
    #[error(
        "the project holds a {kind} of version {found}, which this program doesn't know: \
         open it with a newer Scumble"
    )]
    NewerNode {
        /// What it is.
        kind: &'static str,
        /// Its version.
        found: u8,
    },
    /// Another process has the file open.
    #[error(
        "{}: another Scumble has this project open; close it there, or open it read-only here",
        .0.display()
    )]
    InUse(PathBuf),
    /// A write to a project that was opened for reading.
    #[error("this project is open read-only: save it under another name to change it")]
    ReadOnly,
    /// Writing failed before, and is not tried again.
    #[error(
        "writing to the project file has stopped, since it failed before ({reason}): \
         save the project in another place"
    )]
    Stopped {
        /// What had failed.
        reason: String,
    },
    /// The tables are not those of a project.
    #[error("the project file's structure is damaged ({0}): open a copy of it")]
    Structure(String),
    /// No document of the file can be opened.
    #[error("nothing in this project can be opened: {}", listed(.0))]
    NothingWhole(Vec<Damage>),
    /// A tile of the document that was to be written can't be read.
    #[error(transparent)]
    Page(#[from] PageError),
    /// A value too large for the file.
    #[error("{what} of {bytes} bytes can't be kept: the most is {most}")]
    TooLarge {
        /// What it is.
        what: &'static str,
        /// How large it is.
        bytes: u64,
        /// How large it may be.
        most: u64,
    },
    /// It was stopped on purpose; nothing of it is left.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// The worker that writes ended before it was asked to.
    #[error("the worker that writes the project file has ended")]
    WorkerGone,
}

impl StoreError {
    pub(crate) fn io(path: &Path, problem: &'static str, source: io::Error) -> Self {
        Self::Io { path: path.to_owned(), problem, source }
    }

    pub(crate) fn reading(source: rusqlite::Error) -> Self {
        Self::Database { doing: "read", source }
    }

    /// True where the system lets the file be read but not written.
    pub fn is_write_refused(&self) -> bool {
        use rusqlite::ErrorCode::{PermissionDenied, ReadOnly};
        let Self::Database { source, .. } = self else { return false };
        matches!(source.sqlite_error_code(), Some(ReadOnly | PermissionDenied))
    }

    pub(crate) fn writing(source: rusqlite::Error) -> Self {
        Self::Database { doing: "written", source }
    }
}
