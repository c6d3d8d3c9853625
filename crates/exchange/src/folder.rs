//! What lies beside a model: material libraries, buffers, textures. A model may name only files in its
//! own folder or below it, whatever its text says and wherever links lead.

use std::fs;
use std::path::{Component, Path, PathBuf};

use thiserror::Error;

use crate::error::ExchangeError;
use crate::text::shown;

/// Fetches files that a model names, by their name relative to the model.
pub trait Beside {
    /// The bytes of the file called `name`; `/` or `\` part folders.
    ///
    /// # Errors
    /// [`FetchError`]: not there, not allowed, or not readable.
    fn fetch(&self, name: &str) -> Result<Vec<u8>, FetchError>;
}

/// Why a file beside the model could not be had.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum FetchError {
    /// The name leads out of the model's folder.
    #[error(
        "leads out of the model's folder; copy that file beside the model and name it by its bare name"
    )]
    Outside,
    /// There is no such file.
    #[error("is not there; put it beside the model")]
    Missing,
    /// The system refused.
    #[error("can't be read: {0}")]
    Unreadable(String),
}

impl FetchError {
    /// The error of `file` at `line`, which names `name`.
    pub(crate) fn at_line(&self, file: &str, line: u64, name: &str) -> ExchangeError {
        ExchangeError::line(file, line, format!("{} {self}", shown(name)))
    }

    /// The error of `file` at `place`, which names `name`.
    pub(crate) fn at_place(&self, file: &str, place: String, name: &str) -> ExchangeError {
        ExchangeError::place(file, place, format!("{} {self}", shown(name)))
    }
}

/// Files in a folder and below it.
#[derive(Debug, Clone)]
pub struct Folder(PathBuf);

impl Folder {
    /// The folder that `model` lies in.
    pub fn of(model: &Path) -> Self {
        match model.parent() {
            Some(folder) if folder != Path::new("") => Self(folder.to_owned()),
            _ => Self(PathBuf::from(".")),
        }
    }
}

impl Beside for Folder {
    fn fetch(&self, name: &str) -> Result<Vec<u8>, FetchError> {
        let path = self.0.join(inside(name)?);
        let unreadable = |error: std::io::Error| match error.kind() {
            std::io::ErrorKind::NotFound | std::io::ErrorKind::NotADirectory => FetchError::Missing,
            _ => FetchError::Unreadable(error.to_string()),
        };
        // Links are followed first: what counts is where they lead.
        let real = path.canonicalize().map_err(unreadable)?;
        let root = self.0.canonicalize().map_err(unreadable)?;
        if !real.starts_with(root) {
            return Err(FetchError::Outside);
        }
        if !fs::metadata(&real).map_err(unreadable)?.is_file() {
            return Err(FetchError::Unreadable("it is no file".to_owned()));
        }
        fs::read(real).map_err(unreadable)
    }
}

/// Files in memory, by name: for a model that is a part of the program.
#[derive(Debug, Clone, Copy, Default)]
pub struct Embedded<'a>(pub &'a [(&'a str, &'a [u8])]);

impl Beside for Embedded<'_> {
    fn fetch(&self, name: &str) -> Result<Vec<u8>, FetchError> {
        inside(name)?;
        let found = self.0.iter().find(|(known, _)| *known == name);
        found.map(|(_, bytes)| bytes.to_vec()).ok_or(FetchError::Missing)
    }
}

/// The name as a path that stays inside the folder. Backslashes part folders too, as many model files
/// were written on systems where they do; colons would name a drive or a stream.
fn inside(name: &str) -> Result<PathBuf, FetchError> {
    let name = name.replace('\\', "/");
    if name.is_empty()
        || name.starts_with('/')
        || name.contains(|c: char| c == ':' || c.is_control())
    {
        return Err(FetchError::Outside);
    }
    let path = PathBuf::from(name);
    let stays = path.components().all(|c| matches!(c, Component::Normal(_) | Component::CurDir));
    if stays { Ok(path) } else { Err(FetchError::Outside) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_climb_out_are_refused_before_anything_is_opened() {
        for name in [
            "",
            "/etc/hostname",
            "../secret.png",
            "maps/../../secret.png",
            "..\\secret.png",
            "C:\\secret.png",
            "c:secret.png",
            "\\\\server\\share\\x.png",
            "//server/share/x.png",
            "file:///etc/hostname",
            "bell.png:stream",
            "a\0b",
        ] {
            assert_eq!(Folder(".".into()).fetch(name), Err(FetchError::Outside), "{name:?}");
            assert_eq!(Embedded(&[]).fetch(name), Err(FetchError::Outside), "{name:?}");
        }
    }

    #[test]
    fn files_below_the_folder_are_found_with_either_slash() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("maps")).unwrap();
        fs::write(folder.path().join("maps/oak board.png"), b"oak").unwrap();
        let beside = Folder::of(&folder.path().join("bell.obj"));
        for name in ["maps/oak board.png", "maps\\oak board.png", "./maps/oak board.png"] {
            assert_eq!(beside.fetch(name).unwrap(), b"oak");
        }
        assert_eq!(beside.fetch("maps/rope.png"), Err(FetchError::Missing));
        assert!(matches!(beside.fetch("maps"), Err(FetchError::Unreadable(_))));
    }

    #[cfg(unix)]
    #[test]
    fn a_link_that_leaves_the_folder_is_refused() {
        let outside = tempfile::NamedTempFile::new().unwrap();
        let folder = tempfile::tempdir().unwrap();
        std::os::unix::fs::symlink(outside.path(), folder.path().join("bell.mtl")).unwrap();
        let beside = Folder::of(&folder.path().join("bell.obj"));
        assert_eq!(beside.fetch("bell.mtl"), Err(FetchError::Outside));
    }
}
