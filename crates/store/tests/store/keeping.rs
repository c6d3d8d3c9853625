//! The worker that writes while the window goes on.

use std::time::Duration;

use document::History;
use layers::{ChannelId, LayerId};
use store::{Access, Changes, Keeper, Opened, Project};

use crate::content::assert_same;
use crate::documents::{full, stroke, with_layer};
use crate::round_trip::{PAINTED, folder};

const LONG: Duration = Duration::from_mins(1);

#[test]
fn what_is_acknowledged_is_on_disk_and_bursts_end_as_they_were_meant() {
    let folder = folder();
    let [path, other] = ["a.scumble", "b.scumble"].map(|name| folder.path().join(name));
    let mut history = History::new(full(64));
    let keeper = Keeper::start(Project::create(&path, &history).unwrap()).unwrap();
    assert!(keeper.progress().is_all_on_disk());
    for seed in 1..60 {
        let painted = stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0)], seed);
        history.push(painted, format!("paint {seed}"));
        if seed % 7 == 0 {
            history.undo();
        }
        let made = history.entries().0.last().unwrap().number;
        let edits = [(made, format!("edit {seed}"))].into();
        keeper.keep(Changes { edits, ..Changes::of_history(&history) });
    }
    let last = keeper.keep(Changes::naming("here", &history));
    let progress = keeper.wait(last, LONG);
    assert_eq!((progress.on_disk, progress.fault.as_deref()), (last, None));

    // As the disk has it at this moment.
    std::fs::copy(&path, &other).unwrap();
    std::fs::copy(folder.path().join("a.scumble-wal"), folder.path().join("b.scumble-wal"))
        .unwrap();
    let Opened { history: back, project, .. } = Project::open(&other, Access::ReadWrite).unwrap();
    assert_same(&back, &history);
    assert_eq!(project.points().unwrap().len(), 1);

    keeper.finish().unwrap().close().unwrap();
    let opened = Project::open(&path, Access::ReadOnly).unwrap();
    assert_same(&opened.history, &history);
    assert_eq!(opened.damage, []);
    let last = history.entries().0.last().unwrap().number;
    assert_eq!(opened.edits.last_key_value(), Some((&last, &"edit 59".to_owned())));
}

#[test]
fn what_was_handed_over_is_written_before_the_keeper_goes() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = History::new(full(64));
    let keeper = Keeper::start(Project::create(&path, &history).unwrap()).unwrap();
    history.push(with_layer(history.present(), 0, LayerId(3), |layer| layer.name.clear()), "name");
    keeper.keep(Changes { view_state: Some("v".to_owned()), ..Changes::of_history(&history) });
    drop(keeper);
    let Opened { history: back, project, .. } = Project::open(&path, Access::ReadOnly).unwrap();
    assert_same(&back, &history);
    assert_eq!(project.view_state().unwrap().as_deref(), Some("v"));
}

#[test]
fn a_project_that_can_not_be_written_is_a_fault_and_what_was_given_is_kept() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = History::new(full(64));
    drop(Project::create(&path, &history).unwrap());
    let Opened { project, .. } = Project::open(&path, Access::ReadOnly).unwrap();
    let keeper = Keeper::start(project).unwrap();
    history.push(with_layer(history.present(), 0, LayerId(3), |layer| layer.name.clear()), "name");
    let number = keeper.keep(Changes::of_history(&history));
    let progress = keeper.wait(number, LONG);
    assert!(progress.fault.is_some_and(|fault| fault.contains("read-only")));
    assert_eq!(progress.on_disk, 0);
    history.push(with_layer(history.present(), 0, LayerId(3), |layer| layer.visible = false), "");
    keeper.keep(Changes::of_history(&history));
    assert_same(&keeper.unwritten().unwrap().history.unwrap(), &history);
}
