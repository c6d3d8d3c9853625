//! Work that is kept in a project file and opened again in between, against the same work in memory alone.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use document::Edit;
use editor::{Editor, Settings};
use proptest::strategy::{Strategy as _, ValueTree as _};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use raster::Unobserved;
use rusqlite::{Connection, OpenFlags};
use store::{Access, Changes, Opened, Project};
use tempfile::TempDir;

use crate::random_edits::{Desk, Op, op, size};

/// Entries in order: the label, and the hash that stands for all that the document holds.
fn entries(path: &Path) -> Vec<(String, Vec<u8>)> {
    let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
    let mut rows = connection.prepare("SELECT label, root FROM revision ORDER BY number").unwrap();
    let rows = rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
    rows.map(Result::unwrap).collect()
}

/// Two editors that do the same. One of them has its work from the file each time that it is opened.
struct Pair {
    folder: TempDir,
    in_memory: Editor,
    from_file: Editor,
    project: Option<Project>,
    start: Vec<u8>,
}

impl Pair {
    fn new(desk: &Desk) -> Self {
        let folder = tempfile::tempdir_in("/dev/shm").or_else(|_| tempfile::tempdir()).unwrap();
        let in_memory = desk.editor(Settings::default());
        let path = folder.path().join("a.scumble");
        Project::create(&path, in_memory.history()).unwrap().close().unwrap();
        let start = entries(&path)[0].1.clone();
        let (project, from_file) = opened(&path);
        Self { folder, in_memory, from_file, project: Some(project), start }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("a.scumble")
    }

    fn both(&mut self, deed: impl Fn(&mut Editor) -> bool) -> bool {
        let done = deed(&mut self.in_memory);
        assert_eq!(deed(&mut self.from_file), done);
        done
    }

    fn keep(&mut self) {
        let changes = Changes::of_history(self.from_file.history());
        self.project.as_mut().unwrap().commit(&changes).unwrap();
    }

    fn reopen(&mut self) {
        self.keep();
        self.project.take().unwrap().close().unwrap();
        let other = self.folder.path().join("b.scumble");
        drop(Project::create(&other, self.in_memory.history()).unwrap());
        assert!(entries(&self.path()) == entries(&other), "the file has something else");
        std::fs::remove_file(&other).unwrap();
        let (project, from_file) = opened(&self.path());
        let shown = |editor: &Editor| editor.history().entries().1;
        assert_eq!(shown(&from_file), shown(&self.in_memory));
        (self.project, self.from_file) = (Some(project), from_file);
    }

    /// Undoes everything: the document has the hash that it had at the start.
    fn undo_all(mut self) {
        self.reopen();
        let mut history = self.from_file.history().clone();
        while history.undo() {}
        history.push(history.present().clone(), "as at the start");
        let mut project = self.project.take().unwrap();
        project.commit(&Changes::of_history(&history)).unwrap();
        assert_eq!(project.verify().unwrap(), []);
        project.close().unwrap();
        let roots: Vec<_> = entries(&self.path()).into_iter().map(|(_, root)| root).collect();
        assert_eq!(roots, [self.start.clone(), self.start.clone()]);
    }
}

fn opened(path: &Path) -> (Project, Editor) {
    let Opened { project, history, damage, .. } = Project::open(path, Access::ReadWrite).unwrap();
    assert_eq!(damage, []);
    (project, Editor::resume(history, Settings::default()).unwrap())
}

/// What a walk did.
#[derive(Debug, Default)]
struct Steps {
    edits: u32,
    refused: u32,
    moves: u32,
    reopened: u32,
}

fn walk(desk: &Desk, seed: u8, length: u32, steps: &mut Steps) {
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[seed; 32]);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    let mut draw = || (op(), 0..100u32, 0..64usize).new_tree(&mut runner).unwrap().current();
    let mut pair = Pair::new(desk);
    for _ in 0..length {
        let (op, deed, number) = draw();
        match deed {
            0..76 => one_edit(desk, &mut pair, &op, steps),
            76..86 => steps.moves += u32::from(pair.both(Editor::undo)),
            86..92 => steps.moves += u32::from(pair.both(Editor::redo)),
            92 => {
                let entries = pair.in_memory.history().entries().0.len();
                steps.moves += u32::from(pair.both(|editor| editor.go_to(number % entries)));
            }
            93 => {
                steps.reopened += 1;
                pair.reopen();
            }
            _ => pair.keep(),
        }
    }
    pair.undo_all();
}

fn one_edit(desk: &Desk, pair: &mut Pair, op: &Op, steps: &mut Steps) {
    let document = pair.in_memory.document();
    let edit = if document.model.is_none() {
        Edit::Import { model: Arc::clone(&desk.model), size: size(64) }
    } else {
        desk.edit(op, document)
    };
    let applied = pair.both(|editor| editor.apply(&edit, &Unobserved).is_ok());
    if applied {
        steps.edits += 1;
    } else {
        steps.refused += 1;
    }
}

#[test]
fn ten_thousand_edits_undone_redone_and_opened_again_are_what_they_are_in_memory() {
    let desk = Desk::new();
    let mut steps = Steps::default();
    for seed in 0..100 {
        println!("seed {seed}: {steps:?}");
        walk(&desk, seed, 100, &mut steps);
    }
    assert!(steps.edits > 3_000 && steps.moves > 500 && steps.reopened > 50, "{steps:?}");
}
