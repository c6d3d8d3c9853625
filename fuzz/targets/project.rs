//! Bytes as a project file.
#![no_main]

use std::sync::OnceLock;

use tempfile::TempDir;

static FOLDER: OnceLock<TempDir> = OnceLock::new();

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let folder = FOLDER.get_or_init(|| tempfile::tempdir().expect("a temporary folder"));
    scumble_fuzz::project(folder.path(), bytes);
});
