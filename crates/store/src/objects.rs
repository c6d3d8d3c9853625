//! The table of objects: contents by their hash.

use std::cell::Cell;
use std::collections::{HashMap, HashSet};
use std::sync::{Arc, OnceLock};

use rusqlite::{Connection, ErrorCode, OptionalExtension, Row, params};

use crate::StoreError;
use crate::hash::{Hash, Kind};
use crate::squeezed::{Encoding, MOST_BYTES, restored, squeezed};

/// Why a content can't be had.
#[derive(Debug)]
pub(crate) enum Loss {
    /// It is not there, or not what its hash says.
    Damaged,
    /// Something that is no matter of this object.
    Fault(StoreError),
}

impl From<StoreError> for Loss {
    fn from(error: StoreError) -> Self {
        Self::Fault(error)
    }
}

/// The objects of a database.
#[derive(Debug)]
pub(crate) struct Objects<'c> {
    connection: &'c Connection,
    places: Arc<Places>,
    written: Cell<Written>,
}

/// Where each object lies, read from the table itself: for when its index is damaged.
pub(crate) type Places = OnceLock<HashMap<Hash, i64>>;

/// What was written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Written {
    /// Objects that were not there.
    pub(crate) objects: u64,
    /// Their bytes in the file.
    pub(crate) bytes: u64,
}

/// A row of the table.
#[derive(Debug)]
pub(crate) struct StoredObject {
    kind: i64,
    encoding: i64,
    length: i64,
    pub(crate) bytes: Vec<u8>,
}

const COLUMNS: &str = "kind, encoding, length, bytes";

impl StoredObject {
    fn of_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        let (kind, encoding) = (row.get(0)?, row.get(1)?);
        Ok(Self { kind, encoding, length: row.get(2)?, bytes: row.get(3)? })
    }

    /// The content, if it is of this kind and has this hash.
    pub(crate) fn content(&self, kind: Kind, hash: &Hash) -> Option<Vec<u8>> {
        let length = usize::try_from(self.length).ok()?;
        let encoding = Encoding::of_code(self.encoding)?;
        if self.kind != i64::from(kind.code()) {
            return None;
        }
        let content = restored(encoding, &self.bytes, length)?;
        (kind.hash(&content) == *hash).then_some(content)
    }
}

impl<'c> Objects<'c> {
    pub(crate) fn new(connection: &'c Connection) -> Self {
        Self::knowing(connection, Arc::default())
    }

    /// The objects of a database whose table others may have read.
    pub(crate) fn knowing(connection: &'c Connection, places: Arc<Places>) -> Self {
        Self { connection, places, written: Cell::default() }
    }

    /// What was written through this value.
    pub(crate) fn written(&self) -> Written {
        self.written.get()
    }

    /// Writes a content, unless it is there.
    pub(crate) fn put(
        &self,
        kind: Kind,
        hash: &Hash,
        content: &[u8],
        encoding: Encoding,
    ) -> Result<(), StoreError> {
        if content.len() > MOST_BYTES {
            let (bytes, most) = (content.len() as u64, MOST_BYTES as u64);
            return Err(StoreError::TooLarge { what: kind.name(), bytes, most });
        }
        let (encoding, bytes) = squeezed(content, encoding);
        let stored = StoredObject {
            kind: i64::from(kind.code()),
            encoding: encoding as i64,
            length: content.len() as i64,
            bytes,
        };
        self.put_stored(kind, hash, &stored)
    }

    /// Takes an object out.
    fn remove(&self, hash: &Hash) -> Result<(), StoreError> {
        let sql = "DELETE FROM object WHERE hash = ?";
        let delete = || self.connection.prepare_cached(sql)?.execute([&hash.0[..]]);
        delete().map(|_| ()).map_err(StoreError::writing)
    }

    /// Writes an object as it lies in another file, unless it is there. One that is there and damaged is
    /// replaced.
    pub(crate) fn put_stored(
        &self,
        kind: Kind,
        hash: &Hash,
        stored: &StoredObject,
    ) -> Result<(), StoreError> {
        if self.insert(hash, stored)? {
            return Ok(());
        }
        let there = self.fetch(hash)?;
        if there.is_none_or(|there| there.content(kind, hash).is_none()) {
            self.remove(hash)?;
            self.insert(hash, stored)?;
        }
        Ok(())
    }

    /// True where it was not there.
    fn insert(&self, hash: &Hash, stored: &StoredObject) -> Result<bool, StoreError> {
        let sql = "INSERT OR IGNORE INTO object(hash, kind, encoding, length, bytes) \
                   VALUES(?, ?, ?, ?, ?)";
        let values =
            params![&hash.0[..], stored.kind, stored.encoding, stored.length, &stored.bytes];
        let insert = || self.connection.prepare_cached(sql)?.execute(values);
        let is_new = insert().map_err(StoreError::writing)? > 0;
        if is_new {
            let mut written = self.written.get();
            written.objects += 1;
            written.bytes += stored.bytes.len() as u64;
            self.written.set(written);
        }
        Ok(is_new)
    }

    /// An object as it lies in the file, not looked at, where the index over hashes leads to one.
    pub(crate) fn fetch(&self, hash: &Hash) -> Result<Option<StoredObject>, StoreError> {
        self.row("hash = ?", &hash.0[..])
    }

    /// A content, found right.
    pub(crate) fn get(&self, kind: Kind, hash: &Hash) -> Result<Vec<u8>, Loss> {
        self.get_stored(kind, hash).map(|(_, content)| content)
    }

    /// A content, found right, and the row that gave it.
    pub(crate) fn get_stored(
        &self,
        kind: Kind,
        hash: &Hash,
    ) -> Result<(StoredObject, Vec<u8>), Loss> {
        let indexed = self.fetch(hash)?;
        let whole = |stored: StoredObject| {
            let content = stored.content(kind, hash)?;
            Some((stored, content))
        };
        if let Some(found) = indexed.and_then(whole) {
            return Ok(found);
        }
        let Some(id) = self.by_scan(hash)? else { return Err(Loss::Damaged) };
        self.row("id = ?", id)?.and_then(whole).ok_or(Loss::Damaged)
    }

    /// What an object takes in the file; 0 where it is not there.
    pub(crate) fn stored_bytes(&self, hash: &Hash) -> Result<u64, StoreError> {
        let sql = "SELECT length(bytes) FROM object WHERE hash = ?";
        let read = || {
            let mut statement = self.connection.prepare_cached(sql)?;
            statement.query_row([&hash.0[..]], |row| row.get::<_, i64>(0)).optional()
        };
        Ok(lost_is_none(read())?.flatten().map_or(0, |bytes| bytes as u64))
    }

    /// Takes out all objects but these; gives how many went.
    pub(crate) fn keep_only(&self, kept: &HashSet<Hash>) -> Result<u64, StoreError> {
        let gone = || -> rusqlite::Result<Vec<i64>> {
            let mut statement = self.connection.prepare("SELECT id, hash FROM object")?;
            let mut rows = statement.query([])?;
            let mut gone = Vec::new();
            while let Some(row) = rows.next()? {
                if !row.get(1).is_ok_and(|hash| kept.contains(&Hash(hash))) {
                    gone.push(row.get(0)?);
                }
            }
            Ok(gone)
        };
        let gone = gone().map_err(StoreError::writing)?;
        for id in &gone {
            let delete = self.connection.prepare_cached("DELETE FROM object WHERE id = ?");
            delete.and_then(|mut sql| sql.execute([id])).map_err(StoreError::writing)?;
        }
        Ok(gone.len() as u64)
    }

    fn row(
        &self,
        which: &str,
        value: impl rusqlite::ToSql,
    ) -> Result<Option<StoredObject>, StoreError> {
        let sql = format!("SELECT {COLUMNS} FROM object WHERE {which}");
        let read = || {
            let mut statement = self.connection.prepare_cached(&sql)?;
            statement.query_row([value], StoredObject::of_row).optional()
        };
        Ok(lost_is_none(read())?.flatten())
    }

    /// Where an object lies by the table's own word, which an index that is damaged can't spoil.
    fn by_scan(&self, hash: &Hash) -> Result<Option<i64>, StoreError> {
        if self.places.get().is_none() {
            // Whoever was first was as right.
            _ = self.places.set(self.scan()?);
        }
        Ok(self.places.get().and_then(|places| places.get(hash)).copied())
    }

    fn scan(&self) -> Result<HashMap<Hash, i64>, StoreError> {
        let mut found = HashMap::new();
        for id in 1..=self.last_id()? {
            let sql = "SELECT hash FROM object WHERE id = ?";
            let read = || {
                let mut statement = self.connection.prepare_cached(sql)?;
                statement.query_row([id], |row| row.get::<_, [u8; 32]>(0)).optional()
            };
            if let Some(hash) = lost_is_none(read())?.flatten() {
                found.insert(Hash(hash), id);
            }
        }
        Ok(found)
    }

    /// The highest number that an object can have: what the table says, within what the file has room for,
    /// since what it says may be damaged too.
    fn last_id(&self) -> Result<i64, StoreError> {
        const SMALLEST_ROW: i64 = 40;
        let number = |sql: &str| {
            lost_is_none(self.connection.query_row(sql, [], |row| row.get::<_, Option<i64>>(0)))
        };
        let room = "SELECT page_count * page_size FROM pragma_page_count, pragma_page_size";
        let room = number(room)?.flatten().unwrap_or(0) / SMALLEST_ROW;
        let last = number("SELECT max(id) FROM object")?.flatten().unwrap_or(room);
        Ok(last.min(room.saturating_mul(GAPS)))
    }
}

/// Rows that were let go of leave gaps between the numbers of others: so many numbers a row are looked at.
const GAPS: i64 = 64;

/// Where a row can't be read since the file is damaged, there is none.
pub(crate) fn lost_is_none<T>(read: rusqlite::Result<T>) -> Result<Option<T>, StoreError> {
    match read {
        Ok(value) => Ok(Some(value)),
        Err(error) if is_loss(&error) => Ok(None),
        Err(error) => Err(StoreError::reading(error)),
    }
}

fn is_loss(error: &rusqlite::Error) -> bool {
    match error {
        rusqlite::Error::SqliteFailure(failure, _) => matches!(
            failure.code,
            ErrorCode::DatabaseCorrupt
                | ErrorCode::NotADatabase
                | ErrorCode::SystemIoFailure
                | ErrorCode::TooBig
                | ErrorCode::TypeMismatch
                | ErrorCode::OutOfMemory
        ),
        rusqlite::Error::FromSqlConversionFailure(..)
        | rusqlite::Error::IntegralValueOutOfRange(..)
        | rusqlite::Error::InvalidColumnType(..)
        | rusqlite::Error::QueryReturnedNoRows
        | rusqlite::Error::Utf8Error(..) => true,
        _ => false,
    }
}
