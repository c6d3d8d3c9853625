//! The entries before the one that is shown: many, and nobody needs them at once.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use document::Document;
use raster::Observer;

use crate::known::Known;
use crate::read::{self, Before, Tiles};
use crate::shelf::Shelf;
use crate::{Damage, StoreError, schema};

/// Entries of a history that were not read yet. They share all that they have in common with those that were.
#[derive(Debug)]
pub struct Earlier {
    path: PathBuf,
    shelf: Arc<Shelf>,
    pub(crate) before: Before,
}

/// What [`Earlier::read`] gives.
#[derive(Debug)]
pub struct EarlierEntries {
    /// Number, document and label, oldest first: for [`document::History::put_before`].
    pub entries: Vec<(u64, Document, String)>,
    /// What of them is lost, beyond what was named before.
    pub damage: Vec<Damage>,
}

impl Earlier {
    pub(crate) fn new(path: &Path, shelf: &Arc<Shelf>, before: Before) -> Self {
        Self { path: path.to_owned(), shelf: Arc::clone(shelf), before }
    }

    /// Numbers and labels, oldest first.
    pub fn list(&self) -> impl ExactSizeIterator<Item = (u64, &str)> {
        self.before.revisions.iter().map(|revision| (revision.number, revision.label.as_str()))
    }

    /// Reads them, beside whoever writes the project.
    ///
    /// # Errors
    /// [`StoreError::Database`], or [`StoreError::Cancelled`] when the observer stops it.
    pub fn read(self, observer: &dyn Observer) -> Result<EarlierEntries, StoreError> {
        let connection = schema::open_beside(&self.path)?;
        // What they share with the document on show is known to who writes; the rest it can do without.
        let mut known = Known::default();
        let tiles = Tiles { shelf: &self.shelf, checked: false };
        let (entries, damage) =
            read::entries_before(&connection, &mut known, self.before, tiles, observer)?;
        Ok(EarlierEntries { entries, damage })
    }
}
