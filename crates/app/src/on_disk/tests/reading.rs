//! Projects that can't be written: in use, write-protected, damaged.

use super::*;

#[test]
fn a_project_that_another_window_has_open_can_be_looked_at_and_is_not_written() {
    let folder = tempfile::tempdir().unwrap();
    let (mut first, path) = kept(folder.path());
    let before = history_of(&path).entries().0.len();
    let mut second = empty(folder.path());
    open(&mut second, &path);
    second.run_steps(4);
    assert!(second.state().document().model.is_none(), "it is asked first");
    assert!(second.query_by_label_contains("Another Scumble window has tower.scumble").is_some());
    click(&mut second, "Look at it only");
    until(&mut second, |desk| desk.document().model.is_some());
    second.run_steps(4);
    assert!(second.state().on_disk.is_none());
    assert!(second.query_by_label("tower, read only").is_some());
    // What is changed goes elsewhere, and nothing is lost.
    paint(&mut second);
    until(&mut second, is_all_on_disk);
    assert!(second.state().on_disk.as_ref().unwrap().is_untitled);
    assert!(told(&second).contains("tower.scumble stays as it is"), "{}", told(&second));
    assert_eq!(history_of(&path).entries().0.len(), before);

    open(&mut first, &path);
    assert!(first.state().on_disk.is_some() && told(&first).contains("is open already"));
}

#[test]
fn a_project_that_was_closed_elsewhere_meanwhile_opens_on_the_next_try() {
    let folder = tempfile::tempdir().unwrap();
    let (first, path) = kept(folder.path());
    let mut second = empty(folder.path());
    open(&mut second, &path);
    second.run_steps(4);
    drop(first);
    click(&mut second, "Try again");
    until(&mut second, is_all_on_disk);
    assert!(!second.state().on_disk.as_ref().unwrap().is_untitled);
}

#[test]
fn a_project_that_is_protected_from_writing_is_looked_at_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let (window, path) = kept(folder.path());
    drop(window);
    let mut permissions = std::fs::metadata(&path).unwrap().permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&path, permissions).unwrap();
    let before = std::fs::read(&path).unwrap();
    let mut window = empty(folder.path());
    open(&mut window, &path);
    window.run_steps(4);
    assert!(window.query_by_label("tower, read only").is_some());
    assert!(told(&window).contains("tower.scumble can't be written where it is"));
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    assert!(std::fs::read(&path).unwrap() == before);
    assert_eq!(projects_in(&folder.path().join("untitled")).len(), 1);
}

#[test]
fn what_is_on_show_comes_first_and_the_history_before_it_soon_after() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    for _ in 0..5 {
        paint(&mut window);
    }
    until(&mut window, is_all_on_disk);
    let (edits, layers_then) = (history_of(&path).entries().0.len(), layers(window.state()));
    drop(window);
    let mut window = empty(folder.path());
    window.state_mut().open_file(path.clone());
    until(&mut window, |desk| desk.document().model.is_some());
    assert_eq!(layers(window.state()), layers_then);
    // One may go on before it is there.
    paint(&mut window);
    until(&mut window, |desk| is_all_on_disk(desk) && !desk.is_history_coming());
    assert_eq!(window.state().editor.history().entries().0.len(), edits + 1);
    for _ in 0..3 {
        window.state_mut().perform(Command::File(crate::commands::FileCommand::Undo));
    }
    assert_eq!(layers(window.state()), layers_then - 2);
    until(&mut window, is_all_on_disk);
    assert_eq!(history_of(&path).entries().0.len(), edits + 1);
}

#[test]
fn damage_is_told_until_it_is_read_and_a_damaged_file_is_not_written() {
    let folder = tempfile::tempdir().unwrap();
    let (mut first, path) = kept(folder.path());
    paint(&mut first);
    until(&mut first, is_all_on_disk);
    drop(first);
    let mut bytes = std::fs::read(&path).unwrap();
    // A byte of each page at the end, where the latest is.
    let (end, page) = (bytes.len(), 16_384);
    for at in (end * 3 / 4..end).step_by(page) {
        bytes[at + 5_000] ^= 0x55;
    }
    std::fs::write(&path, &bytes).unwrap();

    let mut second = harness_of(Desk::new(Preferences::default()).unwrap(), WIDE);
    second.state_mut().open_file(path.clone());
    until(&mut second, |desk| desk.tasks.is_empty() && !desk.notices.all().is_empty());
    let told = &second.state().notices.all()[0];
    assert_eq!(told.gravity, crate::notices::Gravity::Error, "{}", told.text);
    assert!(told.text.contains("damaged") || told.text.contains("lost"), "{}", told.text);
    assert!(second.state().on_disk.is_none());
    if second.state().document().model.is_some() {
        paint(&mut second);
        second.run_steps(8);
    }
    drop(second);
    // All but the database's head, which says how it was opened last.
    assert!(std::fs::read(&path).unwrap()[100..] == bytes[100..], "it stays as it was");
}
