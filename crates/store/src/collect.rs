//! Letting go of the oldest revisions, and of objects that nothing names any more.

use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;

use rusqlite::Connection;

use crate::hash::{Hash, Kind};
use crate::node::references;
use crate::objects::{Loss, Objects};
use crate::revisions::{Revision, points};
use crate::write::Entries;
use crate::{Project, StoreError};

/// What was let go of.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Collected {
    /// Revisions, the oldest ones.
    pub revisions: u64,
    /// Objects.
    pub objects: u64,
}

/// Objects, and their bytes in the file.
#[derive(Debug, Default)]
pub(crate) struct Reached {
    pub(crate) kinds: BTreeMap<Hash, Kind>,
    bytes: u64,
}

impl Project {
    /// Lets go of the oldest revisions while what is reached from the newer ones, the present one and named
    /// points takes more than a budget of bytes; then of all that nothing names any more. The present
    /// revision, what was undone, named points, and tiles of documents that are in memory stay whatever
    /// they take.
    ///
    /// # Errors
    /// As [`Project::commit`].
    pub fn collect_garbage(&mut self, budget_bytes: u64) -> Result<Collected, StoreError> {
        let shelf = Arc::clone(&self.shelf);
        let (collected, in_file) = self.transact(|connection, _, entries| {
            let mut entries = entries.clone();
            let wanted = shelf.wanted();
            let (collected, in_file) = collect(connection, &mut entries, budget_bytes, wanted)?;
            Ok((entries, (collected, in_file)))
        })?;
        self.known.retain(&in_file);
        if collected.objects > 0 {
            self.give_back_room()?;
        }
        Ok(collected)
    }
}

fn collect(
    connection: &Connection,
    entries: &mut Entries,
    budget_bytes: u64,
    wanted: Vec<Hash>,
) -> Result<(Collected, HashSet<Hash>), StoreError> {
    let objects = Objects::new(connection);
    let mut reached = Reached::default();
    for point in points(connection, None, &mut Vec::new())? {
        reached.add(&objects, point.root)?;
    }
    let (back, ahead): (Vec<u64>, Vec<u64>) =
        entries.numbers.iter().partition(|number| **number < entries.present);
    let mut oldest = entries.present;
    for number in ahead.into_iter().chain(back.into_iter().rev()) {
        if number < entries.present && reached.bytes > budget_bytes {
            break;
        }
        if let Some(Some(revision)) = Revision::get(connection, number)? {
            reached.add(&objects, revision.root)?;
        }
        oldest = oldest.min(number);
    }
    let mut collected = Collected::default();
    while let Some(number) = entries.numbers.first().copied().filter(|number| *number < oldest) {
        entries.numbers.remove(&number);
        collected.revisions += 1;
    }
    entries.oldest = oldest;
    entries.lost.retain(|number| *number >= oldest);
    Revision::remove_before(connection, oldest)?;
    let in_file: HashSet<Hash> = reached.kinds.into_keys().chain(wanted).collect();
    collected.objects = objects.keep_only(&in_file)?;
    entries.put(connection)?;
    Ok((collected, in_file))
}

/// All objects that are reached from these documents. What is damaged is among them, but leads no further.
pub(crate) fn reachable(
    objects: &Objects<'_>,
    roots: impl IntoIterator<Item = Hash>,
) -> Result<Reached, StoreError> {
    let mut reached = Reached::default();
    for root in roots {
        reached.add(objects, root)?;
    }
    Ok(reached)
}

impl Reached {
    fn add(&mut self, objects: &Objects<'_>, root: Hash) -> Result<(), StoreError> {
        let mut waiting = vec![(Kind::Document, root)];
        while let Some((kind, hash)) = waiting.pop() {
            if self.kinds.insert(hash, kind).is_some() {
                continue;
            }
            self.bytes += objects.stored_bytes(&hash)?;
            if matches!(kind, Kind::Tile | Kind::Piece) {
                continue;
            }
            match objects.get(kind, &hash) {
                Ok(content) => {
                    // One that can't be read names nothing that anybody could use.
                    _ = references(kind, &content, &mut |kind, hash| waiting.push((kind, hash)));
                }
                Err(Loss::Damaged) => {}
                Err(Loss::Fault(error)) => return Err(error),
            }
        }
        Ok(())
    }
}
