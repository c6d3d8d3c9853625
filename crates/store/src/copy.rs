//! Copies of a project: the whole of it, or the present document alone.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::time::Duration;

use raster::{Observer, Unobserved};
use rusqlite::Connection;

use crate::collect::reachable;
use crate::hash::Kind;
use crate::lock::Lock;
use crate::objects::{Loss, Objects};
use crate::revisions::{Revision, now};
use crate::schema::Journal;
use crate::squeezed::Encoding;
use crate::staged::Staged;
use crate::write::Entries;
use crate::{Project, StoreError, schema};

impl Project {
    /// Copies the whole project to another file, which appears whole or not at all. One that is there is
    /// replaced, unless a process has it open. The project goes on in its own file.
    ///
    /// # Errors
    /// [`StoreError::InUse`], [`StoreError::Io`], [`StoreError::Database`].
    pub fn copy_to(&self, path: &Path) -> Result<(), StoreError> {
        self.copy_to_watched(path, &Unobserved)
    }

    /// As [`Project::copy_to`], for a copy that takes long.
    ///
    /// # Errors
    /// As [`Project::copy_to`], and [`StoreError::Cancelled`].
    pub fn copy_to_watched(&self, path: &Path, observer: &dyn Observer) -> Result<(), StoreError> {
        let _lock = Lock::take(path)?;
        self.copy_whole(path, false, observer)
    }

    /// Goes on in a copy: the project is written to another file, which must not be there yet, and from then on
    /// that one is this project's. The file that it was in stays as it is.
    ///
    /// # Errors
    /// As [`Project::copy_to_watched`], [`StoreError::Exists`], and as [`Project::commit`] where nothing can be
    /// written any more. The project is then in its file as before.
    pub fn go_on_in(&mut self, path: &Path, observer: &dyn Observer) -> Result<(), StoreError> {
        self.check_may_write()?;
        let lock = Lock::take(path)?;
        if path.exists() {
            return Err(StoreError::Exists(path.to_owned()));
        }
        self.copy_whole(path, true, observer)?;
        let connection = schema::open(path, Some(Journal::fitting(path)))?;
        self.take_place(path, connection, lock);
        Ok(())
    }

    fn copy_whole(
        &self,
        path: &Path,
        fresh: bool,
        observer: &dyn Observer,
    ) -> Result<(), StoreError> {
        let staged = Staged::new(path)?;
        let Some(name) = staged.path().to_str() else {
            let error = std::io::Error::from(std::io::ErrorKind::InvalidFilename);
            return Err(StoreError::io(path, "can't be written", error));
        };
        observer.check()?;
        let connection = self.connection()?;
        let copied = watched(connection, staged.path(), observer, || {
            connection.execute("VACUUM INTO ?", [name])
        });
        observer.check()?;
        copied?.map_err(StoreError::writing)?;
        staged.finish(fresh)
    }

    /// Writes the document that is shown, as it is on disk, to another file: without history and without
    /// named points. Otherwise as [`Project::copy_to`].
    ///
    /// # Errors
    /// As [`Project::copy_to`], and [`StoreError::NothingWhole`] where the document is lost. What else is
    /// damaged is left out; gives how many objects were.
    pub fn pack(&self, path: &Path) -> Result<u64, StoreError> {
        let _lock = Lock::take(path)?;
        let staged = Staged::new(path)?;
        let mut packed = schema::create(staged.path())?;
        let transaction = packed.transaction().map_err(StoreError::writing)?;
        let number = self.entries.present;
        let left_out = copy_revision(self.connection()?, &transaction, number)?;
        transaction.commit().map_err(StoreError::writing)?;
        schema::close(packed)?;
        staged.finish(false)?;
        Ok(left_out)
    }
}

/// How often it is looked how long the copy is.
const GLANCE: Duration = Duration::from_millis(50);

/// Copies; meanwhile tells how much there is of it, and breaks it off where it is no longer wanted.
fn watched<T>(
    connection: &Connection,
    copy: &Path,
    observer: &dyn Observer,
    work: impl FnOnce() -> T,
) -> Result<T, StoreError> {
    let number = |name| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let size = || Ok::<_, rusqlite::Error>(number("page_count")? * number("page_size")?);
    let total = size().map_err(StoreError::reading)?.max(1) as u64;
    let stop = connection.get_interrupt_handle();
    let (done, ended) = sync_channel::<()>(0);
    let watch = move || {
        while ended.recv_timeout(GLANCE) == Err(RecvTimeoutError::Timeout) {
            let length = std::fs::metadata(copy).map_or(0, |file| file.len());
            observer.progress(length.min(total), total);
            if observer.stopped() {
                stop.interrupt();
            }
        }
    };
    std::thread::scope(|scope| {
        let name = "copy of a project".to_owned();
        let watching = std::thread::Builder::new().name(name).spawn_scoped(scope, watch);
        let made = work();
        drop(done);
        // Without a thread it is copied unwatched.
        drop(watching);
        Ok(made)
    })
}

/// Gives how many objects are damaged and left out.
fn copy_revision(from: &Connection, to: &Connection, number: u64) -> Result<u64, StoreError> {
    let moment = from.unchecked_transaction().map_err(StoreError::reading)?;
    let Some(Some(revision)) = Revision::get(&moment, number)? else {
        return Err(StoreError::NothingWhole(Vec::new()));
    };
    let (source, target) = (Objects::new(&moment), Objects::new(to));
    let mut left_out = 0;
    for (hash, kind) in reachable(&source, [revision.root])?.kinds {
        match source.get_stored(kind, &hash) {
            Ok((_, content)) if kind == Kind::Tile => {
                target.put(kind, &hash, &content, Encoding::DenseTile)?;
            }
            Ok((stored, _)) => target.put_stored(kind, &hash, &stored)?,
            Err(Loss::Damaged) => left_out += 1,
            Err(Loss::Fault(error)) => return Err(error),
        }
    }
    Revision { number: 1, made_at: now(), edit: None, ..revision }.put(to)?;
    Entries { numbers: BTreeSet::from([1]), present: 1, ..Entries::default() }.put(to)?;
    Ok(left_out)
}
