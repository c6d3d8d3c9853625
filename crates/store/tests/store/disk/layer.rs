//! The layer between the database and the files: the database's own layer for this system, with what writes replaced by
//! functions that ask first. Nothing but unsafe code is here; what is answered is decided in the module above.
//!
//! The layer is a copy of the system's with another name and another `xOpen` and `xDelete`. A file that is
//! opened is the system's own in every respect, but that its table of methods is replaced by a copy of that
//! table with other `xWrite`, `xTruncate`, `xSync` and `xClose`. So locks and shared memory stay the system's.
#![expect(unsafe_code, reason = "a file layer of SQLite is a table of C functions")]

use std::collections::HashMap;
use std::ffi::{CStr, c_char, c_int, c_void};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, Once, PoisonError};

use rusqlite::ffi::{
    self, SQLITE_OK, SQLITE_OPEN_CREATE, sqlite3_file, sqlite3_int64, sqlite3_io_methods,
    sqlite3_vfs,
};

use super::{Answer, Request, asked};

/// The system's own functions for a file that is open, and where it lies.
struct Open {
    path: PathBuf,
    own: &'static sqlite3_io_methods,
}

/// What is open, by the address of the database's file.
static OPEN: Mutex<Option<HashMap<usize, Open>>> = Mutex::new(None);

/// The system's own layer, which was the default before ours; an address, as pointers can't be shared.
static SYSTEM: Mutex<usize> = Mutex::new(0);

const NAME: &CStr = c"asks first";

/// Makes this layer the one by which this process opens databases.
pub(super) fn install() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // SAFETY: without a name this gives the default layer, which lives as long as the process.
        let system = unsafe { ffi::sqlite3_vfs_find(std::ptr::null()) };
        *SYSTEM.lock().unwrap_or_else(PoisonError::into_inner) = system.expose_provenance();
        // SAFETY: `system` is not null, as SQLite is built with a layer for this system; the table is plain
        // data, and a copy of it is what its author does for layers that differ in one function.
        let mut ours = unsafe { *system };
        ours.zName = NAME.as_ptr();
        ours.pNext = std::ptr::null_mut();
        ours.xOpen = Some(open);
        ours.xDelete = Some(delete);
        // SAFETY: the table is leaked, so it lives as long as the process, as registering it demands.
        let registered = unsafe { ffi::sqlite3_vfs_register(Box::leak(Box::new(ours)), 1) };
        assert_eq!(registered, SQLITE_OK);
    });
}

fn system() -> *mut sqlite3_vfs {
    let address = *SYSTEM.lock().unwrap_or_else(PoisonError::into_inner);
    std::ptr::with_exposed_provenance_mut(address)
}

fn path_of(name: *const c_char) -> Option<PathBuf> {
    if name.is_null() {
        return None;
    }
    // SAFETY: SQLite hands over names that end with a zero and live as long as the call.
    let name = unsafe { CStr::from_ptr(name) };
    Some(PathBuf::from(name.to_str().ok()?))
}

unsafe extern "C" fn open(
    _: *mut sqlite3_vfs,
    name: *const c_char,
    file: *mut sqlite3_file,
    flags: c_int,
    flags_out: *mut c_int,
) -> c_int {
    let path = path_of(name);
    let created = flags & SQLITE_OPEN_CREATE != 0 && path.as_deref().is_some_and(|p| !p.exists());
    if let Some(path) = &path
        && let Answer::Fail(code) = asked(path, &Request::Open { created })
    {
        // SAFETY: `file` is room for a file; without methods SQLite takes it as one that was not opened.
        unsafe { (*file).pMethods = std::ptr::null() };
        return code;
    }
    let system = system();
    // SAFETY: the arguments are those that SQLite gave, for a layer of the same size of files.
    let opened = unsafe { (*system).xOpen.map(|own| own(system, name, file, flags, flags_out)) };
    let opened = opened.unwrap_or(ffi::SQLITE_ERROR);
    // SAFETY: the system's layer has set the methods, or left them null.
    let own = unsafe { (*file).pMethods.as_ref() };
    if let (SQLITE_OK, Some(own), Some(path)) = (opened, own, path) {
        let mut ours = *own;
        ours.xWrite = Some(write);
        ours.xTruncate = Some(truncate);
        ours.xSync = Some(sync);
        ours.xClose = Some(close);
        let mut all = OPEN.lock().unwrap_or_else(PoisonError::into_inner);
        all.get_or_insert_default().insert(file.addr(), Open { path, own });
        // SAFETY: the table is leaked, so it outlives the file. The tests open some thousand files: no matter.
        unsafe { (*file).pMethods = Box::leak(Box::new(ours)) };
    }
    opened
}

unsafe extern "C" fn delete(_: *mut sqlite3_vfs, name: *const c_char, synced: c_int) -> c_int {
    if let Some(path) = path_of(name)
        && let Answer::Fail(code) = asked(&path, &Request::Delete { synced: synced != 0 })
    {
        return code;
    }
    let system = system();
    // SAFETY: the arguments are those that SQLite gave.
    let deleted = unsafe { (*system).xDelete.map(|own| own(system, name, synced)) };
    deleted.unwrap_or(ffi::SQLITE_ERROR)
}

/// Where a file that is open lies, and its own methods.
fn found(file: *mut sqlite3_file) -> Option<(PathBuf, &'static sqlite3_io_methods)> {
    let all = OPEN.lock().unwrap_or_else(PoisonError::into_inner);
    let open = all.as_ref()?.get(&file.addr())?;
    Some((open.path.clone(), open.own))
}

fn answer(path: &Path, request: &Request<'_>) -> Result<(), c_int> {
    match asked(path, request) {
        Answer::Do => Ok(()),
        Answer::Fail(code) | Answer::Part(_, code) => Err(code),
    }
}

unsafe extern "C" fn write(
    file: *mut sqlite3_file,
    bytes: *const c_void,
    length: c_int,
    at: sqlite3_int64,
) -> c_int {
    let Some((path, own)) = found(file) else { return ffi::SQLITE_IOERR };
    // SAFETY: SQLite hands over so many bytes, which nobody changes during the call.
    let content = unsafe { std::slice::from_raw_parts(bytes.cast::<u8>(), length as usize) };
    let answer = asked(&path, &Request::Write { at: at as u64, bytes: content });
    let (length, code) = match answer {
        Answer::Do => (length, SQLITE_OK),
        Answer::Part(part, code) => (part as c_int, code),
        Answer::Fail(code) => return code,
    };
    // SAFETY: the arguments are those that SQLite gave, or fewer of the bytes.
    let written = unsafe { own.xWrite.map(|own| own(file, bytes, length, at)) };
    match written {
        Some(SQLITE_OK) => code,
        written => written.unwrap_or(ffi::SQLITE_ERROR),
    }
}

unsafe extern "C" fn truncate(file: *mut sqlite3_file, size: sqlite3_int64) -> c_int {
    let Some((path, own)) = found(file) else { return ffi::SQLITE_IOERR };
    if let Err(code) = answer(&path, &Request::Truncate { size: size as u64 }) {
        return code;
    }
    // SAFETY: the arguments are those that SQLite gave.
    unsafe { own.xTruncate.map_or(ffi::SQLITE_ERROR, |own| own(file, size)) }
}

unsafe extern "C" fn sync(file: *mut sqlite3_file, flags: c_int) -> c_int {
    let Some((path, own)) = found(file) else { return ffi::SQLITE_IOERR };
    if let Err(code) = answer(&path, &Request::Sync) {
        return code;
    }
    // SAFETY: the arguments are those that SQLite gave.
    unsafe { own.xSync.map_or(ffi::SQLITE_ERROR, |own| own(file, flags)) }
}

unsafe extern "C" fn close(file: *mut sqlite3_file) -> c_int {
    let mut all = OPEN.lock().unwrap_or_else(PoisonError::into_inner);
    let Some(open) = all.as_mut().and_then(|all| all.remove(&file.addr())) else {
        return ffi::SQLITE_IOERR;
    };
    drop(all);
    // SAFETY: the argument is the one that SQLite gave; from here on the file has its own methods again.
    unsafe {
        (*file).pMethods = open.own;
        open.own.xClose.map_or(ffi::SQLITE_ERROR, |own| own(file))
    }
}
