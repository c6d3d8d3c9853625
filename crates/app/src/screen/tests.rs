//! The window's own parts, found by their labels and driven as a hand drives them.

use egui::{Key, Modifiers, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;

use super::dropped::take_files;
use crate::commands::{Command, FileCommand, LayerCommand, WindowCommand, entries};
use crate::desk::{Desk, Leaving, Sheet, Stage};
use crate::on_disk::Purpose;
use crate::panes::{Pane, is_shown};
use crate::preferences::Preferences;
use crate::testing;

const WIDE: [f32; 2] = [1280.0, 800.0];

fn bell() -> Harness<'static, Desk> {
    bell_in(WIDE)
}

/// In a window of this size: what a sheet shows must not need scrolling.
fn bell_in(size: [f32; 2]) -> Harness<'static, Desk> {
    let mut harness = testing::harness(testing::bell_desk(), size);
    harness.run_steps(8);
    harness
}

fn click(harness: &mut Harness<'_, Desk>, label: &str) {
    harness.get_by_label(label).click();
    harness.run_steps(8);
}

fn press(harness: &mut Harness<'_, Desk>, modifiers: Modifiers, key: Key) {
    harness.key_press_modifiers(modifiers, key);
    harness.run_steps(8);
}

fn paint_something(desk: &mut Desk) {
    desk.perform(Command::Layer(LayerCommand::AddPainted));
}

#[test]
fn the_help_sheet_has_every_command_that_has_keys_and_can_be_searched() {
    let mut harness = bell();
    press(&mut harness, Modifiers::NONE, Key::F1);
    assert_eq!(harness.state().sheet, Some(Sheet::Help));
    for entry in entries() {
        let bound = harness.state().bindings.text(entry.command).is_some();
        let shown = harness.query_all_by_label(entry.label).count() > 0;
        assert!(shown || !bound, "{} is missing", entry.label);
    }
    harness.get_by_label("Search keys and gestures").type_text("full screen");
    harness.run_steps(8);
    assert!(harness.query_by_label("Full screen").is_some());
    assert_eq!(harness.query_all_by_label("Show and hide panels").count(), 0);
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert_eq!(harness.state().sheet, None);
    assert_eq!(harness.state().sought, "");
}

#[test]
fn the_theme_is_chosen_in_the_preferences() {
    let mut harness = bell();
    assert_eq!(harness.ctx.theme(), Theme::Dark);
    press(&mut harness, Modifiers::COMMAND, Key::Comma);
    harness.get_by_role_and_label(egui::accesskit::Role::RadioButton, "Light").click();
    harness.run_steps(8);
    assert_eq!(harness.ctx.theme(), Theme::Light);
    click(&mut harness, "Close preferences");
    assert_eq!(harness.state().sheet, None);
}

#[test]
fn a_command_gets_other_keys_and_a_clash_is_told_not_made() {
    let undo = Command::File(FileCommand::Undo);
    let mut harness = bell_in([1280.0, 1600.0]);
    harness.state_mut().sheet = Some(Sheet::Preferences);
    harness.run_steps(8);
    click(&mut harness, "Files and history");
    click(&mut harness, "Keys for Undo");
    press(&mut harness, Modifiers::COMMAND, Key::O);
    assert_eq!(harness.state().bindings.text(undo).as_deref(), Some("Ctrl+Z"));
    assert!(harness.query_by_label_contains("Ctrl+O is for Open").is_some());
    press(&mut harness, Modifiers::COMMAND, Key::U);
    assert_eq!(harness.state().bindings.text(undo).as_deref(), Some("Ctrl+U"));
    assert_eq!(harness.state().preferences.keys["undo"], "Ctrl+U");
    // They are in force, and the old ones are not.
    harness.state_mut().sheet = None;
    paint_something(harness.state_mut());
    harness.run_steps(8);
    let present = |harness: &Harness<'_, Desk>| harness.state().editor.history().entries().1;
    let before = present(&harness);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(present(&harness), before);
    press(&mut harness, Modifiers::COMMAND, Key::U);
    assert_eq!(present(&harness), before - 1);
}

#[test]
fn escape_leaves_keys_as_they_were_and_backspace_takes_them_away() {
    let redo = Command::File(FileCommand::Redo);
    let mut harness = bell_in([1280.0, 1600.0]);
    harness.state_mut().sheet = Some(Sheet::Preferences);
    harness.run_steps(8);
    click(&mut harness, "Files and history");
    click(&mut harness, "Keys for Redo");
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert_eq!(harness.state().sheet, Some(Sheet::Preferences));
    assert!(harness.state().rebinding.is_none());
    assert!(harness.state().bindings.text(redo).is_some());
    click(&mut harness, "Keys for Redo");
    press(&mut harness, Modifiers::NONE, Key::Backspace);
    assert_eq!(harness.state().bindings.text(redo), None);
}

#[test]
fn a_line_stays_until_it_is_read() {
    let mut harness = bell();
    harness.state_mut().notices.error("oak.png: it is torn");
    harness.run_steps(8);
    assert!(harness.query_by_label("oak.png: it is torn").is_some());
    click(&mut harness, "Close this line");
    assert!(harness.query_by_label("oak.png: it is torn").is_none());
    assert!(harness.state().notices.all().is_empty());
}

#[test]
fn a_path_that_leads_nowhere_is_told_in_place_and_one_that_leads_to_a_model_opens_it() {
    let mut harness = bell();
    press(&mut harness, Modifiers::COMMAND, Key::O);
    harness.get_by_label("Path of the model").type_text("/nowhere/bell.obj");
    harness.run_steps(8);
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert!(harness.query_by_label("There is no such file").is_some());
    let file = format!("{}/../../assets-demo/harbour-bell.obj", env!("CARGO_MANIFEST_DIR"));
    harness.state_mut().path.text = file;
    // What the fixture painted is in no file.
    harness.state_mut().kept = harness.state().document().clone();
    harness.run_steps(8);
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(harness.state().sheet, None);
    while harness.state().tasks.goes_on("Opening") {
        harness.step();
    }
    let desk = harness.state();
    assert_eq!((desk.opened, desk.title.as_str()), (1, "harbour-bell"));
    assert_eq!(desk.preferences.recent.len(), 1);
    assert!(desk.chosen.layer.is_some(), "there is a layer to paint on");
    assert!(!desk.has_unexported_work());
}

#[test]
fn closing_asks_once_where_something_would_be_lost_and_never_where_nothing_is() {
    let mut harness = bell();
    harness.state_mut().kept = harness.state().document().clone();
    harness.state_mut().close();
    assert!(harness.state().closed);
    harness.state_mut().closed = false;
    paint_something(harness.state_mut());
    press(&mut harness, Modifiers::COMMAND, Key::Q);
    assert!(!harness.state().closed);
    click(&mut harness, "Stay here");
    assert_eq!(harness.state().leaving, None);
    press(&mut harness, Modifiers::COMMAND, Key::Q);
    click(&mut harness, "Keep as a project");
    assert_eq!(
        (harness.state().sheet, harness.state().closed),
        (Some(Sheet::Keep(Purpose::Keep)), false)
    );
    press(&mut harness, Modifiers::NONE, Key::Escape);
    press(&mut harness, Modifiers::COMMAND, Key::Q);
    click(&mut harness, "Close and lose it");
    assert!(harness.state().closed);
}

#[test]
fn opening_another_model_asks_too() {
    let mut harness = bell();
    paint_something(harness.state_mut());
    harness.state_mut().open_file("board.obj".into());
    harness.run_steps(8);
    assert_eq!(harness.state().leaving, Some(Leaving::Open("board.obj".into())));
    assert!(harness.query_by_label("Open board.obj and lose it").is_some());
    assert!(!harness.state().tasks.goes_on("Opening"));
}

#[test]
fn an_export_writes_the_files_that_were_named_before_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut harness = bell();
    click(&mut harness, "Export");
    let export = &mut harness.state_mut().export;
    export.folder = folder.path().join("new").display().to_string();
    export.name = "harbour bell".to_owned();
    harness.run_steps(8);
    click(&mut harness, "Model as OBJ and MTL");
    let desk = harness.state();
    let mut named = desk.export.names(desk.document());
    assert!(named.contains(&"harbour_bell.glb".to_owned()), "{named:?}");
    for name in &named {
        let rest = name.strip_prefix("harbour_bell_");
        let shown = rest.map_or(name.clone(), |rest| format!("\u{2026}_{rest}"));
        assert!(harness.query_by_label(&shown).is_some(), "{name} is not shown");
    }
    press(&mut harness, Modifiers::COMMAND, Key::E);
    while harness.state().is_exporting() {
        harness.step();
    }
    let files = std::fs::read_dir(folder.path().join("new")).unwrap();
    let mut written: Vec<String> =
        files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
    written.sort();
    named.sort();
    assert_eq!(written, named);
    assert!(!harness.state().has_unexported_work());
}

#[test]
fn what_keeps_an_export_from_being_written_is_said_and_nothing_starts() {
    let mut harness = bell();
    click(&mut harness, "Export");
    harness.state_mut().export.folder.clear();
    harness.run_steps(8);
    assert!(harness.query_by_label("Name a folder to write into").is_some());
    press(&mut harness, Modifiers::COMMAND, Key::E);
    assert!(!harness.state().is_exporting());
    assert_eq!(harness.state().notices.all().len(), 1);
}

#[test]
fn a_dropped_file_is_opened_or_told_in_one_line_what_can_be() {
    let mut harness = bell();
    harness.state_mut().kept = harness.state().document().clone();
    take_files(harness.state_mut(), vec!["notes.txt".into()]);
    let lines = harness.state().notices.all();
    assert!(lines.len() == 1 && lines[0].text.starts_with("notes.txt: "), "{lines:?}");
    assert_eq!(lines[0].text.lines().count(), 1);
    take_files(harness.state_mut(), vec!["BOARD.OBJ".into()]);
    assert!(harness.state().tasks.goes_on("Opening BOARD.OBJ"));
    take_files(harness.state_mut(), vec!["oak.JPG".into()]);
    assert_eq!(harness.state().dropped_pictures.len(), 1);
}

#[test]
fn while_nothing_is_open_the_window_says_what_to_do() {
    let desk = Desk::new(Preferences::default()).unwrap();
    let mut harness = testing::harness(desk, WIDE);
    harness.run_steps(8);
    click(&mut harness, "Open a model");
    assert_eq!(harness.state().sheet, Some(Sheet::Open));
}

#[test]
fn first_steps_lead_through_and_do_not_come_again() {
    let mut harness = bell();
    assert_eq!(harness.state().first_step, Some(0));
    for _ in 0..4 {
        click(&mut harness, "Next step");
    }
    assert!(harness.query_by_label("Skip").is_none());
    click(&mut harness, "Done");
    assert!(harness.state().preferences.knows_first_steps);
    assert_eq!(harness.state().first_step, None);
    harness.state_mut().perform(Command::Window(WindowCommand::FirstSteps));
    harness.run_steps(8);
    assert_eq!(harness.state().first_step, Some(0));
    click(&mut harness, "Skip");
    assert_eq!(harness.state().first_step, None);
}

#[test]
fn panels_are_hidden_and_shown() {
    let mut harness = bell();
    for shown in [false, true] {
        harness.state_mut().perform(Command::Window(WindowCommand::Panel(Pane::Flat)));
        harness.run_steps(8);
        assert_eq!(is_shown(&harness.state().panes, Pane::Flat), shown);
    }
}

#[test]
fn everything_is_made_larger_and_smaller_by_keys_and_comes_back() {
    let mut harness = bell();
    press(&mut harness, Modifiers::COMMAND, Key::Plus);
    assert_eq!(harness.state().preferences.ui_scale, 1.1);
    press(&mut harness, Modifiers::COMMAND, Key::Minus);
    assert_eq!(harness.state().preferences.ui_scale, 1.0);
    for _ in 0..12 {
        press(&mut harness, Modifiers::COMMAND, Key::Equals);
    }
    assert_eq!(harness.state().preferences.ui_scale, 2.0);
    press(&mut harness, Modifiers::COMMAND, Key::Num0);
    assert_eq!(harness.state().preferences.ui_scale, 1.0);
}

#[test]
fn under_a_sheet_keys_change_nothing_that_is_not_seen() {
    let mut harness = bell();
    let shown = harness.state().model_view.shown;
    harness.state_mut().sheet = Some(Sheet::Preferences);
    harness.run_steps(8);
    press(&mut harness, Modifiers::NONE, Key::Num3);
    assert_eq!(harness.state().model_view.shown, shown);
    harness.state_mut().sheet = None;
    harness.run_steps(8);
    press(&mut harness, Modifiers::NONE, Key::Num3);
    assert_ne!(harness.state().model_view.shown, shown);
}

/// A window manager may give any size, and a window is shown while it is dragged smaller.
#[test]
fn no_size_of_the_window_is_too_small_for_anything_that_is_shown() {
    type Set = fn(&mut Desk);
    let states: [Set; 9] = [
        |_| (),
        |desk| desk.notices.error("oak.png: it is torn"),
        |desk| desk.sheet = Some(Sheet::Help),
        |desk| desk.sheet = Some(Sheet::Preferences),
        |desk| desk.sheet = Some(Sheet::Open),
        |desk| desk.sheet = Some(Sheet::Keep(Purpose::Keep)),
        |desk| desk.leaving = Some(Leaving::Close),
        |desk| desk.stage = Stage::Export,
        |desk| desk.preferences.knows_first_steps = false,
    ];
    for set in states {
        let mut desk = testing::bell_desk();
        set(&mut desk);
        let mut harness = testing::harness(desk, WIDE);
        harness.run_steps(4);
        for size in [[640.0, 3.0], [200.0, 120.0], [1.0, 1.0], [3.0, 640.0], WIDE] {
            harness.set_size(size.into());
            harness.run_steps(4);
        }
    }
}

#[test]
fn keys_that_come_fast_count_each_though_a_frame_is_slow() {
    let mut harness = bell();
    for _ in 0..4 {
        paint_something(harness.state_mut());
    }
    let layers =
        |harness: &Harness<'_, Desk>| harness.state().material().unwrap().stack.walk().count();
    let before = layers(&harness);
    let undo = egui::Event::Key {
        key: Key::Z,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: Modifiers::COMMAND,
    };
    harness.input_mut().events.extend([undo.clone(), undo.clone(), undo]);
    harness.run_steps(2);
    assert_eq!(layers(&harness), before - 3);
}
