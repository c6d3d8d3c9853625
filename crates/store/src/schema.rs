//! The database that a project file is: its tables, how it is opened and how it is closed.

use std::path::{Path, PathBuf};

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};

use crate::place::{Place, place_of};
use crate::{StoreError, VERSION};

/// "Scum" in ASCII.
const APPLICATION_ID: i64 = 0x5363_756d;

/// Pages of 16 KiB: as fast as larger ones for tiles of some KiB (see the bench), and damage to one costs less.
const PAGE_SIZE: u32 = 16_384;

/// The tables, in the words in which the database keeps them.
const TABLES: [(&str, &str); 4] = [
    (
        "object",
        "CREATE TABLE object(id INTEGER PRIMARY KEY, hash BLOB NOT NULL UNIQUE, \
         kind INTEGER NOT NULL, encoding INTEGER NOT NULL, length INTEGER NOT NULL, \
         bytes BLOB NOT NULL)",
    ),
    (
        "revision",
        "CREATE TABLE revision(number INTEGER PRIMARY KEY, root BLOB NOT NULL, \
         label TEXT NOT NULL, edit TEXT, made_at INTEGER NOT NULL, checksum BLOB NOT NULL)",
    ),
    (
        "point",
        "CREATE TABLE point(name TEXT PRIMARY KEY, revision INTEGER NOT NULL, \
         root BLOB NOT NULL, made_at INTEGER NOT NULL, checksum BLOB NOT NULL) WITHOUT ROWID",
    ),
    (
        "state",
        "CREATE TABLE state(key TEXT PRIMARY KEY, value BLOB NOT NULL, \
         checksum BLOB NOT NULL) WITHOUT ROWID",
    ),
];

/// Pages of the log after which a commit brings them into the file by itself. Far more than come between
/// two calls of [`checkpoint`].
const MOST_LOG_PAGES: u32 = 16_384;

/// How long to wait for another process that reads, in milliseconds.
const PATIENCE: u64 = 5_000;

/// Makes the tables in an empty file that nobody knows yet. Nothing of it is safe before it is synced as a whole: so
/// there is no journal, and none can be left behind.
pub(crate) fn create(path: &Path) -> Result<Connection, StoreError> {
    let connection = Connection::open(path).map_err(StoreError::writing)?;
    let made = connection.execute_batch(&format!(
        "PRAGMA journal_mode = MEMORY; PRAGMA synchronous = OFF; \
         PRAGMA page_size = {PAGE_SIZE}; PRAGMA auto_vacuum = INCREMENTAL; \
         PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {VERSION};"
    ));
    made.map_err(StoreError::writing)?;
    for (_, sql) in TABLES {
        connection.execute_batch(sql).map_err(StoreError::writing)?;
    }
    harden(&connection)?;
    Ok(connection)
}

/// Opens a file and looks whether it is a project of a version that we know. It is read only where no journal is
/// given.
pub(crate) fn open(path: &Path, write: Option<Journal>) -> Result<Connection, StoreError> {
    let access = match write {
        Some(_) => OpenFlags::SQLITE_OPEN_READ_WRITE,
        None => OpenFlags::SQLITE_OPEN_READ_ONLY,
    };
    let flags = access | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).map_err(StoreError::reading)?;
    harden(&connection)?;
    check(&connection, path)?;
    if let Some(journal) = write {
        start_writing(&connection, journal)?;
    }
    Ok(connection)
}

/// Opens a file that was looked at, to read beside others.
pub(crate) fn open_beside(path: &Path) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).map_err(StoreError::reading)?;
    harden(&connection)?;
    Ok(connection)
}

/// What is read may be damaged or made to do harm.
fn harden(connection: &Connection) -> Result<(), StoreError> {
    let set = || {
        connection.busy_timeout(std::time::Duration::from_millis(PATIENCE))?;
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
        connection.execute_batch("PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0;")
    };
    set().map_err(StoreError::reading)
}

fn check(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let number = |pragma: &str| {
        connection.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0)).map_err(|error| {
            match error.sqlite_error_code() {
                Some(rusqlite::ErrorCode::NotADatabase) => StoreError::NotAProject(path.to_owned()),
                _ => StoreError::reading(error),
            }
        })
    };
    if number("application_id")? != APPLICATION_ID {
        return Err(StoreError::NotAProject(path.to_owned()));
    }
    let found = number("user_version")?;
    if found > i64::from(VERSION) {
        return Err(StoreError::Newer { found });
    }
    if found < 1 {
        return Err(StoreError::Structure(format!("its version is {found}")));
    }
    for (table, expected) in TABLES {
        let sql = connection.query_row(
            "SELECT sql FROM sqlite_schema WHERE type = 'table' AND name = ?",
            [table],
            |row| row.get::<_, String>(0),
        );
        match sql {
            Ok(sql) if sql == expected => {}
            Ok(_) => return Err(StoreError::Structure(format!("table {table} has changed"))),
            Err(rusqlite::Error::QueryReturnedNoRows) => {
                return Err(StoreError::Structure(format!("table {table} is gone")));
            }
            Err(error) => return Err(StoreError::reading(error)),
        }
    }
    Ok(())
}

/// Where changes go before they are in the file proper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Journal {
    /// Into a log beside the file, which is brought into it later. All who have the file open must share memory:
    /// it works on one machine only (`SQLite`, "Write-Ahead Logging").
    Log,
    /// What was there before is kept beside the file until the change is in it. Slower; between two commits the
    /// file alone has everything, so it can lie on a network or be copied by others.
    Rollback,
}

impl Journal {
    /// What a place allows.
    pub(crate) fn fitting(path: &Path) -> Self {
        if place_of(path) == Place::Local { Self::Log } else { Self::Rollback }
    }
}

/// From here on what is committed is on disk when the commit returns. With a log, `EXTRA` is `FULL`; where there can
/// be none, as in some folders on other machines, the journal's deletion is synced too: else a journal that comes
/// back when the power fails would take back what was committed.
fn start_writing(connection: &Connection, journal: Journal) -> Result<(), StoreError> {
    let mode = match journal {
        Journal::Log => "WAL",
        Journal::Rollback => "DELETE",
    };
    let set = connection.execute_batch(&format!(
        "PRAGMA synchronous = EXTRA; PRAGMA journal_mode = {mode}; \
         PRAGMA wal_autocheckpoint = {MOST_LOG_PAGES}; PRAGMA cache_size = -16384;"
    ));
    set.map_err(StoreError::writing)
}

/// Brings what is in the log into the file, as far as readers let us.
pub(crate) fn checkpoint(connection: &Connection) -> Result<(), StoreError> {
    let ran = connection.query_row("PRAGMA wal_checkpoint(PASSIVE)", [], |_| Ok(()));
    ran.map_err(StoreError::writing)
}

/// Moves pages into free ones, so that the file gets shorter.
pub(crate) fn give_back_room(connection: &Connection) -> Result<(), StoreError> {
    let run = || -> rusqlite::Result<()> {
        let mut statement = connection.prepare("PRAGMA incremental_vacuum")?;
        let mut steps = statement.query([])?;
        // Each step gives back one page.
        while steps.next()?.is_some() {}
        Ok(())
    };
    run().map_err(StoreError::writing)
}

/// Leaves one file behind, if no other process reads it.
pub(crate) fn close(connection: Connection) -> Result<(), StoreError> {
    let closed = || {
        connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
        connection.query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(()))
    };
    match closed() {
        // A reader keeps the log: then the last one to close takes it away.
        Err(error) if is_busy(&error) => {}
        Err(error) => {
            abandon(connection);
            return Err(StoreError::writing(error));
        }
        Ok(()) => {}
    }
    connection.close().map_err(|(_, error)| StoreError::writing(error))
}

fn is_busy(error: &rusqlite::Error) -> bool {
    use rusqlite::ErrorCode::{DatabaseBusy, DatabaseLocked};
    matches!(error.sqlite_error_code(), Some(DatabaseBusy | DatabaseLocked))
}

/// Files in which the database keeps what is not in the file proper yet, by what stands behind its name.
const BESIDE: [&str; 3] = ["-journal", "-wal", "-shm"];

/// Takes away what a file that is to be replaced, or is gone, left beside it: it would be taken for a part of the
/// new one. What is in its log is brought into the old file before, so that this stays whole until then. True when
/// anything was there.
pub(crate) fn forget_what_is_beside(path: &Path) -> std::io::Result<bool> {
    let names = BESIDE.map(|end| {
        let mut name = path.as_os_str().to_owned();
        name.push(end);
        PathBuf::from(name)
    });
    if !names.iter().any(|name| name.exists()) {
        return Ok(false);
    }
    if path.exists() {
        // If this can't be done, the old file is none that could be opened.
        _ = open(path, Some(Journal::fitting(path))).and_then(close);
    }
    for name in names.iter().filter(|name| name.exists()) {
        std::fs::remove_file(name)?;
    }
    Ok(true)
}

/// Closes without bringing the log into the file: after a failed write nothing may touch it.
pub(crate) fn abandon(connection: Connection) {
    // Whether this works or not, nothing more is written on purpose.
    _ = connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true);
    drop(connection);
}

#[cfg(test)]
mod tests {
    use super::*;

    const INCREMENTAL: i64 = 2;
    const EXTRA: i64 = 3;

    #[test]
    fn a_new_file_has_the_settings_that_can_not_be_changed_later() {
        let folder = tempfile::tempdir().unwrap();
        let connection = create(&folder.path().join("a")).unwrap();
        let setting =
            |name| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0)).unwrap();
        assert_eq!(setting("page_size"), 16_384);
        assert_eq!(setting("auto_vacuum"), INCREMENTAL);
        assert_eq!(setting("application_id"), APPLICATION_ID);
        assert_eq!(setting("user_version"), 1);
    }

    #[test]
    fn a_file_on_a_network_is_written_without_a_log_and_synced_with_its_folder() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        drop(create(&path).unwrap());
        for (journal, mode, logs) in
            [(Journal::Log, "wal", true), (Journal::Rollback, "delete", false)]
        {
            let connection = open(&path, Some(journal)).unwrap();
            let found = connection.pragma_query_value(None, "journal_mode", |row| row.get(0));
            assert_eq!(found, Ok(mode.to_owned()));
            let found = connection.pragma_query_value(None, "synchronous", |row| row.get(0));
            assert_eq!(found, Ok(EXTRA));
            put(&connection);
            assert_eq!(folder.path().join("a-wal").exists(), logs);
            close(connection).unwrap();
        }
    }

    fn put(connection: &Connection) {
        crate::revisions::put_state(connection, "view", b"from the left").unwrap();
    }
}
