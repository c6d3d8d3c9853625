//! Tiles that lie in the file: memory lets go of them, and they are the same when they come back.

use std::sync::Arc;

use document::{Document, History};
use layers::ChannelId;
use raster::{Tile, TileBody, Unobserved};
use store::{Access, Changes, Opened, Project};

use crate::content::{assert_same, entries};
use crate::documents::{any_step, full};
use crate::round_trip::{PAINTED, folder};

/// Every distinct body of all entries.
fn bodies(history: &History) -> Vec<Arc<TileBody>> {
    let mut found: Vec<Arc<TileBody>> = Vec::new();
    let mut add = |document: &Document| {
        document.for_each_idle_tile(None, &mut |tile| {
            if let Tile::Texels(body) = tile
                && !found.iter().any(|known| Arc::ptr_eq(known, body))
            {
                found.push(Arc::clone(body));
            }
        });
    };
    history.entries().0.for_each(|entry| add(&entry.document));
    found
}

fn bytes(history: &History) -> usize {
    bodies(history).iter().map(|body| body.resident_bytes()).sum()
}

fn painted() -> History {
    let mut history = History::new(full(512));
    for seed in 1..20 {
        let tiles = [(seed % 8, 1), (2, seed % 8)];
        history.push(
            any_step(history.present(), PAINTED, ChannelId::ROUGHNESS, &tiles, seed),
            "paint",
        );
    }
    history
}

#[test]
fn what_is_on_disk_leaves_memory_when_asked_and_comes_back_as_it_was() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = painted();
    let mut project = Project::create(&path, &history).unwrap();
    let next = any_step(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(3, 3)], 77);
    history.push(next, "paint");
    project.commit(&Changes::of_history(&history)).unwrap();

    let before = entries(&history);
    let bodies = bodies(&history);
    assert!(bodies.iter().all(|body| body.is_resident()));
    assert!(bodies.iter().all(|body| body.let_go() > 0), "each of them is in the file");
    assert!(bytes(&history) < bodies.len() * 200, "{} bytes", bytes(&history));
    assert_eq!(entries(&history), before);

    // They can be had as long as somebody wants them, and closing leaves one file all the same.
    project.close().unwrap();
    let files = std::fs::read_dir(folder.path()).unwrap().count();
    assert_eq!((files, entries(&history)), (1, before));
}

#[test]
fn a_project_opens_without_its_tiles_and_goes_on_with_them() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = painted();
    Project::create(&path, &history).unwrap().close().unwrap();
    let Opened { mut project, history: mut back, .. } =
        Project::open(&path, Access::ReadWrite).unwrap();
    assert!(bodies(&back).iter().all(|body| !body.is_resident()));
    assert!(bytes(&back) < bytes(&history) / 20);

    for history in [&mut history, &mut back] {
        let tiles = [(1, 1), (3, 2)];
        history.push(
            any_step(history.present(), PAINTED, ChannelId::BASE_COLOUR, &tiles, 99),
            "paint",
        );
    }
    let committed = project.commit(&Changes::of_history(&back)).unwrap();
    assert!(committed.objects < 100, "{committed:?}");
    project.close().unwrap();
    let again = Project::open(&path, Access::ReadOnly).unwrap();
    assert_same(&again.history, &history);
}

#[test]
fn tiles_that_only_memory_s_history_wants_outlive_the_file_s_budget() {
    let folder = folder();
    let mut history = painted();
    let mut project = Project::create(&folder.path().join("a.scumble"), &history).unwrap();
    let before = entries(&history);
    for body in bodies(&history) {
        _ = body.let_go();
    }
    assert!(project.collect_garbage(0).unwrap().revisions > 10);
    assert_eq!(project.watch().kept_bytes(), 0);
    assert_eq!(entries(&history), before);
    assert!(project.watch().kept_bytes() >= 8192 && project.watch().damage(0).is_empty());

    // And the file can have them again.
    assert!(history.go_to(0));
    project.commit(&Changes::of_history(&history)).unwrap();
    assert_eq!(project.verify().unwrap(), []);
}

#[test]
fn work_kept_in_another_place_no_longer_needs_the_first() {
    let folder = folder();
    let [first, second] = ["a.scumble", "b.scumble"].map(|name| folder.path().join(name));
    let history = painted();
    Project::create(&first, &history).unwrap().close().unwrap();
    let Opened { project, history: back, .. } = Project::open(&first, Access::ReadOnly).unwrap();
    let kept = Project::create(&second, &back).unwrap();
    drop(project);
    std::fs::remove_file(&first).unwrap();
    assert_same(&back, &history);
    kept.close().unwrap();
}

#[test]
fn what_is_on_show_opens_first_and_what_was_before_joins_it_later() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = painted();
    history.undo();
    Project::create(&path, &history).unwrap().close().unwrap();
    let (opened, earlier) = Project::open_shown(&path, Access::ReadWrite).unwrap();
    let Opened { mut project, history: mut back, .. } = opened;
    assert_eq!((back.entries().0.len(), back.entries().1), (2, 0));
    assert_eq!(
        earlier.list().map(|(number, _)| number).collect::<Vec<_>>(),
        (1..19).collect::<Vec<_>>()
    );

    // One goes on meanwhile, and the file keeps what was not read.
    let next = any_step(back.present(), PAINTED, ChannelId::ROUGHNESS, &[(3, 3)], 77);
    history.push(next.clone(), "paint");
    back.push(next, "paint");
    project.commit(&Changes::of_history(&back)).unwrap();
    let shown = back.present().clone();
    let found = earlier.read(&Unobserved).unwrap();
    assert_eq!(found.damage, []);
    assert!(back.put_before(found.history.unwrap()));
    assert_same(&back, &history);
    let (older, newer) = (&back.entries().0.nth(18).unwrap().document, &shown);
    assert!(Arc::ptr_eq(older.model.as_ref().unwrap(), newer.model.as_ref().unwrap()));
    let [older, newer] = [older, newer].map(|document| document.materials[0].stack.layers.last());
    assert!(Arc::ptr_eq(older.unwrap(), newer.unwrap()), "what did not change is one");

    project.commit(&Changes::of_history(&back)).unwrap();
    project.close().unwrap();
    assert_same(&Project::open(&path, Access::ReadOnly).unwrap().history, &history);
}
