//! One transaction: changes to the history and what is kept beside it.

use std::collections::BTreeSet;
use std::sync::Arc;

use document::History;
use rusqlite::Connection;

use crate::StoreError;
use crate::changes::Changes;
use crate::known::Known;
use crate::objects::{Objects, Written};
use crate::revisions::{Point, Present, Revision, now, put_state};
use crate::save::{NewTiles, Saver};
use crate::shelf::Shelf;

pub(crate) const VIEW_STATE: &str = "view";
pub(crate) const THUMBNAIL: &str = "thumbnail";

/// What the file has of the history.
#[derive(Debug, Clone, Default)]
pub(crate) struct Entries {
    pub(crate) numbers: BTreeSet<u64>,
    /// Older ones were let go of: memory may still have them, and the file need not.
    pub(crate) oldest: u64,
    /// Rows of revisions that are lost. They stay, to be named again.
    pub(crate) lost: BTreeSet<u64>,
    pub(crate) present: u64,
    pub(crate) points: BTreeSet<String>,
}

impl Entries {
    /// Says so in the file.
    pub(crate) fn put(&self, connection: &Connection) -> Result<(), StoreError> {
        let newest = self.numbers.last().max(self.lost.last());
        let present = Present {
            shown: self.present,
            newest: newest.copied().unwrap_or(0),
            entries: (self.numbers.len() + self.lost.len()) as u64,
            points: self.points.len() as u64,
        };
        present.put(connection)
    }
}

/// What a commit wrote.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Committed {
    /// Revisions that are new in the file.
    pub revisions: u64,
    /// Objects that are new in the file.
    pub objects: u64,
    /// Bytes of these objects.
    pub bytes: u64,
}

/// What a transaction did.
#[derive(Debug)]
pub(crate) struct Done {
    pub(crate) committed: Committed,
    /// Tiles that are in the file once it is through.
    pub(crate) tiles: NewTiles,
}

/// Writes changes, within a transaction of the caller's. Gives what the file has then.
pub(crate) fn changes(
    connection: &Connection,
    known: &mut Known,
    shelf: &Arc<Shelf>,
    entries: &Entries,
    changes: &Changes,
) -> Result<(Entries, Done), StoreError> {
    let objects = Objects::new(connection);
    let mut entries = entries.clone();
    let mut saver = Saver::new(&objects, known, shelf);
    let mut revisions = 0;
    if let Some(history) = &changes.history {
        drop_undone(connection, history, &mut entries)?;
        revisions = append(connection, &mut saver, history, changes, &mut entries)?;
    }
    for point in &changes.points {
        let root = saver.document(&point.document)?;
        let (name, revision) = (point.name.clone(), point.revision);
        Point { name, revision, made_at: now(), root }.put(connection)?;
        entries.points.insert(point.name.clone());
    }
    if let Some(text) = &changes.view_state {
        put_state(connection, VIEW_STATE, text.as_bytes())?;
    }
    if let Some(picture) = &changes.thumbnail {
        put_state(connection, THUMBNAIL, picture)?;
    }
    entries.put(connection)?;
    let tiles = saver.tiles;
    let Written { objects, bytes } = objects.written();
    Ok((entries, Done { committed: Committed { revisions, objects, bytes }, tiles }))
}

/// Takes out the entries that an edit replaced after they were undone. Those older than the oldest in memory
/// stay: memory's budget is not the file's.
fn drop_undone(
    connection: &Connection,
    history: &History,
    entries: &mut Entries,
) -> Result<(), StoreError> {
    let there: BTreeSet<u64> = history.entries().0.map(|entry| entry.number).collect();
    let Some(oldest) = there.first() else { return Ok(()) };
    let gone: Vec<u64> =
        entries.numbers.range(oldest..).filter(|number| !there.contains(number)).copied().collect();
    for number in gone {
        Revision::remove(connection, number)?;
        entries.numbers.remove(&number);
    }
    Ok(())
}

fn append(
    connection: &Connection,
    saver: &mut Saver<'_>,
    history: &History,
    changes: &Changes,
    entries: &mut Entries,
) -> Result<u64, StoreError> {
    let (all, present) = history.entries();
    let mut added = 0;
    for (place, entry) in all.enumerate() {
        if place == present {
            entries.present = entry.number;
            entries.oldest = entries.oldest.min(entry.number);
        }
        if entry.number >= entries.oldest && entries.numbers.insert(entry.number) {
            let revision = Revision {
                number: entry.number,
                root: saver.document(&entry.document)?,
                label: entry.label.clone(),
                edit: changes.edits.get(&entry.number).cloned(),
                made_at: now(),
            };
            revision.put(connection)?;
            entries.lost.remove(&entry.number);
            added += 1;
        }
    }
    Ok(added)
}
