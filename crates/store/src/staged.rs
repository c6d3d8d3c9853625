//! A new file that appears whole or not at all: written under a temporary name in the same folder, synced,
//! renamed, and the folder synced.

use std::fs::File;
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::{StoreError, schema};

const PROBLEM: &str = "can't be written";

/// A file on its way.
#[derive(Debug)]
pub(crate) struct Staged {
    file: NamedTempFile,
    path: PathBuf,
}

impl Staged {
    pub(crate) fn new(path: &Path) -> Result<Self, StoreError> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".scumble-").suffix(".part");
        #[cfg(unix)]
        {
            // As any new file, not for its owner alone: the person's own mask takes off what it should.
            use std::os::unix::fs::PermissionsExt as _;
            builder.permissions(std::fs::Permissions::from_mode(0o666));
        }
        let file = builder.tempfile_in(folder(path));
        let file = file.map_err(|error| StoreError::io(path, PROBLEM, error))?;
        Ok(Self { file, path: path.to_owned() })
    }

    /// Where it is until then.
    pub(crate) fn path(&self) -> &Path {
        self.file.path()
    }

    /// Gives it its name. A file that has it already is replaced, or with `fresh` an error.
    pub(crate) fn finish(self, fresh: bool) -> Result<(), StoreError> {
        let Self { file, path } = self;
        let io = |error| StoreError::io(&path, PROBLEM, error);
        // The file was written through another handle: what is synced is the file.
        file.as_file().sync_all().map_err(io)?;
        if schema::forget_what_is_beside(&path).map_err(io)? {
            sync_folder(folder(&path)).map_err(io)?;
        }
        let kept = if fresh { file.persist_noclobber(&path) } else { file.persist(&path) };
        kept.map_err(|error| match error.error.kind() {
            std::io::ErrorKind::AlreadyExists => StoreError::Exists(path.clone()),
            _ => io(error.error),
        })?;
        sync_folder(folder(&path)).map_err(io)
    }
}

fn folder(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

#[cfg(unix)]
fn sync_folder(folder: &Path) -> std::io::Result<()> {
    File::open(folder)?.sync_all()
}

/// Other systems order the names themselves.
#[cfg(not(unix))]
fn sync_folder(_folder: &Path) -> std::io::Result<()> {
    Ok(())
}
