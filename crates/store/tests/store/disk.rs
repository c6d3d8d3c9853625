//! A disk that remembers the order in which it was written to, and fails when it is told to.

mod layer;
pub(crate) mod power;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use rusqlite::ffi;
use tempfile::TempDir;

/// What the database asks of the disk.
#[derive(Debug)]
pub(crate) enum Request<'a> {
    Open { created: bool },
    Write { at: u64, bytes: &'a [u8] },
    Truncate { size: u64 },
    Sync,
    Delete { synced: bool },
}

/// What it is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Answer {
    Do,
    /// It fails with this code.
    Fail(i32),
    /// So many bytes are written, then it fails.
    Part(usize, i32),
}

/// What was done to a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum What {
    /// Opened; its folder is synced with it at its first sync.
    Opened {
        created: bool,
    },
    Written {
        at: u64,
        bytes: Vec<u8>,
    },
    Truncated(u64),
    Synced,
    Deleted {
        synced: bool,
    },
    /// Not done to a file: from here on these changes are acknowledged.
    Acknowledged(u32),
}

/// One line of the log; the file is told by what stands behind the project's name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Event {
    pub(crate) file: String,
    pub(crate) what: What,
}

/// How a disk fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Failing {
    /// There is no room, this once.
    Full,
    /// Something breaks, this once.
    Broken,
    /// From here on everything breaks.
    BrokenForGood,
    /// Half of a write is done.
    Half,
}

#[derive(Debug, Default)]
struct Disk {
    log: Vec<Event>,
    /// Requests that can fail, so far.
    asked: u32,
    /// The number of the request that fails, counted from 1, and how.
    fails: Option<(u32, Failing)>,
    /// How long the log was when a request failed for the first time.
    failed: Option<usize>,
}

/// A folder whose databases are watched.
#[derive(Debug)]
pub(crate) struct Watched {
    folder: TempDir,
    disk: Arc<Mutex<Disk>>,
}

/// A project's name in its folder.
pub(crate) const NAME: &str = "a.scumble";

static WATCHED: Mutex<Vec<(PathBuf, Arc<Mutex<Disk>>)>> = Mutex::new(Vec::new());

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A folder in memory, where the system has that: what is synced here is synced for the database's sake alone.
pub(crate) fn quick_folder() -> TempDir {
    tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap()
}

impl Watched {
    pub(crate) fn new() -> Self {
        layer::install();
        let (folder, disk) = (quick_folder(), Arc::default());
        locked(&WATCHED).push((folder.path().to_owned(), Arc::clone(&disk)));
        Self { folder, disk }
    }

    pub(crate) fn path(&self) -> PathBuf {
        self.folder.path().join(NAME)
    }

    /// Forgets what was written so far.
    pub(crate) fn start_anew(&self) {
        let mut disk = locked(&self.disk);
        (disk.log, disk.asked) = (Vec::new(), 0);
    }

    /// Lets a request fail: that of a number, counted from 1 from here on.
    pub(crate) fn fail_at(&self, number: u32, how: Failing) {
        let mut disk = locked(&self.disk);
        *disk = Disk {
            log: std::mem::take(&mut disk.log),
            fails: Some((number, how)),
            ..Disk::default()
        };
    }

    /// Nothing fails any more.
    pub(crate) fn mend(&self) {
        locked(&self.disk).fails = None;
    }

    pub(crate) fn has_failed(&self) -> bool {
        locked(&self.disk).failed.is_some()
    }

    /// What was done from the request on that failed; that itself only where half of it was done.
    pub(crate) fn done_since(&self) -> Vec<Event> {
        let disk = locked(&self.disk);
        let since = disk.log[disk.failed.unwrap_or(disk.log.len())..].iter();
        since.filter(|event| !matches!(event.what, What::Opened { .. })).cloned().collect()
    }

    pub(crate) fn acknowledge(&self, number: u32) {
        let what = What::Acknowledged(number);
        locked(&self.disk).log.push(Event { file: String::new(), what });
    }

    pub(crate) fn log(&self) -> Vec<Event> {
        locked(&self.disk).log.clone()
    }
}

impl Drop for Watched {
    fn drop(&mut self) {
        locked(&WATCHED).retain(|(folder, _)| folder != self.folder.path());
    }
}

/// What the layer is told. Files of folders that nobody watches are written as always.
fn asked(path: &Path, request: &Request<'_>) -> Answer {
    let folder = path.parent().unwrap_or(path);
    let disk = locked(&WATCHED).iter().find(|(watched, _)| watched == folder).cloned();
    let Some((_, disk)) = disk else { return Answer::Do };
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let mut disk = locked(&disk);
    let answer = disk.answer(request);
    let what = match (request, answer) {
        (Request::Write { at, bytes }, Answer::Part(part, _)) => {
            What::Written { at: *at, bytes: bytes[..part].to_vec() }
        }
        (_, Answer::Fail(_) | Answer::Part(..)) => return answer,
        (Request::Open { created }, _) => What::Opened { created: *created },
        (Request::Write { at, bytes }, _) => What::Written { at: *at, bytes: bytes.to_vec() },
        (Request::Truncate { size }, _) => What::Truncated(*size),
        (Request::Sync, _) => What::Synced,
        (Request::Delete { synced }, _) => What::Deleted { synced: *synced },
    };
    let file = name.strip_prefix(NAME).unwrap_or(&name).to_owned();
    disk.log.push(Event { file, what });
    answer
}

impl Disk {
    fn answer(&mut self, request: &Request<'_>) -> Answer {
        let broken = match request {
            // That a file is opened says nothing about what is on the disk.
            Request::Open { created: false } => return Answer::Do,
            Request::Open { created: true } => ffi::SQLITE_CANTOPEN,
            Request::Write { .. } => ffi::SQLITE_IOERR_WRITE,
            Request::Truncate { .. } => ffi::SQLITE_IOERR_TRUNCATE,
            Request::Sync => ffi::SQLITE_IOERR_FSYNC,
            Request::Delete { .. } => ffi::SQLITE_IOERR_DELETE,
        };
        self.asked += 1;
        let Some((number, how)) = self.fails else { return Answer::Do };
        let over =
            if how == Failing::BrokenForGood { self.asked < number } else { self.asked != number };
        if over {
            return Answer::Do;
        }
        self.failed.get_or_insert(self.log.len());
        match (how, request) {
            (Failing::Full, Request::Write { .. }) => Answer::Fail(ffi::SQLITE_FULL),
            (Failing::Half, Request::Write { bytes, .. }) => Answer::Part(bytes.len() / 2, broken),
            _ => Answer::Fail(broken),
        }
    }
}

/// What lies on a disk.
#[derive(Debug, Clone, Default)]
pub(crate) struct Image(pub(crate) BTreeMap<String, Vec<u8>>);

const BESIDE: [&str; 3] = ["", "-wal", "-journal"];

impl Image {
    /// What lies in a folder.
    pub(crate) fn of(project: &Path) -> Self {
        let read = |end: &&str| std::fs::read(beside(project, end)).ok();
        let files = BESIDE.iter().filter_map(|end| Some(((*end).to_owned(), read(end)?)));
        Self(files.collect())
    }

    /// Puts it into a folder, and nothing else.
    pub(crate) fn put(&self, project: &Path) {
        for end in BESIDE.iter().chain(&["-shm"]) {
            let path = beside(project, end);
            match self.0.get(*end) {
                Some(bytes) => std::fs::write(path, bytes).unwrap(),
                None if path.exists() => std::fs::remove_file(path).unwrap(),
                None => {}
            }
        }
    }

    /// What an event does to it.
    pub(crate) fn apply(&mut self, event: &Event) {
        let Event { file, what } = event;
        match what {
            What::Opened { created: true } => _ = self.0.entry(file.clone()).or_default(),
            What::Opened { .. } | What::Synced | What::Acknowledged(_) => {}
            What::Written { at, bytes } => self.write(file, *at, bytes),
            What::Truncated(size) => {
                self.0.entry(file.clone()).or_default().resize(*size as usize, 0);
            }
            What::Deleted { .. } => _ = self.0.remove(file),
        }
    }

    /// Writes into a file; there may be a hole before it.
    pub(crate) fn write(&mut self, file: &str, at: u64, bytes: &[u8]) {
        let content = self.0.entry(file.to_owned()).or_default();
        let end = at as usize + bytes.len();
        content.resize(content.len().max(end), 0);
        content[at as usize..end].copy_from_slice(bytes);
    }
}

fn beside(project: &Path, end: &str) -> PathBuf {
    let mut name = project.as_os_str().to_owned();
    name.push(end);
    name.into()
}
