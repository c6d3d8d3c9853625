//! Files that appear whole or not at all. All are first written under temporary names in the same
//! folder; only when each is on disk are they renamed. Given up half-way, they are removed.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::error::ExchangeError;

/// Files on their way into one folder.
#[derive(Debug)]
pub(crate) struct Staging {
    folder: PathBuf,
    files: Vec<(NamedTempFile, PathBuf)>,
}

impl Staging {
    /// Into `folder`, which must be there.
    pub(crate) fn new(folder: &Path) -> Result<Self, ExchangeError> {
        let metadata = fs::metadata(folder).map_err(|error| {
            ExchangeError::io(folder, "the folder can't be opened; make it first", error)
        })?;
        if !metadata.is_dir() {
            let name = crate::text::shown_path(folder);
            return Err(ExchangeError::file(&name, "this is no folder; choose another"));
        }
        Ok(Self { folder: folder.to_owned(), files: Vec::new() })
    }

    /// Writes a file called `name`, which must be a safe one. It stays under a temporary name.
    pub(crate) fn write(
        &mut self,
        name: &str,
        write: impl FnOnce(&mut BufWriter<&File>) -> io::Result<()>,
    ) -> Result<(), ExchangeError> {
        let path = self.folder.join(name);
        if path.is_dir() {
            let shown = crate::text::shown_path(&path);
            let problem = "a folder has this name; move it or choose another folder";
            return Err(ExchangeError::file(&shown, problem));
        }
        let file = self.temporary().map_err(|error| {
            ExchangeError::io(&path, "the file can't be made; choose another folder", error)
        })?;
        let written = (|| {
            let mut writer = BufWriter::with_capacity(1 << 18, file.as_file());
            write(&mut writer)?;
            writer.flush()?;
            drop(writer);
            file.as_file().sync_all()
        })();
        written.map_err(|error| ExchangeError::io(&path, "writing failed", error))?;
        self.files.push((file, path));
        Ok(())
    }

    fn temporary(&self) -> io::Result<NamedTempFile> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".scumble-").suffix(".part");
        #[cfg(unix)]
        {
            // As any new file: the person's own mask takes off what it should. Temporary files are
            // otherwise for their owner alone.
            use std::os::unix::fs::PermissionsExt as _;
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        builder.tempfile_in(&self.folder)
    }

    /// Gives all files their names, in the order in which they were written. Where that fails half-way,
    /// those that are new are removed again.
    pub(crate) fn commit(self) -> Result<Vec<PathBuf>, ExchangeError> {
        let (mut named, mut new) = (Vec::new(), Vec::new());
        for (file, path) in self.files {
            let is_new = !path.exists();
            if let Err(error) = file.persist(&path) {
                for path in new {
                    // The error below is the one to tell.
                    _ = fs::remove_file(path);
                }
                return Err(ExchangeError::io(&path, "writing failed", error.error));
            }
            if is_new {
                new.push(path.clone());
            }
            named.push(path);
        }
        sync_folder(&self.folder)?;
        Ok(named)
    }
}

#[cfg(unix)]
fn sync_folder(folder: &Path) -> Result<(), ExchangeError> {
    let synced = File::open(folder).and_then(|folder| folder.sync_all());
    synced.map_err(|error| ExchangeError::io(folder, "writing failed", error))
}

/// Other systems order the names themselves.
#[cfg(not(unix))]
fn sync_folder(_folder: &Path) -> Result<(), ExchangeError> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let mut names: Vec<_> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn what_is_given_up_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut staging = Staging::new(folder.path()).unwrap();
        staging.write("a.png", |file| file.write_all(b"whole")).unwrap();
        let failed = staging.write("b.png", |file| {
            file.write_all(b"half")?;
            Err(io::Error::other("the disk is full"))
        });
        let message = failed.unwrap_err().to_string();
        assert!(message.ends_with("b.png: writing failed: the disk is full"), "{message}");
        drop(staging);
        assert!(names(folder.path()).is_empty());
    }

    #[test]
    fn a_folder_in_the_way_of_one_file_stops_all() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("b.png")).unwrap();
        let mut staging = Staging::new(folder.path()).unwrap();
        staging.write("a.png", |file| file.write_all(b"whole")).unwrap();
        assert!(staging.write("b.png", |file| file.write_all(b"whole")).is_err());
        drop(staging);
        assert_eq!(names(folder.path()), ["b.png"]);
    }

    #[test]
    fn files_that_fail_while_they_are_named_leave_no_new_one() {
        let folder = tempfile::tempdir().unwrap();
        let mut staging = Staging::new(folder.path()).unwrap();
        staging.write("a.png", |file| file.write_all(b"whole")).unwrap();
        staging.write("b.png", |file| file.write_all(b"whole")).unwrap();
        fs::create_dir(folder.path().join("b.png")).unwrap();
        assert!(staging.commit().is_err());
        assert_eq!(names(folder.path()), ["b.png"]);
    }

    #[test]
    fn old_files_are_replaced_whole() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.png"), b"old and longer").unwrap();
        let mut staging = Staging::new(folder.path()).unwrap();
        staging.write("a.png", |file| file.write_all(b"new")).unwrap();
        assert_eq!(fs::read(folder.path().join("a.png")).unwrap(), b"old and longer");
        assert_eq!(staging.commit().unwrap(), [folder.path().join("a.png")]);
        assert_eq!(fs::read(folder.path().join("a.png")).unwrap(), b"new");
        assert_eq!(names(folder.path()), ["a.png"]);
    }
}
