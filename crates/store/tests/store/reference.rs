//! Files of every version that there was must open for good.

use std::path::{Path, PathBuf};

use document::{Document, History};
use layers::ChannelId;
use store::{Access, Changes, Project};

use crate::content::assert_same;
use crate::documents::{full, stroke};
use crate::round_trip::{PAINTED, folder};

fn kept() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/projects/version-1.scumble")
}

/// What the file holds. It was written by [`write_the_file_of_this_version`] and must never be again.
fn history() -> History {
    let mut history = History::new(Document::default());
    history.push(full(128), "Import");
    let painted = stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0), (1, 0)], 1);
    history.push(painted, "Paint");
    history.push(full(64), "Smaller");
    history.undo();
    history
}

#[test]
fn a_project_of_version_1_opens_and_goes_on() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    std::fs::copy(kept(), &path).unwrap();
    let opened = Project::open(&path, Access::ReadWrite).unwrap();
    assert_eq!(opened.damage, []);
    assert_same(&opened.history, &history());
    let mut project = opened.project;
    let points = project.points().unwrap();
    assert_eq!(
        points.iter().map(|p| (p.name.as_str(), p.revision)).collect::<Vec<_>>(),
        [("here", 3)]
    );
    assert_eq!(project.document_of(&points[0]).unwrap().1, []);
    assert_eq!(project.view_state().unwrap().as_deref(), Some("{}"));
    let mut history = opened.history;
    history.push(stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 1)], 2), "Paint");
    project.commit(&Changes::of_history(&history)).unwrap();
    assert_eq!(project.verify().unwrap(), []);
}

/// The file is kept for ever: another version gets a file of its own, made once with `SCUMBLE_KEEP_PROJECT` set.
#[test]
fn a_file_of_this_version_is_made_and_opens() {
    let folder = folder();
    let keeps = std::env::var_os("SCUMBLE_KEEP_PROJECT").is_some();
    let path = if keeps { kept() } else { folder.path().join("made.scumble") };
    let history = history();
    let mut project = Project::create(&path, &history).unwrap();
    project.commit(&Changes::naming("here", &history)).unwrap();
    project.set_view_state("{}").unwrap();
    project.close().unwrap();
    let opened = Project::open(&path, Access::ReadOnly).unwrap();
    assert_eq!(opened.damage, []);
    assert_same(&opened.history, &history);
}
