//! A project file that is open.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use document::{Document, History};
use raster::Unobserved;
use rusqlite::Connection;

use crate::changes::Changes;
use crate::earlier::{Earlier, joined};
use crate::known::Known;
use crate::lock::Lock;
use crate::read::{self, Contents, Tiles};
use crate::revisions::{Point, State, get_state, points};
use crate::schema::Journal;
use crate::shelf::Shelf;
use crate::staged::Staged;
use crate::write::{self, Committed, Entries, THUMBNAIL, VIEW_STATE};
use crate::{Damage, StoreError, schema};

/// How a project is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Access {
    /// To go on with it. One process at a time can.
    ReadWrite,
    /// To look at it. Needs no write access to the file or its folder.
    ReadOnly,
}

/// A project that was opened, and what it holds.
#[derive(Debug)]
pub struct Opened {
    /// The file.
    pub project: Project,
    /// The history as it was. Revisions share all that they have in common.
    pub history: History,
    /// The edits that made entries, as text, by the entries' numbers; those that were handed over with them.
    pub edits: BTreeMap<u64, String>,
    /// What of it is lost, as far as that shows without reading tiles: see [`Project::watch`] for those.
    /// Nothing, as long as nothing damaged the file.
    pub damage: Vec<Damage>,
}

/// Tells what a project's documents turn out to have lost. Tiles are read, and looked at, when somebody asks
/// for their values; those that are damaged are bare. Outlives the project, as documents do.
#[derive(Debug, Clone)]
pub struct Watch(Arc<Shelf>);

impl Watch {
    /// Tiles that were found damaged so far, in the order in which they were found, without as many of the
    /// first.
    pub fn damage(&self, without: usize) -> Vec<Damage> {
        self.0.damage(without)
    }

    /// Bytes of memory that tiles which were read last take, beside the documents.
    pub fn kept_bytes(&self) -> usize {
        self.0.kept_bytes()
    }
}

/// A project file that is open. Dropped or closed, it leaves one file.
///
/// After a write or sync that failed it writes nothing any more: what the system says of later ones can't be
/// trusted (Rebello et al. 2020, "Can applications recover from fsync failures?"). Then save the history in
/// another place by [`Project::create`].
#[derive(Debug)]
pub struct Project {
    path: PathBuf,
    connection: Option<Connection>,
    access: Access,
    pub(crate) known: Known,
    pub(crate) entries: Entries,
    pub(crate) shelf: Arc<Shelf>,
    fault: Option<String>,
    /// Behind the connection, so that it is let go of last.
    lock: Option<Lock>,
}

impl Project {
    /// Makes a new file of a history, and opens it.
    ///
    /// # Errors
    /// [`StoreError::Exists`], [`StoreError::Io`], [`StoreError::Database`], or
    /// [`StoreError::Page`] where a tile can't be read. No file is left then.
    pub fn create(path: &Path, history: &History) -> Result<Self, StoreError> {
        Self::create_of(path, &Changes::of_history(history))
    }

    /// Makes a new file of a history and what else is to be in it, and opens it.
    ///
    /// # Errors
    /// As [`Project::create`].
    pub fn create_of(path: &Path, changes: &Changes) -> Result<Self, StoreError> {
        let lock = Lock::take(path)?;
        if path.exists() {
            return Err(StoreError::Exists(path.to_owned()));
        }
        let staged = Staged::new(path)?;
        let shelf = Shelf::new(path);
        let mut known = Known::default();
        let mut connection = schema::create(staged.path())?;
        let transaction = connection.transaction().map_err(StoreError::writing)?;
        let empty = Entries::default();
        let (entries, written) = write::changes(&transaction, &mut known, &shelf, &empty, changes)?;
        transaction.commit().map_err(StoreError::writing)?;
        schema::close(connection)?;
        staged.finish(true)?;
        written.tiles.settle(&shelf);
        Ok(Self {
            path: path.to_owned(),
            connection: Some(schema::open(path, Some(Journal::fitting(path)))?),
            access: Access::ReadWrite,
            known,
            entries,
            shelf,
            fault: None,
            lock: Some(lock),
        })
    }

    /// Opens a file. What of it is damaged is left out and named; the rest opens.
    ///
    /// # Errors
    /// [`StoreError::NotAProject`], [`StoreError::Newer`], [`StoreError::InUse`],
    /// [`StoreError::Structure`] or [`StoreError::NothingWhole`] for a file that can't be opened at all;
    /// [`StoreError::Io`] or [`StoreError::Database`] where the system refuses.
    pub fn open(path: &Path, access: Access) -> Result<Opened, StoreError> {
        let (mut opened, earlier) = Self::open_shown(path, access)?;
        let Opened { project, history, damage, .. } = &mut opened;
        let Self { connection: Some(connection), known, entries, shelf, .. } = project else {
            return Err(StoreError::WorkerGone);
        };
        let tiles = Tiles { shelf, checked: false };
        let before = earlier.before;
        let (found, lost) = read::entries_before(connection, known, before, tiles, &Unobserved)?;
        if let Some(found) = joined(found, history) {
            history.put_before(found);
        }
        damage.extend(lost);
        let there: BTreeSet<u64> = history.entries().0.map(|entry| entry.number).collect();
        entries.lost.extend(entries.numbers.difference(&there));
        entries.numbers = there;
        Ok(opened)
    }

    /// As [`Project::open`], but reads only the document that is shown, and what follows it in the history:
    /// what stands before can be read later. Changes can be committed meanwhile.
    ///
    /// # Errors
    /// As [`Project::open`].
    pub fn open_shown(path: &Path, access: Access) -> Result<(Opened, Earlier), StoreError> {
        let found = std::fs::metadata(path)
            .map_err(|error| StoreError::io(path, "can't be opened", error))?;
        if !found.is_file() || found.len() == 0 {
            return Err(StoreError::NotAProject(path.to_owned()));
        }
        let write = access == Access::ReadWrite;
        let lock = write.then(|| Lock::take(path)).transpose()?;
        let connection = schema::open(path, write.then(|| Journal::fitting(path)))?;
        let mut known = Known::default();
        let shelf = Shelf::new(path);
        let tiles = Tiles { shelf: &shelf, checked: false };
        let Contents { history, entries, edits, damage, before } =
            read::contents(&connection, &mut known, tiles)?;
        let earlier = Earlier::new(&shelf, before, &history);
        let project = Self {
            path: path.to_owned(),
            connection: Some(connection),
            access,
            known,
            entries,
            shelf,
            fault: None,
            lock,
        };
        Ok((Opened { project, history, edits, damage }, earlier))
    }

    /// Where the file is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Why writing has stopped, where it has.
    pub fn fault(&self) -> Option<&str> {
        self.fault.as_deref()
    }

    /// Writes changes in one transaction; when it returns they are on disk.
    ///
    /// A history must be the one that was opened or created with the project, further along. Entries that
    /// are new in it are added, those that an edit replaced after they were undone are taken out. Only
    /// what the file does not have yet is written.
    ///
    /// # Errors
    /// [`StoreError::ReadOnly`]; [`StoreError::Page`] or [`StoreError::TooLarge`] where something can't be
    /// written: then nothing is; [`StoreError::Database`] where writing fails: then and from then on
    /// nothing is, and later calls give [`StoreError::Stopped`].
    pub fn commit(&mut self, changes: &Changes) -> Result<Committed, StoreError> {
        let shelf = Arc::clone(&self.shelf);
        let written = self.transact(|connection, known, entries| {
            write::changes(connection, known, &shelf, entries, changes)
        })?;
        written.tiles.settle(&self.shelf);
        Ok(written.committed)
    }

    /// Does something in one transaction, and looks how it went.
    pub(crate) fn transact<T>(
        &mut self,
        work: impl FnOnce(&Connection, &mut Known, &Entries) -> Result<(Entries, T), StoreError>,
    ) -> Result<T, StoreError> {
        self.check_may_write()?;
        let Some(connection) = &mut self.connection else { return Err(StoreError::WorkerGone) };
        let known = &mut self.known;
        let entries = &self.entries;
        let run = || {
            let transaction = connection.transaction().map_err(StoreError::writing)?;
            let done = work(&transaction, known, entries)?;
            transaction.commit().map_err(StoreError::writing)?;
            Ok(done)
        };
        match run() {
            Ok((entries, done)) => {
                self.entries = entries;
                Ok(done)
            }
            Err(error) => {
                // What was thought to be in the file by now is not.
                self.known = Known::default();
                if let StoreError::Database { source, .. } = &error {
                    self.fault = Some(source.to_string());
                }
                Err(error)
            }
        }
    }

    /// Whether anything may be written.
    pub(crate) fn check_may_write(&self) -> Result<(), StoreError> {
        match &self.fault {
            _ if self.access == Access::ReadOnly => Err(StoreError::ReadOnly),
            Some(reason) => Err(StoreError::Stopped { reason: reason.clone() }),
            None => Ok(()),
        }
    }

    /// Lets go of the file that it is in, for a copy of it. What is known to be in one is in the other.
    pub(crate) fn take_place(&mut self, path: &Path, connection: Connection, lock: Lock) {
        // Nothing depends on it any more, and all that was committed is on disk.
        _ = self.close_once();
        path.clone_into(&mut self.path);
        self.shelf.go_on_in(path);
        self.connection = Some(connection);
        self.lock = Some(lock);
    }

    /// Gives the document that is shown a name to return to. Returning is a new entry of the history, made
    /// of [`Project::document_of`].
    ///
    /// # Errors
    /// As [`Project::commit`].
    pub fn name_point(&mut self, name: &str, history: &History) -> Result<(), StoreError> {
        self.commit(&Changes::naming(name, history)).map(|_| ())
    }

    /// The named points, by name.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub fn points(&self) -> Result<Vec<Point>, StoreError> {
        points(self.connection()?, None, &mut Vec::new())
    }

    /// Lets go of a named point; false where there is none of this name.
    ///
    /// # Errors
    /// As [`Project::commit`].
    pub fn remove_point(&mut self, name: &str) -> Result<bool, StoreError> {
        self.transact(|connection, _, entries| {
            let mut entries = entries.clone();
            let there = Point::remove(connection, name)?;
            entries.points.remove(name);
            entries.put(connection)?;
            Ok((entries, there))
        })
    }

    /// Gives a named point another name; false where there is none, or where the new name is taken.
    ///
    /// # Errors
    /// As [`Project::commit`].
    pub fn rename_point(&mut self, name: &str, new_name: &str) -> Result<bool, StoreError> {
        let found = self.points()?.into_iter().find(|point| point.name == name);
        let is_taken = self.entries.points.contains(new_name);
        let Some(point) = found.filter(|_| !is_taken) else { return Ok(false) };
        self.transact(|connection, _, entries| {
            let mut entries = entries.clone();
            Point::remove(connection, name)?;
            Point { name: new_name.to_owned(), ..point }.put(connection)?;
            entries.points.remove(name);
            entries.points.insert(new_name.to_owned());
            entries.put(connection)?;
            Ok((entries, true))
        })
    }

    /// The document of a named point, and what of it is lost. `None` where its root is lost.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub fn document_of(
        &mut self,
        point: &Point,
    ) -> Result<(Option<Document>, Vec<Damage>), StoreError> {
        let Self { connection: Some(connection), known, shelf, .. } = self else {
            return Err(StoreError::WorkerGone);
        };
        read::document(connection, known, point, Tiles { shelf, checked: false })
    }

    /// Keeps how the window looks at the document.
    ///
    /// # Errors
    /// As [`Project::commit`].
    pub fn set_view_state(&mut self, text: &str) -> Result<(), StoreError> {
        let view_state = Some(text.to_owned());
        self.commit(&Changes { view_state, ..Changes::default() }).map(|_| ())
    }

    /// What [`Project::set_view_state`] kept; nothing where it is lost.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub fn view_state(&self) -> Result<Option<String>, StoreError> {
        Ok(self.state(VIEW_STATE)?.and_then(|bytes| String::from_utf8(bytes).ok()))
    }

    /// Keeps a small picture of the document, an encoded image.
    ///
    /// # Errors
    /// As [`Project::commit`].
    pub fn set_thumbnail(&mut self, picture: &[u8]) -> Result<(), StoreError> {
        let thumbnail = Some(picture.to_owned());
        self.commit(&Changes { thumbnail, ..Changes::default() }).map(|_| ())
    }

    /// What [`Project::set_thumbnail`] kept; nothing where it is lost.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub fn thumbnail(&self) -> Result<Option<Vec<u8>>, StoreError> {
        self.state(THUMBNAIL)
    }

    fn state(&self, key: &str) -> Result<Option<Vec<u8>>, StoreError> {
        Ok(match get_state(self.connection()?, key)? {
            State::Whole(value) => Some(value),
            State::None | State::Damaged => None,
        })
    }

    /// Tells of tiles that turn out to be damaged when they are read.
    pub fn watch(&self) -> Watch {
        Watch(Arc::clone(&self.shelf))
    }

    /// Reads everything in the file and looks whether it is whole.
    ///
    /// # Errors
    /// [`StoreError::Database`] where the system refuses.
    pub fn verify(&self) -> Result<Vec<Damage>, StoreError> {
        read::verify(self.connection()?, &self.shelf)
    }

    /// Brings what is in the database's log into the file proper. Not needed for anything to be safe; it
    /// keeps the log short, and is best done while nothing else is to do.
    ///
    /// # Errors
    /// As [`Project::commit`].
    pub fn checkpoint(&mut self) -> Result<(), StoreError> {
        if let Some(reason) = &self.fault {
            return Err(StoreError::Stopped { reason: reason.clone() });
        }
        let ran = schema::checkpoint(self.connection()?);
        if let Err(StoreError::Database { source, .. }) = &ran {
            self.fault = Some(source.to_string());
        }
        ran
    }

    /// Cuts off the room that is free at the file's end.
    pub(crate) fn give_back_room(&mut self) -> Result<(), StoreError> {
        let ran = schema::give_back_room(self.connection()?);
        if let Err(StoreError::Database { source, .. }) = &ran {
            self.fault = Some(source.to_string());
        }
        ran
    }

    /// Closes the file, so that one file is left.
    ///
    /// # Errors
    /// [`StoreError::Database`]; all that was committed is on disk even then.
    pub fn close(mut self) -> Result<(), StoreError> {
        self.close_once()
    }

    fn close_once(&mut self) -> Result<(), StoreError> {
        let Some(connection) = self.connection.take() else { return Ok(()) };
        let _alone = self.shelf.left_alone();
        if self.fault.is_some() {
            schema::abandon(connection);
            return Ok(());
        }
        match self.access {
            Access::ReadWrite => schema::close(connection),
            Access::ReadOnly => connection.close().map_err(|(_, error)| StoreError::reading(error)),
        }
    }

    pub(crate) fn connection(&self) -> Result<&Connection, StoreError> {
        self.connection.as_ref().ok_or(StoreError::WorkerGone)
    }
}

impl Drop for Project {
    fn drop(&mut self) {
        // Nobody is left to tell, and all that was committed is on disk.
        _ = self.close_once();
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use document::{Material, MaterialId, Recipes};
    use layers::{BlendSpace, FieldId, Ground, Stack};
    use raster::{Plane, TextureSize};
    use tempfile::TempDir;

    use super::*;
    use crate::Keeper;

    /// A document of some hundred kilobytes of noise.
    fn noisy(seed: u32) -> Document {
        let size = TextureSize::new(512).unwrap();
        let mut state = seed;
        let noise = Plane::from_fn(size.extent(), |_, _| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 16) as u16
        });
        let material = Material {
            id: MaterialId(0),
            name: "clay".to_owned(),
            size,
            blend_space: BlendSpace::Encoded,
            ground: Ground::new(),
            stack: Stack::default(),
            recipes: Recipes::default(),
            fields: BTreeMap::from([(FieldId::Noise, noise)]),
            selection: None,
            pass_maps: Arc::default(),
        };
        Document { materials: vec![Arc::new(material)], ..Document::default() }
    }

    /// A project on a disk that has no room for another such document.
    fn on_a_full_disk() -> (TempDir, Project, History) {
        let folder = tempfile::tempdir().unwrap();
        let history = History::new(noisy(1));
        let project = Project::create(&folder.path().join("a.scumble"), &history).unwrap();
        let pages = "PRAGMA page_count";
        let connection = project.connection().unwrap();
        let pages: i64 = connection.query_row(pages, [], |row| row.get(0)).unwrap();
        limit(&project, pages + 3);
        (folder, project, history)
    }

    fn limit(project: &Project, pages: i64) {
        let set = format!("PRAGMA max_page_count = {pages}");
        project.connection().unwrap().query_row(&set, [], |_| Ok(())).unwrap();
    }

    fn numbers(path: &Path) -> Vec<u64> {
        let opened = Project::open(path, Access::ReadWrite).unwrap();
        assert_eq!(opened.damage, []);
        opened.history.entries().0.map(|entry| entry.number).collect()
    }

    #[test]
    fn after_a_write_that_failed_nothing_is_written_any_more_and_what_was_on_disk_is_whole() {
        let (_folder, mut project, mut history) = on_a_full_disk();
        let path = project.path().to_owned();
        history.push(Document::default(), "fits");
        project.commit(&Changes::of_history(&history)).unwrap();
        history.push(noisy(2), "too much");
        let failed = project.commit(&Changes::of_history(&history)).unwrap_err();
        assert!(matches!(failed, StoreError::Database { doing: "written", .. }), "{failed}");
        assert!(project.fault().is_some_and(|reason| reason.contains("full")));

        // Room comes back; trust does not.
        limit(&project, i64::from(i32::MAX));
        let logged = || std::fs::read(path.with_extension("scumble-wal")).unwrap();
        let before = (std::fs::read(&path).unwrap(), logged());
        let again = project.commit(&Changes::of_history(&history)).unwrap_err();
        assert!(matches!(again, StoreError::Stopped { .. }), "{again}");
        assert!(project.checkpoint().is_err() && project.set_view_state("").is_err());
        assert!(project.collect_garbage(0).is_err());
        project.close().unwrap();
        assert!((std::fs::read(&path).unwrap(), logged()) == before, "closing touches nothing");
        assert_eq!(numbers(&path), [1, 2]);
    }

    #[test]
    fn a_keeper_that_can_not_write_says_so_and_keeps_what_it_was_given_for_another_place() {
        let (folder, project, mut history) = on_a_full_disk();
        let path = project.path().to_owned();
        let keeper = Keeper::start(project).unwrap();
        history.push(noisy(2), "too much");
        let number = keeper.keep(Changes::of_history(&history));
        let progress = keeper.wait(number, Duration::from_mins(1));
        assert!(progress.fault.is_some_and(|fault| fault.contains("full")));
        history.push(noisy(3), "more");
        keeper.keep(Changes::of_history(&history));
        assert!(!keeper.progress().is_all_on_disk());

        let kept = keeper.unwritten().unwrap().history.unwrap();
        let elsewhere = folder.path().join("b.scumble");
        drop(Project::create(&elsewhere, &kept).unwrap());
        drop(keeper);
        assert_eq!(numbers(&path), [1]);
        assert_eq!(numbers(&elsewhere), [1, 2, 3]);
    }
}
