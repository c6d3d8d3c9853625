//! Who may open what, and files that are no projects.

use std::fs;

use document::History;
use layers::ChannelId;
use store::{Access, Changes, Opened, Project, StoreError};

use crate::content::assert_same;
use crate::documents::{full, stroke};
use crate::round_trip::{PAINTED, folder};

fn refusal(path: &std::path::Path) -> String {
    let [first, second] = [Access::ReadWrite, Access::ReadOnly].map(|access| {
        let error = Project::open(path, access).unwrap_err();
        error.to_string()
    });
    assert_eq!(first, second);
    first.replace(path.to_str().unwrap(), "FILE")
}

#[test]
fn a_second_writer_is_told_that_another_one_has_the_file_and_may_read_it() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = History::new(full(64));
    let mut project = Project::create(&path, &history).unwrap();
    let second = Project::open(&path, Access::ReadWrite).unwrap_err();
    assert!(matches!(second, StoreError::InUse(_)), "{second}");
    let told = "another Scumble has this project open; close it there, or open it read-only here";
    assert!(second.to_string().ends_with(told));

    let Opened { project: mut reader, history: read, damage, .. } =
        Project::open(&path, Access::ReadOnly).unwrap();
    assert_same(&read, &history);
    assert_eq!(damage, []);
    let refused = reader.commit(&Changes::of_history(&read));
    assert!(matches!(refused, Err(StoreError::ReadOnly)));

    // The writer goes on while it is read, and closes; what was read stays.
    history.push(stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0)], 1), "paint");
    project.commit(&Changes::of_history(&history)).unwrap();
    project.close().unwrap();
    drop(reader);
    let Opened { history: read, .. } = Project::open(&path, Access::ReadWrite).unwrap();
    assert_same(&read, &history);
}

#[test]
fn a_writer_that_is_gone_leaves_no_lock() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    drop(Project::create(&path, &History::new(full(64))).unwrap());
    fs::write(folder.path().join("a.scumble.lock"), "").unwrap();
    assert!(Project::open(&path, Access::ReadWrite).is_ok());
}

#[test]
fn what_was_committed_is_there_though_the_file_was_never_closed() {
    let folder = folder();
    let [path, other] = ["a.scumble", "b.scumble"].map(|name| folder.path().join(name));
    let mut history = History::new(full(64));
    let mut project = Project::create(&path, &history).unwrap();
    for seed in 1..4 {
        let painted = stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0)], seed);
        history.push(painted, "paint");
        project.commit(&Changes::of_history(&history)).unwrap();
    }
    // As after a crash: the file and its log, no lock.
    fs::copy(&path, &other).unwrap();
    fs::copy(folder.path().join("a.scumble-wal"), folder.path().join("b.scumble-wal")).unwrap();
    for access in [Access::ReadOnly, Access::ReadWrite] {
        let Opened { history: back, damage, .. } = Project::open(&other, access).unwrap();
        assert_same(&back, &history);
        assert_eq!(damage, []);
    }
}

/// Root may write anywhere, so this says nothing where tests run as root.
#[cfg(unix)]
#[test]
fn a_project_in_a_folder_that_can_not_be_written_opens_read_only() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let history = History::new(full(64));
    Project::create(&path, &history).unwrap().close().unwrap();
    let allow = |file: u32, inside: u32| {
        fs::set_permissions(&path, fs::Permissions::from_mode(file)).unwrap();
        fs::set_permissions(folder.path(), fs::Permissions::from_mode(inside)).unwrap();
    };
    allow(0o444, 0o555);
    let opened = Project::open(&path, Access::ReadOnly);
    let opened = opened.unwrap();
    assert_same(&opened.history, &history);
    drop(opened);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "reading leaves nothing behind");
    allow(0o644, 0o755);
}

#[test]
fn a_file_that_is_there_is_not_written_over() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    fs::write(&path, "a letter").unwrap();
    let refused = Project::create(&path, &History::new(full(64)));
    assert!(matches!(refused, Err(StoreError::Exists(_))));
    assert_eq!(fs::read(&path).unwrap(), b"a letter");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");
}

#[test]
fn a_copy_does_not_replace_a_project_that_is_open() {
    let folder = folder();
    let [path, other] = ["a.scumble", "b.scumble"].map(|name| folder.path().join(name));
    let project = Project::create(&path, &History::new(full(64))).unwrap();
    let held = Project::create(&other, &History::new(full(64))).unwrap();
    assert!(matches!(project.copy_to(&other), Err(StoreError::InUse(_))));
    assert!(matches!(project.copy_to(&path), Err(StoreError::InUse(_))));
    assert!(matches!(project.pack(&other), Err(StoreError::InUse(_))));
    drop(held);
    project.copy_to(&other).unwrap();
}

#[test]
fn files_that_are_no_projects_are_told_so() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    for content in [&b""[..], b"a letter", &[0; 4096], b"SQLite format 3\0"] {
        fs::write(&path, content).unwrap();
        assert_eq!(refusal(&path), "FILE: this is no Scumble project");
    }
    assert!(refusal(folder.path()).ends_with("this is no Scumble project"));
    assert!(refusal(&folder.path().join("none")).contains("can't be opened"));
    fs::remove_file(&path).unwrap();
    rusqlite::Connection::open(&path).unwrap().execute_batch("CREATE TABLE a(b)").unwrap();
    assert_eq!(refusal(&path), "FILE: this is no Scumble project");
}

#[test]
fn a_project_of_a_later_version_is_told_by_its_number() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    Project::create(&path, &History::new(full(64))).unwrap().close().unwrap();
    let set = |sql: &str| {
        rusqlite::Connection::open(&path).unwrap().execute_batch(sql).unwrap();
    };
    set("PRAGMA user_version = 2");
    let told = "this project has version 2, and this program knows versions up to 1: \
                open it with a newer Scumble";
    assert_eq!(refusal(&path), told);
    set("PRAGMA user_version = 1; DROP TABLE point");
    assert!(refusal(&path).contains("table point is gone"));
    set("PRAGMA application_id = 7");
    assert_eq!(refusal(&path), "FILE: this is no Scumble project");
}
