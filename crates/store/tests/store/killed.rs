//! A writer that is killed: another process, at any moment.

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

use document::History;
use layers::ChannelId;
use store::{Access, Changes, Keeper, Project, StoreError};

use crate::content::{difference, lines};
use crate::documents::{full, stroke};
use crate::round_trip::{PAINTED, folder};

const FILE: &str = "SCUMBLE_TEST_WRITES";
/// The test starts itself anew as the writer.
const THIS_TEST: &str =
    "killed::a_writer_that_is_killed_leaves_all_that_it_acknowledged_and_nothing_half";
const STROKES: u32 = 4000;

/// What the writer makes of its document with the stroke of a number.
fn painted(history: &History, number: u32) -> document::Document {
    let tiles = [(number % 16, 1), (2, number / 3 % 16)];
    stroke(history.present(), PAINTED, ChannelId::ROUGHNESS, &tiles, number)
}

/// The other process: writes until it is killed.
fn write(path: &Path) {
    let mut history = History::new(full(1024));
    let keeper = Keeper::start(Project::create(path, &history).unwrap()).unwrap();
    for number in 1..STROKES {
        history.push(painted(&history, number), format!("{number}"));
        keeper.keep(Changes::of_history(&history));
        println!("on disk {}", keeper.progress().on_disk);
    }
}

#[test]
fn a_writer_that_is_killed_leaves_all_that_it_acknowledged_and_nothing_half() {
    if let Some(path) = std::env::var_os(FILE) {
        return write(Path::new(&path));
    }
    for moment in [1, 2, 5, 11, 29, 60] {
        let folder = folder();
        let path = folder.path().join("a.scumble");
        let mut writer = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", THIS_TEST, "--nocapture"])
            .env(FILE, &path)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let said = BufReader::new(writer.stdout.take().unwrap());
        let mut on_disk = 0;
        for line in said.lines().map_while(Result::ok) {
            let number = line.strip_prefix("on disk ").and_then(|number| number.parse().ok());
            on_disk = on_disk.max(number.unwrap_or(0));
            if on_disk >= moment {
                break;
            }
        }
        let refused = Project::open(&path, Access::ReadWrite).unwrap_err();
        assert!(matches!(refused, StoreError::InUse(_)), "{refused}");
        writer.kill().unwrap();
        writer.wait().unwrap();

        let opened = Project::open(&path, Access::ReadWrite).unwrap();
        assert_eq!(opened.damage, []);
        assert_eq!(opened.project.verify().unwrap(), []);
        let strokes = opened.history.entries().0.len() as u64 - 1;
        assert!(strokes >= on_disk, "{strokes} of {on_disk}");
        let mut expected = History::new(full(1024));
        for number in 1..=strokes as u32 {
            expected.push(painted(&expected, number), "");
        }
        let found = lines(opened.history.present());
        assert_eq!(difference(&found, &lines(expected.present())), None);
    }
}
