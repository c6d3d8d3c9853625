//! What is asked of a project while it is written: points, and copies to go on in.

use std::time::Duration;

use document::History;
use layers::ChannelId;
use raster::Observer;
use store::{Access, Changes, Glance, Keeper, Opened, Project, StoreError, is_in_use};

use crate::content::assert_same;
use crate::documents::{full, stroke};
use crate::round_trip::{PAINTED, folder};

const LONG: Duration = Duration::from_mins(1);

/// A history of three strokes.
fn painted() -> History {
    let mut history = History::new(full(64));
    for seed in 1..4 {
        let made = stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0)], seed);
        history.push(made, "paint");
    }
    history
}

#[test]
fn what_is_asked_is_done_after_all_that_was_handed_over_before() {
    let folder = folder();
    let history = painted();
    let path = folder.path().join("a.scumble");
    let keeper = Keeper::start(Project::create(&path, &history).unwrap()).unwrap();
    keeper.keep(Changes::naming("patina", &history));
    let names = |project: &mut Project| {
        project.points().unwrap().into_iter().map(|point| point.name).collect::<Vec<_>>()
    };
    assert_eq!(keeper.ask(names).recv_timeout(LONG).unwrap(), ["patina"]);
    // While something older is written too.
    for number in 1..40 {
        let point = format!("point {number}");
        keeper.keep(Changes::of_history(&history));
        keeper.keep(Changes::naming(&point, &history));
        assert!(keeper.ask(names).recv_timeout(LONG).unwrap().contains(&point), "{point}");
        let gone = keeper.ask(move |project: &mut Project| project.remove_point(&point));
        assert!(gone.recv_timeout(LONG).unwrap().unwrap());
    }
    let last = keeper.ask(|project: &mut Project| project.rename_point("patina", "crust"));
    // It is done even where the keeper goes meanwhile.
    drop(keeper);
    assert!(last.recv_timeout(LONG).unwrap().unwrap());
    let Opened { mut project, damage, .. } = Project::open(&path, Access::ReadWrite).unwrap();
    assert_eq!((names(&mut project), damage), (vec!["crust".to_owned()], Vec::new()));
}

#[test]
fn points_are_renamed_and_let_go_of_and_no_name_is_taken_twice() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = painted();
    let mut project = Project::create(&path, &history).unwrap();
    project.name_point("one", &history).unwrap();
    history.undo();
    project.name_point("two", &history).unwrap();
    assert!(
        !project.rename_point("one", "two").unwrap() && !project.rename_point("x", "y").unwrap()
    );
    assert!(project.rename_point("one", "first").unwrap());
    assert!(project.remove_point("two").unwrap() && !project.remove_point("two").unwrap());
    project.close().unwrap();
    let Opened { mut project, damage, .. } = Project::open(&path, Access::ReadWrite).unwrap();
    assert_eq!(damage, [], "the file knows how many there are");
    let points = project.points().unwrap();
    assert_eq!(points.iter().map(|point| point.name.as_str()).collect::<Vec<_>>(), ["first"]);
    let (document, _) = project.document_of(&points[0]).unwrap();
    history.redo();
    assert_same(&History::new(document.unwrap()), &History::new(history.present().clone()));
}

#[test]
fn a_project_goes_on_in_a_copy_and_the_file_that_it_was_in_stays_whole() {
    let folder = folder();
    let [path, other] = ["a.scumble", "b.scumble"].map(|name| folder.path().join(name));
    let mut history = painted();
    let mut project = Project::create(&path, &history).unwrap();
    let before = history.clone();
    project.go_on_in(&other, &raster::Unobserved).unwrap();
    assert_eq!(project.path(), other);
    let made = stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0)], 9);
    history.push(made, "more");
    let written = project.commit(&Changes::of_history(&history)).unwrap();
    assert!(written.objects < 30, "what is in one is known to be in the other: {written:?}");
    // The old one is free again; the new one is held.
    assert_same(&Project::open(&path, Access::ReadWrite).unwrap().history, &before);
    assert!(matches!(Project::open(&other, Access::ReadWrite), Err(StoreError::InUse(_))));
    assert!(matches!(project.go_on_in(&path, &raster::Unobserved), Err(StoreError::Exists(_))));
    project.close().unwrap();
    let opened = Project::open(&other, Access::ReadWrite).unwrap();
    assert_same(&opened.history, &history);
    assert_eq!((opened.damage, opened.project.verify().unwrap()), (Vec::new(), Vec::new()));
}

#[test]
fn a_glance_tells_what_a_project_is_while_another_has_it_open() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut project = Project::create(&path, &painted()).unwrap();
    assert_eq!(Glance::at(&path).unwrap(), Glance { edits: 3, ..Glance::default() });
    project.set_thumbnail(b"picture").unwrap();
    project.set_view_state("from the left").unwrap();
    let (view_state, thumbnail) = (Some("from the left".to_owned()), Some(b"picture".to_vec()));
    assert_eq!(Glance::at(&path).unwrap(), Glance { view_state, thumbnail, edits: 3 });
    assert!(is_in_use(&path).unwrap());
    drop(project);
    assert!(!is_in_use(&path).unwrap());
    assert!(matches!(Glance::at(folder.path()), Err(StoreError::NotAProject(_))));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

struct Stopped;

impl Observer for Stopped {
    fn progress(&self, _done: u64, _total: u64) {}

    fn stopped(&self) -> bool {
        true
    }
}

#[test]
fn a_copy_that_is_stopped_leaves_nothing_and_the_project_goes_on() {
    let folder = folder();
    let [path, other] = ["a.scumble", "b.scumble"].map(|name| folder.path().join(name));
    let history = painted();
    let mut project = Project::create(&path, &history).unwrap();
    let before = std::fs::read_dir(folder.path()).unwrap().count();
    for stopped in [project.copy_to_watched(&other, &Stopped), project.go_on_in(&other, &Stopped)] {
        assert!(matches!(stopped, Err(StoreError::Cancelled(_))));
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), before);
    project.commit(&Changes::naming("here", &history)).unwrap();
    assert_eq!(project.path(), path);
}
