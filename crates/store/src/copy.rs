//! Copies of a project: the whole of it, or the present document alone.

use std::collections::BTreeSet;
use std::path::Path;

use rusqlite::Connection;

use crate::collect::reachable;
use crate::hash::Kind;
use crate::lock::Lock;
use crate::objects::{Loss, Objects};
use crate::revisions::{Revision, now};
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
        let _lock = Lock::take(path)?;
        let staged = Staged::new(path)?;
        let Some(name) = staged.path().to_str() else {
            let error = std::io::Error::from(std::io::ErrorKind::InvalidFilename);
            return Err(StoreError::io(path, "can't be written", error));
        };
        let copied = self.connection()?.execute("VACUUM INTO ?", [name]);
        copied.map_err(StoreError::writing)?;
        staged.finish(false)
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
