//! Work without a name.

use super::*;
use crate::commands::FileCommand;

/// What was left is offered, in a window that was just opened.
fn started_again(folder: &Path) -> Window {
    let mut window = empty(folder);
    window.state_mut().look_for_left(|_| {});
    until(&mut window, |desk| desk.tasks.is_empty());
    window.run_steps(4);
    window
}

#[test]
fn work_without_a_name_is_on_disk_from_its_first_change_on_and_not_before() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("untitled");
    let mut window = empty(folder.path());
    let model = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets-demo/harbour-bell.obj");
    window.state_mut().preferences.texture_edge = 256;
    open(&mut window, &model);
    window.run_steps(30);
    assert!(
        window.query_by_label("harbour-bell").is_some(),
        "nothing is said of what has not changed"
    );
    assert!(!own.exists());
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    window.run_steps(2);
    assert!(window.query_by_label("harbour-bell, untitled, all on disk").is_some());
    let [path] = &projects_in(&own)[..] else { panic!("one file a document") };
    let read = Project::open(path, Access::ReadOnly).unwrap();
    assert_eq!(read.history.entries().0.len(), 2);
    assert_eq!(read.edits.len(), 1);
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    assert_eq!(history_of(path).entries().0.len(), 3);
}

#[test]
fn what_was_left_is_offered_when_the_program_starts_again_and_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = changed(folder.path());
    until(&mut window, is_all_on_disk);
    // As a crash leaves it: nobody closes anything.
    let path = window.state().on_disk.as_ref().unwrap().path.clone();
    let own = folder.path().join("untitled");
    let other = tempfile::tempdir().unwrap();
    let copied = other.path().join("untitled");
    std::fs::create_dir(&copied).unwrap();
    for entry in std::fs::read_dir(&own).unwrap().map(Result::unwrap) {
        std::fs::copy(entry.path(), copied.join(entry.file_name())).unwrap();
    }
    assert!(started_again(folder.path()).state().files.untitled.left.is_empty(), "it is in use");
    let edits = window.state().editor.history().entries().0.len() - 1;

    let mut again = started_again(other.path());
    let [left] = &again.state().files.untitled.left[..] else { panic!("one was left") };
    assert_eq!((left.title.as_str(), left.edits), ("harbour-bell", edits as u64));
    assert!(again.query_by_label_contains(&format!("{edits} edits")).is_some());
    click(&mut again, "Go on with it");
    until(&mut again, |desk| is_all_on_disk(desk) && !desk.is_history_coming());
    again.run_steps(2);
    assert!(again.query_by_label("harbour-bell, untitled, all on disk").is_some());
    assert_eq!(again.state().editor.history().entries().0.len() - 1, edits);
    paint(&mut again);
    until(&mut again, is_all_on_disk);
    assert_eq!(projects_in(&copied).len(), 1, "it goes on in the file that it was in");
    assert_eq!(again.state().preferences.recent, Vec::<PathBuf>::new());
    assert!(path.exists());
}

#[test]
fn what_was_left_is_discarded_on_the_second_word_only() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("untitled");
    let mut window = changed(folder.path());
    until(&mut window, is_all_on_disk);
    window.state_mut().close();
    until(&mut window, |desk| desk.closed);
    assert!(window.state().leaving.is_none(), "nothing is lost, so nothing is asked");
    drop(window);
    assert_eq!(projects_in(&own).len(), 1);
    let mut window = started_again(folder.path());
    click(&mut window, "Discard");
    click(&mut window, "Keep it");
    assert_eq!(projects_in(&own).len(), 1);
    click(&mut window, "Discard");
    click(&mut window, "Discard for good");
    until(&mut window, |desk| desk.tasks.is_empty());
    assert_eq!(std::fs::read_dir(&own).unwrap().count(), 0);
    assert!(window.query_by_label("Left without a name").is_none());
}

#[test]
fn what_is_kept_under_a_name_leaves_no_untitled_file_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("untitled");
    let mut window = changed(folder.path());
    until(&mut window, is_all_on_disk);
    let edits = window.state().editor.history().entries().0.len();
    keep_as(&mut window, folder.path(), "tower");
    window.run_steps(2);
    assert!(window.query_by_label("tower, all on disk").is_some());
    assert_eq!(std::fs::read_dir(&own).unwrap().count(), 0);
    let path = folder.path().join("tower.scumble");
    assert_eq!(history_of(&path).entries().0.len(), edits);
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    assert_eq!(history_of(&path).entries().0.len(), edits + 1);
    assert_eq!(window.state().preferences.recent, [path]);
}

#[test]
fn another_model_leaves_it_where_open_finds_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = changed(folder.path());
    until(&mut window, is_all_on_disk);
    let (mut second, tower) = kept(folder.path());
    second.state_mut().close();
    drop(second);
    open(&mut window, &tower);
    until(&mut window, is_all_on_disk);
    assert_eq!(window.state().title, "tower");
    assert!(told(&window).contains("harbour-bell is kept without a name"), "{}", told(&window));
    press(&mut window, Modifiers::COMMAND, Key::O);
    click(&mut window, "Go on with it");
    until(&mut window, |desk| desk.title == "harbour-bell" && is_all_on_disk(desk));
    assert_eq!(window.state().sheet, None);
}

#[test]
fn where_it_can_not_be_written_that_is_told_once_and_work_goes_on_in_memory() {
    let folder = tempfile::tempdir().unwrap();
    // A file is where the folder should be.
    std::fs::write(folder.path().join("untitled"), "").unwrap();
    let mut window = changed(folder.path());
    until(&mut window, |desk| !desk.notices.all().is_empty());
    assert!(told(&window).contains("Work without a name can't be written"), "{}", told(&window));
    let lines = window.state().notices.ever.len();
    paint(&mut window);
    window.run_steps(20);
    assert_eq!(window.state().notices.ever.len(), lines);
    assert!(window.query_by_label("harbour-bell, in no file yet").is_some());
    // Closing would lose it: then it is asked.
    window.state_mut().perform(Command::File(FileCommand::Close));
    window.run_steps(4);
    assert!(!window.state().closed && window.state().leaving.is_some());
}
