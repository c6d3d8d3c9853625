//! What is written comes back, and only what changed is written.

use std::path::Path;
use std::sync::Arc;

use document::{Document, History};
use layers::{ChannelId, LayerId};
use store::{Access, Changes, Committed, Opened, Project};
use tempfile::TempDir;

use crate::content::{assert_same, difference, entries, lines, present};
use crate::documents::{any_step, full, selected, stroke, with_layer};

pub(crate) const PAINTED: LayerId = LayerId(3);

pub(crate) fn folder() -> TempDir {
    tempfile::tempdir().unwrap()
}

pub(crate) fn reopened(project: Project) -> Opened {
    let path = project.path().to_owned();
    project.close().unwrap();
    Project::open(&path, Access::ReadWrite).unwrap()
}

#[test]
fn a_document_with_something_of_everything_comes_back_as_it_was() {
    let folder = folder();
    let path = folder.path().join("bell.scumble");
    for edge in [64, 1024] {
        let mut history = History::new(Document::default());
        history.push(full(edge), "im\u{0}port \u{1f514}");
        let project = Project::create(&path, &history).unwrap();
        let Opened { history: back, damage, project, .. } = reopened(project);
        assert_eq!(damage, []);
        assert_same(&back, &history);
        assert_eq!(project.verify().unwrap(), []);
        drop(project);
        std::fs::remove_file(&path).unwrap();
    }
}

/// Steps under one selection share it in memory and in the file, and so does the material that still has it.
#[test]
fn selections_come_back_and_are_shared_as_they_were() {
    let folder = folder();
    let history = History::new(selected(1024));
    let mut project = Project::create(&folder.path().join("a.scumble"), &history).unwrap();
    assert_eq!(project.commit(&Changes::of_history(&history)).unwrap(), Committed::default());
    let Opened { history: back, damage, mut project, .. } = reopened(project);
    assert_eq!(damage, []);
    assert_same(&back, &history);
    assert_eq!(project.verify().unwrap(), []);
    let material = &back.present().materials[0];
    let recipe = material.recipe(PAINTED);
    let within: Vec<_> = recipe.steps.iter().filter_map(|step| step.within.as_ref()).collect();
    let present = material.selection.as_ref().unwrap();
    assert_eq!(within.len(), 4);
    assert!(within[1..].iter().all(|within| Arc::ptr_eq(within, present)));
    assert!(!Arc::ptr_eq(within[0], present));
    assert_eq!(project.commit(&Changes::of_history(&back)).unwrap(), Committed::default());
}

#[test]
fn a_closed_project_is_one_file() {
    let folder = folder();
    let path = folder.path().join("bell.scumble");
    let mut history = History::new(full(64));
    let mut project = Project::create(&path, &history).unwrap();
    history.push(stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(0, 0)], 1), "paint");
    project.commit(&Changes::of_history(&history)).unwrap();
    let names = || {
        let files = std::fs::read_dir(folder.path()).unwrap();
        files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect::<Vec<_>>()
    };
    assert!(names().len() > 1, "the log is there while it is open");
    project.close().unwrap();
    assert_eq!(names(), ["bell.scumble"]);
}

#[test]
fn a_stroke_writes_its_tiles_and_the_nodes_above_them_and_nothing_else() {
    let folder = folder();
    let mut history = History::new(full(1024));
    let mut project = Project::create(&folder.path().join("a.scumble"), &history).unwrap();
    let mut commit = |history: &History| project.commit(&Changes::of_history(history)).unwrap();
    let unchanged = Committed::default();
    assert_eq!(commit(&history), unchanged);

    // Two tiles of one page and one of another, in one value plane and the coverage.
    let tiles = [(3, 3), (4, 3), (9, 9)];
    history.push(stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &tiles, 1), "paint");
    let (tiles, pages, planes) = (2 * 3, 2 * 2, 2);
    // The step, its chunk, the recipe, the layer, the material, the document.
    let above = 6;
    let written = commit(&history);
    assert_eq!((written.revisions, written.objects), (1, tiles + pages + planes + above));

    // A name changes the layer and what stands above it.
    history.push(with_layer(history.present(), 0, PAINTED, |layer| layer.name.push('!')), "name");
    assert_eq!(commit(&history).objects, 3);

    // Undo and redo write no object, and the same after the file was opened again.
    history.undo();
    assert_eq!(commit(&history), unchanged);
    let Opened { project: mut again, history: mut back, .. } = reopened(project);
    assert_eq!(again.commit(&Changes::of_history(&back)).unwrap(), unchanged);
    back.push(with_layer(back.present(), 0, PAINTED, |layer| layer.visible = false), "hide");
    assert_eq!(again.commit(&Changes::of_history(&back)).unwrap().objects, 3);
}

#[test]
fn a_new_step_of_a_long_recipe_rewrites_one_chunk() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = History::new(full(64));
    let mut project = Project::create(&path, &history).unwrap();
    for seed in 0..150 {
        let document = stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &[], seed + 100);
        history.push(document, "paint");
        let written = project.commit(&Changes::of_history(&history)).unwrap();
        // The step, its chunk, the recipe, the material, the document. An empty stroke makes a new layer of
        // the same content.
        assert_eq!(written.objects, 5, "stroke {seed}");
    }
    let Opened { history: back, damage, .. } = reopened(project);
    assert_eq!(damage, []);
    assert_same(&back, &history);
}

#[test]
fn revisions_share_in_memory_what_they_share_in_the_file() {
    let folder = folder();
    let mut history = History::new(full(1024));
    let project = {
        let mut project = Project::create(&folder.path().join("a.scumble"), &history).unwrap();
        for seed in 1..20 {
            let tiles = [(seed % 16, seed % 7)];
            let document = stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &tiles, seed);
            history.push(document, "paint");
        }
        project.commit(&Changes::of_history(&history)).unwrap();
        project
    };
    let Opened { history: back, .. } = reopened(project);
    assert_same(&back, &history);
    // A history counts each tile and each step once: those that are shared don't count again.
    assert_eq!(back.step_bytes(), history.step_bytes());
    assert!(back.tile_bytes() <= history.tile_bytes());
    let last = back.entries().0.last().unwrap().document.clone();
    let first = &back.entries().0.next().unwrap().document;
    assert!(Arc::ptr_eq(&first.materials[1], &last.materials[1]));
    assert!(Arc::ptr_eq(first.model.as_ref().unwrap(), last.model.as_ref().unwrap()));
    let [first, last] = [first, &last].map(|document| &document.materials[0].fields);
    assert!(first.iter().zip(last).all(|((_, a), (_, b))| a.same(b)));
}

#[test]
fn a_name_keeps_a_document_though_it_was_undone_and_dropped() {
    let folder = folder();
    let mut history = History::new(full(64));
    let mut project = Project::create(&folder.path().join("a.scumble"), &history).unwrap();
    let hidden = with_layer(history.present(), 0, PAINTED, |layer| layer.visible = false);
    history.push(hidden.clone(), "hide");
    project.name_point("as shown to \"N.\"", &history).unwrap();
    history.undo();
    let renamed = with_layer(history.present(), 0, PAINTED, |layer| layer.name.clear());
    history.push(renamed, "rename");
    project.commit(&Changes::of_history(&history)).unwrap();
    project.collect_garbage(0).unwrap();

    let Opened { mut project, history: back, damage, .. } = reopened(project);
    assert_eq!(damage, []);
    assert_eq!(back.entries().0.map(|entry| entry.label.as_str()).last(), Some("rename"));
    let points = project.points().unwrap();
    assert_eq!(points.len(), 1);
    assert_eq!((points[0].name.as_str(), points[0].revision), ("as shown to \"N.\"", 2));
    let (document, damage) = project.document_of(&points[0]).unwrap();
    assert_eq!(damage, []);
    assert_eq!(difference(&lines(&document.unwrap()), &lines(&hidden)), None);
}

#[test]
fn what_the_window_keeps_comes_back() {
    let folder = folder();
    let history = History::new(full(64));
    let mut project = Project::create(&folder.path().join("a.scumble"), &history).unwrap();
    assert_eq!((project.view_state().unwrap(), project.thumbnail().unwrap()), (None, None));
    project.set_view_state("{\"turn\": 0.25}").unwrap();
    project.set_thumbnail(&[1, 2, 3]).unwrap();
    let Opened { project, .. } = reopened(project);
    assert_eq!(project.view_state().unwrap().as_deref(), Some("{\"turn\": 0.25}"));
    assert_eq!(project.thumbnail().unwrap().as_deref(), Some(&[1, 2, 3][..]));
}

#[test]
fn a_copy_has_everything_and_a_packed_one_the_present_document_alone() {
    let folder = folder();
    let [path, copy, packed] = ["a", "b", "c"].map(|name| folder.path().join(name));
    let mut history = History::new(full(1024));
    let mut project = Project::create(&path, &history).unwrap();
    for seed in 1..40 {
        let document = any_step(history.present(), PAINTED, ChannelId::ROUGHNESS, &[(3, 3)], seed);
        history.push(document, format!("paint {seed}"));
    }
    history.undo();
    project.commit(&Changes::of_history(&history)).unwrap();
    project.name_point("here", &history).unwrap();
    std::fs::write(&copy, "an older file").unwrap();
    project.copy_to(&copy).unwrap();
    project.pack(&packed).unwrap();

    let open = |path| Project::open(path, Access::ReadWrite).unwrap();
    let opened = open(&copy);
    assert_eq!(opened.damage, []);
    assert_same(&opened.history, &history);
    assert_eq!(opened.project.points().unwrap().len(), 1);
    let opened = open(&packed);
    assert_eq!((opened.damage.len(), opened.history.entries().0.len()), (0, 1));
    let (found, was) = (lines(opened.history.present()), lines(history.present()));
    assert_eq!(difference(&found, &was), None);
    let label = &opened.history.entries().0.next().unwrap().label;
    assert_eq!(label, "paint 38");
    assert_eq!(opened.project.verify().unwrap(), []);
    drop(opened);
    let bytes = |path| std::fs::metadata(path).unwrap().len();
    assert!(bytes(&packed) < bytes(&copy));
    project.commit(&Changes::of_history(&history)).unwrap();
}

#[test]
fn what_is_beyond_the_budget_goes_from_the_oldest_on_and_the_rest_stays_whole() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = History::new(full(1024));
    let mut project = Project::create(&path, &history).unwrap();
    let tiles: Vec<_> = (0..64).map(|index| (index % 8, index / 8)).collect();
    for seed in 1..30 {
        history.push(any_step(history.present(), PAINTED, ChannelId::ROUGHNESS, &tiles, seed), "");
    }
    history.undo();
    project.commit(&Changes::of_history(&history)).unwrap();
    project.checkpoint().unwrap();
    let bytes = |path: &Path| std::fs::metadata(path).unwrap().len();
    let before = bytes(&path);
    assert_eq!(project.collect_garbage(u64::MAX).unwrap().revisions, 0);
    let collected = project.collect_garbage(before / 3).unwrap();
    assert!((10..25).contains(&collected.revisions), "{collected:?}");

    // What was let go of is written again if it is still in memory and needed.
    let first = history.entries().0.next().unwrap().document.clone();
    history.push(first, "as at first");
    project.commit(&Changes::of_history(&history)).unwrap();
    let copy = folder.path().join("b.scumble");
    project.copy_to(&copy).unwrap();
    let Opened { history: back, damage, project: mut copied, .. } =
        Project::open(&copy, Access::ReadWrite).unwrap();
    assert_eq!(damage, []);
    let (all, kept) = (entries(&history), entries(&back));
    assert!(kept.len() > 5 && kept.iter().all(|(number, entry)| all[number] == *entry));
    assert_eq!(present(&back), present(&history));
    assert_eq!(copied.verify().unwrap(), []);

    // Tiles that only the history in memory wants go once that is gone.
    assert!(bytes(&path) > before / 2, "{} of {before}", bytes(&path));
    let collected = copied.collect_garbage(u64::MAX).unwrap();
    assert!(collected.revisions == 0 && collected.objects > 0, "{collected:?}");
    copied.close().unwrap();
    assert!(bytes(&copy) < before / 2, "{} of {before}", bytes(&copy));
    let back = Project::open(&copy, Access::ReadOnly).unwrap();
    assert_eq!((back.damage, entries(&back.history)), (vec![], kept));
    assert_eq!(back.project.verify().unwrap(), []);

    // Going back to one that only memory has brings it into the file again, and what follows it.
    history.go_to(2);
    project.commit(&Changes::of_history(&history)).unwrap();
    let Opened { history: back, .. } = reopened(project);
    assert_eq!(present(&back), 3);
    assert_eq!(entries(&back).into_keys().next(), Some(3));
}
