//! The tables beside that of objects: revisions, named points, and what is kept of the window's state.

use std::time::SystemTime;

use rusqlite::{Connection, OptionalExtension, params};

use crate::StoreError;
use crate::damage::{Damage, Lost};
use crate::hash::{Hash, checksum};
use crate::objects::lost_is_none;

/// One revision: one entry of the history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Revision {
    pub(crate) number: u64,
    pub(crate) root: Hash,
    pub(crate) label: String,
    pub(crate) edit: Option<String>,
    /// Milliseconds since 1970.
    pub(crate) made_at: i64,
}

/// A revision that was given a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// Its name.
    pub name: String,
    /// The number of the revision that was named. It may have been undone and dropped since; the point
    /// keeps its document.
    pub revision: u64,
    /// When, in milliseconds since 1970.
    pub made_at: i64,
    pub(crate) root: Hash,
}

/// What the file says of the history as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Present {
    /// The number of the entry that is shown.
    pub(crate) shown: u64,
    /// The newest number.
    pub(crate) newest: u64,
    /// How many rows there are, those of revisions that are lost too.
    pub(crate) entries: u64,
    /// How many named points there are.
    pub(crate) points: u64,
}

const PRESENT: &str = "history";

/// Now, in milliseconds since 1970.
pub(crate) fn now() -> i64 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
    i64::try_from(since.as_millis()).unwrap_or(i64::MAX)
}

impl Revision {
    fn checksum(&self) -> Hash {
        let edit = self.edit.as_ref().map_or(&[][..], |edit| edit.as_bytes());
        checksum(&[
            &self.number.to_le_bytes(),
            &self.root.0,
            self.label.as_bytes(),
            &[u8::from(self.edit.is_some())],
            edit,
            &self.made_at.to_le_bytes(),
        ])
    }

    pub(crate) fn put(&self, connection: &Connection) -> Result<(), StoreError> {
        let sql = "INSERT OR REPLACE INTO revision(number, root, label, edit, made_at, checksum) \
                   VALUES(?, ?, ?, ?, ?, ?)";
        let values = params![
            self.number as i64,
            &self.root.0[..],
            self.label,
            self.edit,
            self.made_at,
            &self.checksum().0[..]
        ];
        let put = connection.prepare_cached(sql).and_then(|mut sql| sql.execute(values));
        put.map(|_| ()).map_err(StoreError::writing)
    }

    /// The revision with this number. `Some(None)` where its row is damaged.
    #[expect(clippy::option_option, reason = "there, damaged, or not there")]
    pub(crate) fn get(
        connection: &Connection,
        number: u64,
    ) -> Result<Option<Option<Self>>, StoreError> {
        let sql = "SELECT root, label, edit, made_at, checksum FROM revision WHERE number = ?";
        let read = || {
            let mut statement = connection.prepare_cached(sql)?;
            let row = statement.query_row([number as i64], |row| {
                let (root, label) = (Hash(row.get(0)?), row.get(1)?);
                let (edit, made_at) = (row.get(2)?, row.get(3)?);
                let revision = Self { number, root, label, edit, made_at };
                Ok((revision, row.get::<_, [u8; 32]>(4)?))
            });
            row.optional()
        };
        let Some(row) = lost_is_none(read())? else { return Ok(Some(None)) };
        let whole =
            |(revision, sum): (Self, [u8; 32])| (revision.checksum().0 == sum).then_some(revision);
        Ok(row.map(whole))
    }

    /// Takes a revision out; its objects stay.
    pub(crate) fn remove(connection: &Connection, number: u64) -> Result<(), StoreError> {
        let sql = "DELETE FROM revision WHERE number = ?";
        let remove =
            connection.prepare_cached(sql).and_then(|mut sql| sql.execute([number as i64]));
        remove.map(|_| ()).map_err(StoreError::writing)
    }

    /// Takes out all that are older than one.
    pub(crate) fn remove_before(connection: &Connection, oldest: u64) -> Result<(), StoreError> {
        let sql = "DELETE FROM revision WHERE number < ?";
        connection.execute(sql, [oldest as i64]).map(|_| ()).map_err(StoreError::writing)
    }
}

/// All revisions that are whole, oldest first; the others are named.
pub(crate) fn revisions(
    connection: &Connection,
    present: Option<Present>,
    damage: &mut Vec<Damage>,
) -> Result<Vec<Revision>, StoreError> {
    let newest = if let Some(present) = present {
        present.newest
    } else {
        let sql = "SELECT max(number) FROM revision";
        let newest = connection.query_row(sql, [], |row| row.get::<_, Option<i64>>(0));
        u64::try_from(lost_is_none(newest)?.flatten().unwrap_or(0)).unwrap_or(0)
    };
    let expected = present.map_or(u64::MAX, |present| present.entries);
    let (mut found, mut damaged) = (Vec::new(), 0);
    // One by one, since what lies behind a damaged page of the table would else be lost with it.
    let lowest = newest.saturating_sub(MOST_NUMBERS).max(1);
    for number in (lowest..=newest).rev() {
        if found.len() as u64 + damaged >= expected {
            break;
        }
        match Revision::get(connection, number)? {
            Some(Some(revision)) => found.push(revision),
            Some(None) => {
                let lost = Lost::Revision;
                damage.push(Damage { revision: Some(number), ..Damage::beside(lost) });
                damaged += 1;
            }
            None => {}
        }
    }
    if present.is_some() && (found.len() as u64) + damaged < expected {
        damage.push(Damage::beside(Lost::Revision));
    }
    found.reverse();
    Ok(found)
}

/// More numbers than anybody's history has.
const MOST_NUMBERS: u64 = 10_000_000;

impl Present {
    pub(crate) fn put(&self, connection: &Connection) -> Result<(), StoreError> {
        let numbers = [self.shown, self.newest, self.entries, self.points];
        put_state(connection, PRESENT, numbers.map(u64::to_le_bytes).as_flattened())
    }

    /// `None` where it is lost.
    pub(crate) fn get(connection: &Connection) -> Result<Option<Self>, StoreError> {
        let State::Whole(value) = get_state(connection, PRESENT)? else { return Ok(None) };
        let number = |bytes: &[u8; 8]| u64::from_le_bytes(*bytes);
        let numbers: Vec<u64> = value.as_chunks().0.iter().map(number).collect();
        let [shown, newest, entries, points] = numbers[..] else { return Ok(None) };
        Ok(Some(Self { shown, newest, entries, points }))
    }
}

/// What is kept under a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum State {
    /// Nothing.
    None,
    /// Something, as it was written.
    Whole(Vec<u8>),
    /// Something that is damaged.
    Damaged,
}

pub(crate) fn put_state(
    connection: &Connection,
    key: &str,
    value: &[u8],
) -> Result<(), StoreError> {
    let sql = "INSERT OR REPLACE INTO state(key, value, checksum) VALUES(?, ?, ?)";
    let sum = checksum(&[key.as_bytes(), value]);
    let put = connection
        .prepare_cached(sql)
        .and_then(|mut sql| sql.execute(params![key, value, &sum.0[..]]));
    put.map(|_| ()).map_err(StoreError::writing)
}

pub(crate) fn get_state(connection: &Connection, key: &str) -> Result<State, StoreError> {
    let sql = "SELECT value, checksum FROM state WHERE key = ?";
    let read = connection
        .query_row(sql, [key], |row| Ok((row.get::<_, Vec<u8>>(0)?, row.get::<_, [u8; 32]>(1)?)))
        .optional();
    Ok(match lost_is_none(read)? {
        Some(None) => State::None,
        Some(Some((value, sum))) if checksum(&[key.as_bytes(), &value]).0 == sum => {
            State::Whole(value)
        }
        _ => State::Damaged,
    })
}

impl Point {
    fn checksum(&self) -> Hash {
        let (revision, made_at) = (self.revision.to_le_bytes(), self.made_at.to_le_bytes());
        checksum(&[self.name.as_bytes(), &revision, &self.root.0, &made_at])
    }

    pub(crate) fn put(&self, connection: &Connection) -> Result<(), StoreError> {
        let sql = "INSERT OR REPLACE INTO point(name, revision, root, made_at, checksum) \
                   VALUES(?, ?, ?, ?, ?)";
        let values = params![
            self.name,
            self.revision as i64,
            &self.root.0[..],
            self.made_at,
            &self.checksum().0[..]
        ];
        let put = connection.prepare_cached(sql).and_then(|mut sql| sql.execute(values));
        put.map(|_| ()).map_err(StoreError::writing)
    }
}

impl Point {
    /// Takes the row away; false where there is none. What it kept stays until it is collected.
    pub(crate) fn remove(connection: &Connection, name: &str) -> Result<bool, StoreError> {
        let gone = connection.execute("DELETE FROM point WHERE name = ?", [name]);
        gone.map(|rows| rows > 0).map_err(StoreError::writing)
    }
}

/// All named points that are whole, by name; the others are named in `damage`.
pub(crate) fn points(
    connection: &Connection,
    expected: Option<u64>,
    damage: &mut Vec<Damage>,
) -> Result<Vec<Point>, StoreError> {
    let sql = "SELECT name, revision, root, made_at, checksum FROM point ORDER BY name";
    let mut found = Vec::new();
    let mut rows_lost = 0_u64;
    let mut read = || -> rusqlite::Result<()> {
        let mut statement = connection.prepare_cached(sql)?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let point = || {
                let (name, revision) = (row.get(0)?, row.get::<_, i64>(1)? as u64);
                let (root, made_at) = (Hash(row.get(2)?), row.get(3)?);
                let point = Point { name, revision, made_at, root };
                Ok::<_, rusqlite::Error>((point, row.get::<_, [u8; 32]>(4)?))
            };
            match point() {
                Ok((point, sum)) if point.checksum().0 == sum => found.push(point),
                Ok((point, _)) => {
                    rows_lost += 1;
                    damage.push(Damage::beside(Lost::Point(point.name)));
                }
                Err(_) => {
                    rows_lost += 1;
                    damage.push(Damage::beside(Lost::Point("?".to_owned())));
                }
            }
        }
        Ok(())
    };
    lost_is_none(read())?;
    if expected.is_some_and(|expected| (found.len() as u64 + rows_lost) < expected) {
        damage.push(Damage::beside(Lost::Point("?".to_owned())));
    }
    Ok(found)
}
