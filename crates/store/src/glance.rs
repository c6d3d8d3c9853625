//! A look at a project that reads little of it: for lists of files.

use std::path::Path;

use crate::lock::Lock;
use crate::revisions::{Present, State, get_state};
use crate::write::{THUMBNAIL, VIEW_STATE};
use crate::{StoreError, schema};

/// What a project is, as far as it is seen at once. What of it is lost is left out.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Glance {
    /// What [`crate::Project::set_view_state`] kept.
    pub view_state: Option<String>,
    /// What [`crate::Project::set_thumbnail`] kept.
    pub thumbnail: Option<Vec<u8>>,
    /// Edits in its history.
    pub edits: u64,
}

impl Glance {
    /// Looks at a project without opening it; another process may have it open.
    ///
    /// # Errors
    /// As [`crate::Project::open`].
    pub fn at(path: &Path) -> Result<Self, StoreError> {
        let found = std::fs::metadata(path)
            .map_err(|error| StoreError::io(path, "can't be opened", error))?;
        if !found.is_file() || found.len() == 0 {
            return Err(StoreError::NotAProject(path.to_owned()));
        }
        let connection = schema::open(path, None)?;
        let state = |key| match get_state(&connection, key) {
            Ok(State::Whole(value)) => Some(value),
            _ => None,
        };
        let view_state = state(VIEW_STATE).and_then(|text| String::from_utf8(text).ok());
        let entries = Present::get(&connection)?.map_or(0, |present| present.entries);
        Ok(Self { view_state, thumbnail: state(THUMBNAIL), edits: entries.saturating_sub(1) })
    }
}

/// True while a process has the project open to write it.
///
/// # Errors
/// [`StoreError::Io`] where that can't be told.
pub fn is_in_use(path: &Path) -> Result<bool, StoreError> {
    match Lock::take(path) {
        Ok(_lock) => Ok(false),
        Err(StoreError::InUse(_)) => Ok(true),
        Err(error) => Err(error),
    }
}
