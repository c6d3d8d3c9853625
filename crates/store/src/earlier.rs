//! The entries before the one that is shown: many, and nobody needs them at once.

use std::sync::Arc;

use document::{Document, History};
use raster::Observer;

use crate::known::Known;
use crate::read::{self, Before, Listed, Tiles};
use crate::shelf::Shelf;
use crate::{Damage, StoreError, schema};

/// Entries of a history that were not read yet. They share all that they have in common with those that were.
#[derive(Debug)]
pub struct Earlier {
    shelf: Arc<Shelf>,
    pub(crate) before: Before,
    next: Listed,
}

/// What [`Earlier::read`] gives.
#[derive(Debug)]
pub struct EarlierEntries {
    /// The entries, and the one that comes after them: for [`History::put_before`]. None where none is left.
    pub history: Option<History>,
    /// What of them is lost, beyond what was named before.
    pub damage: Vec<Damage>,
}

impl Earlier {
    pub(crate) fn new(shelf: &Arc<Shelf>, before: Before, history: &History) -> Self {
        Self { shelf: Arc::clone(shelf), before, next: oldest(history) }
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
        let connection = schema::open_beside(&self.shelf.path())?;
        // What they share with the document on show is known to who writes; the rest it can do without.
        let mut known = Known::default();
        let tiles = Tiles { shelf: &self.shelf, checked: false };
        let (mut entries, damage) =
            read::entries_before(&connection, &mut known, self.before, tiles, observer)?;
        entries.push(self.next);
        Ok(EarlierEntries { history: History::restored(entries, 0), damage })
    }
}

/// The entries with the oldest of a history behind them.
pub(crate) fn joined(mut entries: Vec<Listed>, history: &History) -> Option<History> {
    entries.push(oldest(history));
    History::restored(entries, 0)
}

fn oldest(history: &History) -> (u64, Document, String) {
    let first = history.entries().0.next();
    // A history has an entry always.
    first.map_or_else(Default::default, |entry| {
        (entry.number, entry.document.clone(), entry.label.clone())
    })
}
