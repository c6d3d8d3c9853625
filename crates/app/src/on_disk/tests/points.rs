//! Named points.

use super::*;
use crate::commands::FileCommand;

/// Names of the points, the latest first.
fn names(desk: &Desk) -> Vec<&str> {
    let points = &desk.on_disk.as_ref().unwrap().points;
    points.all().iter().map(|point| point.name.as_str()).collect()
}

fn name_it(window: &mut Window, name: &str) {
    press(window, Modifiers::COMMAND, Key::S);
    window.state_mut().files.naming.as_mut().unwrap().text = name.to_owned();
    let count = names(window.state()).len();
    press(window, Modifiers::NONE, Key::Enter);
    until(window, |desk| names(desk).len() > count && is_all_on_disk(desk));
    // The list is shown as it is now.
    window.run_steps(2);
}

#[test]
fn the_same_keys_name_a_point_in_a_project_and_a_click_returns_to_it_by_a_new_edit() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    press(&mut window, Modifiers::COMMAND, Key::S);
    assert_eq!(window.state().sheet, Some(crate::desk::Sheet::Point));
    assert_eq!(window.state().files.naming.as_ref().unwrap().text, "Point 1");
    press(&mut window, Modifiers::NONE, Key::Enter);
    until(&mut window, |desk| names(desk) == ["Point 1"]);
    window.run_steps(2);
    let before = layers(window.state());
    paint(&mut window);
    paint(&mut window);
    window.run_steps(4);
    let entries = |desk: &Desk| desk.editor.history().entries().0.len();
    let count = entries(window.state());
    click(&mut window, "Point 1");
    until(&mut window, is_all_on_disk);
    assert_eq!((layers(window.state()), entries(window.state())), (before, count + 1));
    assert!(window.query_by_label("Return to Point 1").is_some());
    window.state_mut().perform(Command::File(FileCommand::Undo));
    assert_eq!(layers(window.state()), before + 2);
    until(&mut window, is_all_on_disk);
    drop(window);

    let mut window = harness_of(Desk::new(Preferences::default()).unwrap(), WIDE);
    open(&mut window, &path);
    until(&mut window, is_all_on_disk);
    window.run_steps(4);
    assert_eq!(names(window.state()), ["Point 1"]);
    click(&mut window, "Point 1");
    assert_eq!(layers(window.state()), before);
}

#[test]
fn a_point_whose_entry_is_gone_is_read_from_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    paint(&mut window);
    name_it(&mut window, "patina");
    let there = layers(window.state());
    window.state_mut().perform(Command::File(FileCommand::Undo));
    window.state_mut().perform(Command::Layer(LayerCommand::ToggleVisible));
    until(&mut window, is_all_on_disk);
    let model = window.state().document().model.clone().unwrap();
    click(&mut window, "patina");
    until(&mut window, |desk| layers(desk) == there && is_all_on_disk(desk));
    let now = window.state().document().model.clone().unwrap();
    assert!(std::sync::Arc::ptr_eq(&model, &now), "nothing is derived from the model again");
    assert_eq!(history_of(&path).present().materials.len(), now.mesh().material_names().len());
}

#[test]
fn points_are_renamed_and_let_go_of_by_their_menu_and_no_name_is_given_twice() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    name_it(&mut window, "rust");
    name_it(&mut window, "patina");
    assert_eq!(names(window.state()), ["patina", "rust"]);
    window.get_by_label("rust").click_secondary();
    window.run_steps(4);
    click(&mut window, "Rename");
    window.state_mut().files.naming.as_mut().unwrap().text = "patina".to_owned();
    click(&mut window, "Rename it");
    assert!(window.query_by_label_contains("There is a point of this name").is_some());
    window.state_mut().files.naming.as_mut().unwrap().text = "crust".to_owned();
    click(&mut window, "Rename it");
    until(&mut window, |desk| names(desk) == ["patina", "crust"]);
    window.run_steps(2);
    window.get_by_label("patina").click_secondary();
    window.run_steps(4);
    click(&mut window, "Remove the name");
    until(&mut window, |desk| names(desk) == ["crust"]);
    drop(window);
    let points = Project::open(&path, Access::ReadOnly).unwrap().project.points().unwrap();
    assert_eq!(points.len(), 1);
}
