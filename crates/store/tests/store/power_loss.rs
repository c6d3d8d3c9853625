//! Power that fails at any moment: what the disk then has opens, with all that was acknowledged.

use std::path::Path;

use rusqlite::{Connection, OpenFlags};
use store::{Access, Opened, Project};
use tempfile::TempDir;

use crate::chance::Chance;
use crate::disk::power::{Lost, SECTOR};
use crate::disk::{Event, Image, NAME, Watched, What, quick_folder};
use crate::script::{Deed, Script, number};

/// All rows of a project but for when they were made; contents are told by their hashes.
type Rows = (Vec<(i64, String, Vec<u8>)>, Vec<(String, Vec<u8>)>, Vec<(String, Vec<u8>)>);

fn rows(path: &Path) -> Rows {
    let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
    let pairs = |sql: &str| {
        let mut rows = connection.prepare(sql).unwrap();
        let rows = rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
        rows.map(Result::unwrap).collect()
    };
    let mut revisions =
        connection.prepare("SELECT number, label, root FROM revision ORDER BY number").unwrap();
    let revisions = revisions.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)));
    (
        revisions.unwrap().map(Result::unwrap).collect(),
        pairs("SELECT name, root FROM point ORDER BY name"),
        pairs("SELECT key, value FROM state ORDER BY key"),
    )
}

/// What a file must have after each of the changes of a script: another one, in which nothing ever fails.
#[derive(Debug)]
pub(crate) struct Twin {
    states: Vec<Rows>,
}

impl Twin {
    pub(crate) fn new(seed: u64, changes: u32) -> Self {
        let folder = quick_folder();
        let path = folder.path().join(NAME);
        let mut script = Script::new(seed);
        let mut project = Project::create(&path, &script.history).unwrap();
        let mut states = vec![rows(&path)];
        while script.number < changes {
            if let Deed::Keep(_, changes) = script.next() {
                project.commit(&changes).unwrap();
                states.push(rows(&path));
            }
        }
        Self { states }
    }

    /// Looks whether what is on a disk is whole and has these changes, or the next ones too.
    pub(crate) fn check(&self, at: &Path, image: &Image, acknowledged: u32, what: &str) {
        image.put(at);
        let opened = Project::open(at, Access::ReadWrite);
        let Opened { project, damage, .. } =
            opened.unwrap_or_else(|error| panic!("{what}: {error}"));
        assert_eq!(damage, [], "{what}");
        assert_eq!(project.verify().unwrap(), [], "{what}");
        let found = number(&project);
        assert!(
            (acknowledged..=acknowledged + 1).contains(&found),
            "{what}: {found} where {acknowledged} were acknowledged"
        );
        assert!(rows(at) == self.states[found as usize], "{what}: not the rows of {found}");
    }
}

/// A script's work on a file that was there, and all that it wrote.
struct Recording {
    before: Image,
    log: Vec<Event>,
    twin: Twin,
    folder: TempDir,
}

const CHANGES: u32 = 15;

impl Recording {
    fn new(seed: u64) -> Self {
        let watched = Watched::new();
        let path = watched.path();
        let mut script = Script::new(seed);
        Project::create(&path, &script.history).unwrap().close().unwrap();
        let before = Image::of(&path);
        watched.start_anew();
        let open = || Project::open(&path, Access::ReadWrite).unwrap().project;
        let mut project = open();
        while script.number < CHANGES {
            match script.next() {
                Deed::Keep(number, changes) => {
                    project.commit(&changes).unwrap();
                    watched.acknowledge(number);
                    // At set places too, whatever the script does: a log that begins anew, and a file that is closed.
                    if number == CHANGES / 3 {
                        project.checkpoint().unwrap();
                    } else if number == 2 * CHANGES / 3 {
                        project.close().unwrap();
                        project = reopened(&path, &mut script);
                    }
                }
                Deed::Checkpoint => project.checkpoint().unwrap(),
                Deed::Collect => _ = project.collect_garbage(u64::MAX).unwrap(),
                Deed::Reopen => {
                    project.close().unwrap();
                    project = reopened(&path, &mut script);
                }
            }
        }
        project.close().unwrap();
        let log = watched.log();
        let twin = Twin::new(seed, CHANGES);
        Self { before, log, twin, folder: quick_folder() }
    }

    fn check(&self, image: &Image, acknowledged: u32, what: &str) {
        self.twin.check(&self.folder.path().join(NAME), image, acknowledged, what);
    }
}

fn reopened(path: &Path, script: &mut Script) -> Project {
    let Opened { project, history, .. } = Project::open(path, Access::ReadWrite).unwrap();
    script.history = history;
    project
}

fn acknowledged(log: &[Event]) -> u32 {
    let said = log.iter().rev().find_map(|event| match event.what {
        What::Acknowledged(number) => Some(number),
        _ => None,
    });
    said.unwrap_or(0)
}

#[test]
fn the_log_of_the_disk_has_all_that_was_written() {
    let recording = Recording::new(1);
    let mut image = recording.before.clone();
    recording.log.iter().for_each(|event| image.apply(event));
    assert_eq!(image.0.keys().collect::<Vec<_>>(), [""], "closed, it is one file");
    recording.check(&image, CHANGES, "at the end");
    let has = |file: &str, what: fn(&What) -> bool| {
        recording.log.iter().any(|event| event.file == file && what(&event.what))
    };
    for file in ["", "-wal"] {
        assert!(has(file, |what| matches!(what, What::Written { .. })), "{file}");
        assert!(has(file, |what| *what == What::Synced), "{file}");
    }
    assert!(has("-wal", |what| matches!(what, What::Truncated(_))));
    assert!(has("-wal", |what| matches!(what, What::Deleted { .. })));
    assert!(has("-journal", |what| matches!(what, What::Deleted { .. })));
}

#[test]
fn after_every_single_write_what_is_there_opens_with_all_that_was_acknowledged() {
    for seed in 0..2 {
        let recording = Recording::new(seed);
        let mut image = recording.before.clone();
        for (at, event) in recording.log.iter().enumerate() {
            image.apply(event);
            let acknowledged = acknowledged(&recording.log[..=at]);
            recording.check(&image, acknowledged, &format!("seed {seed}, event {at}"));
        }
        println!("seed {seed}: {} events, none of them a bad moment", recording.log.len());
    }
}

/// What stands in the sectors that a write did not get to.
#[derive(Debug, Clone, Copy)]
enum Rest {
    Zeros,
    Garbage,
    Old,
}

/// The write, done up to a place.
fn torn(before: &Image, event: &Event, cut: usize, rest: Rest, chance: &mut Chance) -> Image {
    let What::Written { at, bytes } = &event.what else { return before.clone() };
    let mut image = before.clone();
    image.write(&event.file, *at, &bytes[..cut]);
    let left = bytes.len() - cut;
    let filled = match rest {
        Rest::Old => return image,
        Rest::Zeros => vec![0; left],
        Rest::Garbage => (0..left).map(|_| chance.below(256) as u8).collect(),
    };
    image.write(&event.file, at + cut as u64, &filled);
    image
}

/// Where a write can be torn: before each of its sectors.
fn cuts(event: &Event) -> Vec<usize> {
    let What::Written { at, bytes } = &event.what else { return Vec::new() };
    let first = SECTOR - *at as usize % SECTOR;
    std::iter::once(0).chain((first..bytes.len()).step_by(SECTOR)).collect()
}

#[test]
fn a_write_that_is_torn_between_two_sectors_costs_nothing_that_was_acknowledged() {
    let recording = Recording::new(2);
    let mut image = recording.before.clone();
    let mut chance = Chance::of(2);
    // Of most writes a few places are tried, of some all.
    let thorough = [chance.below(recording.log.len()), chance.below(recording.log.len())];
    let mut tried = 0;
    for (at, event) in recording.log.iter().enumerate() {
        let acknowledged = acknowledged(&recording.log[..at]);
        let all = cuts(event);
        let near = thorough.iter().any(|from| (*from..from + 6).contains(&at));
        for rest in [Rest::Zeros, Rest::Garbage, Rest::Old] {
            let some = if near || all.is_empty() {
                all.clone()
            } else {
                vec![all[chance.below(all.len())]]
            };
            for cut in some {
                let torn = torn(&image, event, cut, rest, &mut chance);
                let what = format!("event {at} of {:?}, torn at {cut}, {rest:?}", event.file);
                recording.check(&torn, acknowledged, &what);
                tried += 1;
            }
        }
        image.apply(event);
    }
    println!("{tried} torn writes");
}

#[test]
fn what_was_not_synced_may_be_lost_torn_or_written_in_any_order() {
    let recording = Recording::new(3);
    for (at, event) in recording.log.iter().enumerate() {
        if matches!(event.what, What::Synced | What::Acknowledged(_) | What::Deleted { .. }) {
            let log = &recording.log[..=at];
            let image = recording.before.after_power_loss(log, Lost::All);
            recording.check(&image, acknowledged(log), &format!("event {at}, all lost"));
        }
    }
    let mut chance = Chance::of(3);
    for sample in 0..400 {
        let log = &recording.log[..chance.below(recording.log.len())];
        let lost = Lost::Some(Chance::of(sample));
        let image = recording.before.after_power_loss(log, lost);
        let what = format!("sample {sample}, event {}", log.len());
        recording.check(&image, acknowledged(log), &what);
    }
}
