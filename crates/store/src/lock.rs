//! One process at a time writes a project. While it does, a file beside the project is locked; the system
//! lets go of the lock when the process ends, however it ends.

use std::fs::{self, File, TryLockError};
use std::path::{Path, PathBuf};

use crate::StoreError;

/// The lock of a project; let go of when dropped.
#[derive(Debug)]
pub(crate) struct Lock {
    path: PathBuf,
    _file: File,
}

impl Lock {
    /// # Errors
    /// [`StoreError::InUse`] where another has it.
    pub(crate) fn take(project: &Path) -> Result<Self, StoreError> {
        let mut name = project.as_os_str().to_owned();
        name.push(".lock");
        let path = PathBuf::from(name);
        let io = |error| StoreError::io(project, "can't be opened for writing", error);
        loop {
            let open = File::options().create(true).truncate(false).write(true).open(&path);
            let file = open.map_err(io)?;
            match file.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => {
                    return Err(StoreError::InUse(project.to_owned()));
                }
                Err(TryLockError::Error(error)) => return Err(io(error)),
            }
            if is_still(&path, &file) {
                return Ok(Self { path, _file: file });
            }
        }
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // A file that stays is no harm: it is the lock that counts.
        _ = fs::remove_file(&self.path);
    }
}

/// False where who had the lock before has taken the file away since it was opened.
#[cfg(unix)]
fn is_still(path: &Path, file: &File) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    let id = |metadata: fs::Metadata| (metadata.dev(), metadata.ino());
    match (fs::metadata(path), file.metadata()) {
        (Ok(there), Ok(here)) => id(there) == id(here),
        _ => false,
    }
}

/// A file that somebody has open keeps its name here until it is closed.
#[cfg(not(unix))]
fn is_still(_path: &Path, _file: &File) -> bool {
    true
}
