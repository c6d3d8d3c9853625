//! Copies, and going on in another file.

use super::*;
use crate::commands::FileCommand;

/// Does a command that asks for a place, and names one.
fn into(window: &mut Window, command: FileCommand, path: &Path) {
    window.state_mut().perform(Command::File(command));
    window.run_steps(4);
    window.state_mut().path.text = path.display().to_string();
    press(window, Modifiers::NONE, Key::Enter);
    until(window, |desk| desk.tasks.is_empty() && is_all_on_disk(desk));
}

#[test]
fn a_copy_is_left_and_work_goes_on_where_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    let copy = folder.path().join("copy.scumble");
    into(&mut window, FileCommand::KeepCopy, &copy);
    assert!(told(&window).contains("copy.scumble is there"), "{}", told(&window));
    let before = history_of(&copy).entries().0.len();
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    assert_eq!(history_of(&path).entries().0.len(), before + 1);
    assert_eq!(history_of(&copy).entries().0.len(), before);
}

#[test]
fn work_goes_on_in_a_copy_and_the_first_file_stays_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    let before = history_of(&path).entries().0.len();
    let other = folder.path().join("belfry.scumble");
    into(&mut window, FileCommand::KeepElsewhere, &other);
    assert!(window.query_by_label("belfry, all on disk").is_some());
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    assert_eq!(history_of(&path).entries().0.len(), before);
    assert_eq!(history_of(&other).entries().0.len(), before + 1);
    assert_eq!(window.state().preferences.recent[0], other);
    // The first one is free for another window.
    drop(Project::open(&path, Access::ReadWrite).unwrap());
}

#[test]
fn a_packed_copy_has_the_work_as_it_is_now_and_no_history() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, _) = kept(folder.path());
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    let packed = folder.path().join("small.scumble");
    into(&mut window, FileCommand::Pack, &packed);
    let history = history_of(&packed);
    assert_eq!(history.entries().0.len(), 1);
    let stack = &history.present().materials[0].stack;
    assert_eq!(stack.walk().count(), layers(window.state()));
}

#[test]
fn what_is_in_no_file_can_be_copied_and_packed_too() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = harness_of(bell_desk(), WIDE);
    window.run_steps(4);
    for (command, name, entries) in [(FileCommand::KeepCopy, "a", 3), (FileCommand::Pack, "b", 1)] {
        window.state_mut().perform(Command::File(command));
        window.run_steps(4);
        window.state_mut().path.text = folder.path().join(name).display().to_string();
        press(&mut window, Modifiers::NONE, Key::Enter);
        until(&mut window, |desk| desk.tasks.is_empty());
        let history = history_of(&folder.path().join(name).with_extension("scumble"));
        assert!(history.entries().0.len() >= entries);
    }
    assert!(window.state().on_disk.is_none());
}

#[test]
fn a_copy_that_can_not_be_made_is_told_and_nothing_else_changes() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    // The lock's name is taken by a folder, so that nothing can be written under that name.
    std::fs::create_dir(folder.path().join("no.scumble.lock")).unwrap();
    for command in [FileCommand::KeepElsewhere, FileCommand::KeepCopy, FileCommand::Pack] {
        into(&mut window, command, &folder.path().join("no.scumble"));
        assert!(told(&window).contains("no.scumble"), "{}", told(&window));
    }
    assert_eq!(window.state().on_disk.as_ref().unwrap().path, path);
    paint(&mut window);
    until(&mut window, is_all_on_disk);
}
