//! From a database to a history.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use document::{Document, History};
use raster::{Observer, Unobserved};
use rusqlite::Connection;

use crate::StoreError;
use crate::damage::{Damage, Lost};
use crate::known::Known;
use crate::load::{Loader, Memo};
use crate::objects::{Objects, lost_is_none};
use crate::revisions::{Point, Present, Revision, State, get_state, points, revisions};
use crate::shelf::Shelf;
use crate::write::{Entries, THUMBNAIL, VIEW_STATE};

/// What a file holds.
#[derive(Debug)]
pub(crate) struct Contents {
    /// From the entry that is shown on.
    pub(crate) history: History,
    pub(crate) entries: Entries,
    pub(crate) edits: BTreeMap<u64, String>,
    pub(crate) damage: Vec<Damage>,
    pub(crate) before: Before,
}

/// The revisions before the one that is shown, and what was read up to there.
#[derive(Debug, Default)]
pub(crate) struct Before {
    pub(crate) revisions: Vec<Revision>,
    memo: Memo,
}

/// Where tiles are read from, and whether they are looked at right now.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tiles<'a> {
    pub(crate) shelf: &'a Arc<Shelf>,
    pub(crate) checked: bool,
}

impl Tiles<'_> {
    fn loader<'a>(self, objects: &'a Objects<'a>, known: &'a mut Known) -> Loader<'a> {
        let mut loader = Loader::new(objects, known, self.shelf);
        loader.checks = self.checked;
        loader
    }
}

/// Everything in a file, as it is at one moment; tiles only where they are to be looked at.
pub(crate) fn contents(
    connection: &Connection,
    known: &mut Known,
    tiles: Tiles<'_>,
) -> Result<Contents, StoreError> {
    let moment = connection.unchecked_transaction().map_err(StoreError::reading)?;
    let mut damage = Vec::new();
    let present = Present::get(&moment)?;
    if present.is_none() {
        damage.push(Damage::beside(Lost::State("history".to_owned())));
    }
    let revisions = revisions(&moment, present, &mut damage)?;
    let rows = revisions.iter().map(|revision| revision.number);
    let rows: BTreeSet<u64> = rows.chain(damage.iter().filter_map(|lost| lost.revision)).collect();
    let named = points(&moment, present.map(|present| present.points), &mut damage)?;
    for key in [VIEW_STATE, THUMBNAIL] {
        if get_state(&moment, key)? == State::Damaged {
            damage.push(Damage::beside(Lost::State(key.to_owned())));
        }
    }
    let objects = Objects::new(&moment);
    let mut loader = tiles.loader(&objects, known);
    let newest = revisions.last().map_or(0, |revision| revision.number);
    let wanted = present.map_or(newest, |present| present.shown);
    let Some(AtOnce { documents, shown, before }) = shown(&mut loader, &revisions, wanted)? else {
        damage.append(&mut loader.damage);
        return Err(StoreError::NothingWhole(damage));
    };
    damage.append(&mut loader.damage);
    let before = Before { revisions: revisions[..before].to_vec(), memo: loader.memo };
    let earlier = before.revisions.iter().map(|revision| revision.number);
    let numbers: BTreeSet<u64> = earlier.chain(documents.keys().copied()).collect();
    let entries = Entries {
        oldest: numbers.first().copied().unwrap_or(0),
        lost: rows.difference(&numbers).copied().collect(),
        numbers,
        present: shown,
        points: named.into_iter().map(|point| point.name).collect(),
    };
    let whole = revisions.into_iter().filter(|row| entries.numbers.contains(&row.number));
    let edits = whole.filter_map(|revision| Some((revision.number, revision.edit?))).collect();
    let place = documents.keys().position(|number| *number == shown).unwrap_or(0);
    let listed = documents.into_iter().map(|(number, (document, label))| (number, document, label));
    match History::restored(listed, place) {
        Some(history) => Ok(Contents { history, entries, edits, damage, before }),
        None => Err(StoreError::NothingWhole(damage)),
    }
}

type Documents = BTreeMap<u64, (Document, String)>;

/// Documents that were read at once.
struct AtOnce {
    documents: Documents,
    /// The number of the one to show: the present one, else the newest that is older, else the oldest that
    /// is newer.
    shown: u64,
    /// How many revisions stand before it.
    before: usize,
}

/// The document to show, and those after it: they are few, and an edit lets go of them.
fn shown(
    loader: &mut Loader<'_>,
    revisions: &[Revision],
    wanted: u64,
) -> Result<Option<AtOnce>, StoreError> {
    let ahead = revisions.partition_point(|revision| revision.number <= wanted);
    let mut documents = Documents::new();
    let mut found = None;
    // The one to show comes first, so that damage to it is named as such.
    for place in (0..ahead).rev().chain(ahead..revisions.len()) {
        if found.is_some() && place < ahead {
            continue;
        }
        let Revision { number, root, label, .. } = &revisions[place];
        if let Some(document) = loader.document(Some(*number), root)? {
            documents.insert(*number, (document, label.clone()));
            found = found.or(Some((*number, if place < ahead { place } else { 0 })));
        }
    }
    Ok(found.map(|(shown, before)| AtOnce { documents, shown, before }))
}

/// An entry of a history: its number, its document, its label.
pub(crate) type Listed = (u64, Document, String);

/// The entries before the one that is shown, oldest first, those left out that are lost.
pub(crate) fn entries_before(
    connection: &Connection,
    known: &mut Known,
    before: Before,
    tiles: Tiles<'_>,
    observer: &dyn Observer,
) -> Result<(Vec<Listed>, Vec<Damage>), StoreError> {
    let moment = connection.unchecked_transaction().map_err(StoreError::reading)?;
    let objects = Objects::new(&moment);
    let mut loader = tiles.loader(&objects, known);
    loader.memo = before.memo;
    let mut entries = Vec::with_capacity(before.revisions.len());
    let total = before.revisions.len() as u64;
    for (done, Revision { number, root, label, .. }) in (0..).zip(before.revisions) {
        observer.check()?;
        observer.progress(done, total);
        if let Some(document) = loader.document(Some(number), &root)? {
            entries.push((number, document, label));
        }
    }
    Ok((entries, loader.damage))
}

/// The document of a point.
pub(crate) fn document(
    connection: &Connection,
    known: &mut Known,
    point: &Point,
    tiles: Tiles<'_>,
) -> Result<(Option<Document>, Vec<Damage>), StoreError> {
    let moment = connection.unchecked_transaction().map_err(StoreError::reading)?;
    let objects = Objects::new(&moment);
    let mut loader = tiles.loader(&objects, known);
    let document = loader.document(None, &point.root)?;
    Ok((document, loader.damage))
}

/// What of a file is damaged.
pub(crate) fn verify(
    connection: &Connection,
    shelf: &Arc<Shelf>,
) -> Result<Vec<Damage>, StoreError> {
    let mut known = Known::default();
    let tiles = Tiles { shelf, checked: true };
    let mut damage = match contents(connection, &mut known, tiles) {
        Ok(Contents { mut damage, before, .. }) => {
            let (_, lost) = entries_before(connection, &mut known, before, tiles, &Unobserved)?;
            damage.extend(lost);
            damage
        }
        Err(StoreError::NothingWhole(damage)) => damage,
        Err(error) => return Err(error),
    };
    for point in points(connection, None, &mut Vec::new())? {
        let (_, lost) = document(connection, &mut known, &point, tiles)?;
        // Points share most with revisions: what was named there is not named again.
        let named = |lost: &Damage| {
            let same = |known: &Damage| {
                (&known.material, &known.layer, &known.lost)
                    == (&lost.material, &lost.layer, &lost.lost)
            };
            damage.iter().any(same)
        };
        let new: Vec<Damage> = lost.into_iter().filter(|lost| !named(lost)).collect();
        damage.extend(new);
    }
    damage.extend(integrity(connection)?);
    Ok(damage)
}

/// What the database says of itself.
fn integrity(connection: &Connection) -> Result<Vec<Damage>, StoreError> {
    let mut found = Vec::new();
    let mut read = || -> rusqlite::Result<()> {
        let mut statement = connection.prepare("PRAGMA integrity_check(20)")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let says: String = row.get(0)?;
            if says != "ok" {
                found.push(Damage::beside(Lost::Database(says)));
            }
        }
        Ok(())
    };
    if lost_is_none(read())?.is_none() {
        found.push(Damage::beside(Lost::Database("it can't be checked".to_owned())));
    }
    Ok(found)
}
