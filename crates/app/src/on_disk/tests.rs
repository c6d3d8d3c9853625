//! Files as a person meets them, driven by keys and labels.

mod closing;
mod copies;
mod kept;
mod points;
mod reading;
mod untitled;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use document::History;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use store::{Access, Project};

use super::OnDisk;
use crate::commands::{Command, LayerCommand};
use crate::desk::Desk;
use crate::preferences::Preferences;
use crate::testing::{bell_desk, harness as harness_of};

type Window = Harness<'static, Desk>;

const WIDE: [f32; 2] = [1280.0, 800.0];

/// Frames until it is so.
fn until(window: &mut Window, so: impl Fn(&Desk) -> bool) {
    let begun = Instant::now();
    while !so(window.state()) {
        window.step();
        assert!(
            begun.elapsed() < Duration::from_mins(2),
            "it never came to be so: {}",
            told(window)
        );
        std::thread::yield_now();
    }
}

fn is_all_on_disk(desk: &Desk) -> bool {
    let is_all = desk.on_disk.as_ref().is_some_and(OnDisk::is_all);
    is_all && !desk.has_unkept_work() && !desk.is_being_kept()
}

/// A window with nothing open, whose own folder this is.
fn empty(folder: &Path) -> Window {
    let mut desk = Desk::new(Preferences::default()).unwrap();
    desk.files.untitled.folder = Some(folder.join("untitled"));
    harness_of(desk, WIDE)
}

/// A window with the bell, changed, in no file that has a name.
fn changed(folder: &Path) -> Window {
    let mut desk = bell_desk();
    desk.files.untitled.folder = Some(folder.join("untitled"));
    harness_of(desk, WIDE)
}

/// The bell, kept in a project by hand.
fn kept(folder: &Path) -> (Window, PathBuf) {
    let mut window = harness_of(bell_desk(), WIDE);
    window.run_steps(4);
    keep_as(&mut window, folder, "tower");
    (window, folder.join("tower.scumble"))
}

/// By keys, in the sheet that Ctrl+S opens.
fn keep_as(window: &mut Window, folder: &Path, name: &str) {
    press(window, Modifiers::COMMAND, Key::S);
    window.state_mut().path.text = folder.join(name).display().to_string();
    press(window, Modifiers::NONE, Key::Enter);
    until(window, is_all_on_disk);
}

fn press(window: &mut Window, modifiers: Modifiers, key: Key) {
    window.key_press_modifiers(modifiers, key);
    window.run_steps(4);
}

fn click(window: &mut Window, label: &str) {
    window.get_by_label(label).click();
    window.run_steps(4);
}

fn open(window: &mut Window, path: &Path) {
    window.state_mut().open_file(path.to_owned());
    until(window, |desk| {
        desk.tasks.is_empty() && desk.files.leaving.is_none() && !desk.is_history_coming()
    });
}

fn paint(window: &mut Window) {
    window.state_mut().perform(Command::Layer(LayerCommand::AddPainted));
}

fn layers(desk: &Desk) -> usize {
    desk.material().unwrap().stack.walk().count()
}

fn history_of(path: &Path) -> History {
    let found = Project::open(path, Access::ReadOnly).unwrap();
    assert_eq!(found.damage, []);
    found.history
}

/// Projects in a folder.
fn projects_in(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let paths = entries.map(|entry| entry.unwrap().path());
    paths.filter(|path| path.extension().is_some_and(|ending| ending == "scumble")).collect()
}

/// All lines that were told so far.
fn told(window: &Window) -> String {
    window.state().notices.ever.join("\n")
}
