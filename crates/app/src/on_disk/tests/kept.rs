//! Projects that have a name.

use egui_kittest::kittest::Queryable as _;

use super::*;
use crate::commands::FileCommand;

#[test]
fn what_is_kept_once_has_each_edit_at_once_and_goes_on_where_it_was_left() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    window.step();
    assert!(window.query_by_label("tower, all on disk").is_some());
    let before = history_of(&path).entries().0.len();
    paint(&mut window);
    window.state_mut().perform(Command::Layer(LayerCommand::Duplicate));
    window.state_mut().perform(Command::File(FileCommand::Undo));
    until(&mut window, is_all_on_disk);
    let history = history_of(&path);
    assert_eq!((history.entries().0.len(), history.entries().1), (before + 2, before));
    // Nothing is lost by closing, so nothing is asked.
    window.state_mut().close();
    until(&mut window, |desk| desk.closed);
    assert!(window.state().leaving.is_none());
    let left = layers(window.state());
    drop(window);

    let mut window = harness_of(Desk::new(Preferences::default()).unwrap(), WIDE);
    open(&mut window, &path);
    until(&mut window, is_all_on_disk);
    assert_eq!(layers(window.state()), left);
    window.state_mut().perform(Command::File(FileCommand::Redo));
    assert_eq!(layers(window.state()), left + 1);
    window.state_mut().perform(Command::File(FileCommand::Undo));
    window.state_mut().perform(Command::File(FileCommand::Undo));
    assert_eq!(layers(window.state()), left - 1);
    until(&mut window, is_all_on_disk);
    assert_eq!(history_of(&path).entries().1, before - 1);
}

#[test]
fn a_project_that_was_left_before_its_import_opens_and_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let (mut first, path) = kept(folder.path());
    assert!(first.state_mut().editor.go_to(0));
    assert!(first.state().document().model.is_none());
    until(&mut first, is_all_on_disk);
    drop(first);
    let mut second = harness_of(Desk::new(Preferences::default()).unwrap(), WIDE);
    open(&mut second, &path);
    until(&mut second, is_all_on_disk);
    assert!(second.state().notices.all().is_empty());
    second.state_mut().perform(Command::File(FileCommand::Redo));
    second.run_steps(4);
    assert!(second.state().document().model.is_some());
}

#[test]
fn a_place_that_can_not_be_is_told_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a.scumble");
    assert_eq!(Desk::fault_of_place(&file), None);
    std::fs::write(&file, "").unwrap();
    for place in
        [file, folder.path().to_owned(), folder.path().join("no/a.scumble"), PathBuf::new()]
    {
        assert!(Desk::fault_of_place(&place).is_some(), "{}", place.display());
    }
}

#[test]
fn a_folder_that_is_copied_elsewhere_is_warned_of_before_and_after() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join(".sync")).unwrap();
    let mut window = harness_of(bell_desk(), WIDE);
    window.run_steps(4);
    press(&mut window, Modifiers::COMMAND, Key::S);
    let hint = "copied to other machines while you work";
    assert!(window.query_by_label_contains(hint).is_none());
    window.state_mut().path.text = folder.path().join("tower").display().to_string();
    window.run_steps(4);
    assert!(window.query_by_label_contains(hint).is_some());
    press(&mut window, Modifiers::NONE, Key::Enter);
    until(&mut window, is_all_on_disk);
    drop(window);
    let mut window = harness_of(Desk::new(Preferences::default()).unwrap(), WIDE);
    open(&mut window, &folder.path().join("tower.scumble"));
    assert!(told(&window).contains(hint), "{}", told(&window));
    assert!(is_all_on_disk(window.state()), "it is a warning, no refusal");
}

#[test]
fn the_edits_stand_in_the_file_as_text_from_the_first_on() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    let read = Project::open(&path, Access::ReadOnly).unwrap();
    let numbers: Vec<u64> = read.history.entries().0.map(|entry| entry.number).skip(1).collect();
    assert_eq!(read.edits.keys().copied().collect::<Vec<_>>(), numbers);
    let texts: Vec<&String> = read.edits.values().collect();
    assert!(texts[0].contains("\"import\""), "{}", texts[0]);
    assert!(texts.last().unwrap().contains("\"add_layer\""));
}

#[test]
fn how_it_was_looked_at_comes_back_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    window.run_steps(4);
    let desk = window.state_mut();
    desk.model_view.camera.eye *= 0.5;
    desk.model_view.wire = true;
    desk.model_view.shown = viewport::Shown::Roughness;
    desk.model_view.part_mut(surface::PartId(1)).hidden = true;
    desk.choose_light(crate::desk::LightSetup::Raking);
    desk.model_view.lighting.key.azimuth_rad = 0.25;
    desk.save_view();
    let other = document::MaterialId(1);
    desk.chosen = crate::chosen::Chosen::of(desk.document(), other);
    let (eye, saved) = (desk.model_view.camera.eye, desk.model_view.saved.len());
    desk.close();
    until(&mut window, |desk| desk.closed);
    drop(window);

    let mut window = harness_of(Desk::new(Preferences::default()).unwrap(), WIDE);
    open(&mut window, &path);
    window.run_steps(4);
    let desk = window.state();
    assert_eq!((desk.model_view.camera.eye, desk.model_view.saved.len()), (eye, saved));
    assert!(desk.model_view.wire && desk.model_view.part(surface::PartId(1)).hidden);
    assert_eq!(desk.model_view.shown, viewport::Shown::Roughness);
    assert_eq!(desk.model_view.light.setup, crate::desk::LightSetup::Raking);
    assert_eq!(desk.model_view.lighting.key.azimuth_rad, 0.25);
    assert_eq!(desk.chosen.material, other);
}

#[test]
fn a_view_that_can_not_be_read_costs_the_view_alone() {
    let folder = tempfile::tempdir().unwrap();
    let (window, path) = kept(folder.path());
    drop(window);
    let mut project = Project::open(&path, Access::ReadWrite).unwrap().project;
    project.set_view_state("{\"camera\": \"from the left\"}").unwrap();
    project.close().unwrap();
    let mut window = harness_of(Desk::new(Preferences::default()).unwrap(), WIDE);
    open(&mut window, &path);
    assert!(is_all_on_disk(window.state()));
    assert!(told(&window).contains("it is framed anew"), "{}", told(&window));
}

#[test]
fn the_oldest_history_goes_once_it_is_beyond_its_budget_and_points_stay() {
    let folder = tempfile::tempdir().unwrap();
    let (mut window, path) = kept(folder.path());
    window.state_mut().perform(Command::File(FileCommand::NamePoint));
    window.run_steps(4);
    press(&mut window, Modifiers::NONE, Key::Enter);
    paint(&mut window);
    until(&mut window, is_all_on_disk);
    let before = history_of(&path).entries().0.len();
    // Less than the least that preferences allow, so that the little there is is too much.
    window.state_mut().preferences.history_mib = 0;
    window.state_mut().close();
    until(&mut window, |desk| desk.closed);
    drop(window);
    let read = Project::open(&path, Access::ReadOnly).unwrap();
    assert!(read.history.entries().0.len() < before);
    assert_eq!(read.project.points().unwrap().len(), 1);
    assert_eq!(read.project.verify().unwrap(), []);
}
