//! Faults, and closing.

use super::*;
use crate::commands::FileCommand;
use crate::desk::Sheet;
use crate::on_disk::Purpose;

/// From now on nothing can be written to the project: its thread has it for reading only.
fn break_it(window: &mut Window) {
    let desk = window.state_mut();
    let path = desk.on_disk.take().unwrap().path;
    let read = Project::open(&path, Access::ReadOnly).unwrap();
    desk.on_disk = Some(OnDisk::new(read.project, desk.editor.history(), Vec::new()).unwrap());
}

#[test]
fn a_write_that_fails_stays_told_with_a_way_out() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    break_it(&mut window);
    paint(&mut window);
    until(&mut window, |desk| desk.on_disk.is_none());
    window.run_steps(4);
    assert!(told(&window).contains("Nothing more is written to it"), "{}", told(&window));
    assert!(window.query_by_label("tower, in no file yet").is_some());
    click(&mut window, "Keep it in another place");
    assert_eq!(window.state().sheet, Some(Sheet::Keep(Purpose::Keep)));
    let other = folder.path().join("saved.scumble");
    window.state_mut().path.text = other.display().to_string();
    press(&mut window, Modifiers::NONE, Key::Enter);
    until(&mut window, is_all_on_disk);
    let (saved, before) = (history_of(&other), history_of(&path));
    assert_eq!(saved.entries().0.len(), before.entries().0.len() + 1);
}

#[test]
fn a_fault_at_closing_keeps_the_window_open_and_asks_for_another_place() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, _) = kept(folder.path());
    break_it(&mut window);
    paint(&mut window);
    window.state_mut().perform(Command::File(FileCommand::Close));
    until(&mut window, |desk| desk.on_disk.is_none());
    window.run_steps(4);
    assert!(!window.state().closed);
    assert_eq!(window.state().sheet, Some(Sheet::Keep(Purpose::Keep)));
    assert!(window.query_by_label_contains("Writing failed").is_some());
    press(&mut window, Modifiers::NONE, Key::Escape);
    // The second time it is asked, and then it goes.
    window.state_mut().perform(Command::File(FileCommand::Close));
    window.run_steps(4);
    assert!(!window.state().closed);
    click(&mut window, "Close and lose it");
    assert!(window.state().closed);
}

#[test]
fn what_a_broken_file_can_not_take_goes_where_untitled_work_goes() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, _) = kept(folder.path());
    window.state_mut().files.untitled.folder = Some(folder.path().join("untitled"));
    break_it(&mut window);
    paint(&mut window);
    until(&mut window, |desk| desk.on_disk.as_ref().is_some_and(|on_disk| on_disk.is_untitled));
    until(&mut window, is_all_on_disk);
    let [path] = &projects_in(&folder.path().join("untitled"))[..] else { panic!("one file") };
    let entries = window.state().editor.history().entries().0.len();
    assert_eq!(history_of(path).entries().0.len(), entries);
    window.state_mut().close();
    until(&mut window, |desk| desk.closed);
}

#[test]
fn closing_waits_until_the_last_edit_is_on_disk() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    let (hold, held) = std::sync::mpsc::sync_channel::<()>(0);
    let on_disk = window.state().on_disk.as_ref().unwrap();
    let _waits = on_disk.keeper.ask(move |_| held.recv());
    paint(&mut window);
    let entries = window.state().editor.history().entries().0.len();
    window.state_mut().perform(Command::File(FileCommand::Close));
    window.run_steps(10);
    assert!(!window.state().closed, "it is not on disk yet");
    drop(hold);
    until(&mut window, |desk| desk.closed);
    assert_eq!(history_of(&path).entries().0.len(), entries);
}
