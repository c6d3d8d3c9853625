//! The panel by its labels: what each control changes, and nothing else.

use brush::{BuildUp, Reach, Smoothing};
use document::{Edit, LayerEdit, MaterialEdit, NewContent};
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use layers::{ChannelId, Place, Value};

use crate::brush_in_hand::{BrushInHand, Pick, SizeIn};
use crate::chosen::Aim;
use crate::desk::Desk;
use crate::does::Does;
use crate::testing::bell_desk;
use crate::theme;

/// The panel alone, tall enough to show all of it.
fn panel(desk: Desk) -> Harness<'static, Desk> {
    let mut harness = Harness::builder()
        .with_size([300.0, 1400.0])
        .with_context_setup(theme::install)
        .build_ui_state(super::show, desk);
    harness.run();
    harness
}

fn slide(harness: &mut Harness<'_, Desk>, label: &str, value: f64) {
    harness.get_by_role_and_label(Role::Slider, label).set_value_accesskit(value);
    harness.run();
}

fn click(harness: &mut Harness<'_, Desk>, role: Role, label: &str) {
    harness.get_by_role_and_label(role, label).click();
    harness.run();
}

fn retype(harness: &mut Harness<'_, Desk>, label: &str, text: &str) {
    harness.get_by_label(label).focus();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    harness.get_by_label(label).type_text(text);
    harness.run();
}

#[test]
fn every_slider_sets_what_it_is_named_after() {
    let close = |found: f64, wanted: f64| (found - wanted).abs() < 1e-3;
    let mut harness = panel(bell_desk());
    for label in ["Pressure on size", "Pressure on opacity", "Pressure on flow"] {
        slide(&mut harness, label, 30.0);
        slide(&mut harness, &label.replace("Pressure", "Curve of pressure"), 2.0);
    }
    let pressure = harness.state().brush.settings.pressure;
    for response in [pressure.size, pressure.opacity, pressure.flow] {
        assert!(close(f64::from(response.at_zero), 0.7) && close(f64::from(response.gamma), 2.0));
    }
    let table = [("Opacity", 25.0), ("Flow", 35.0), ("Softness", 45.0), ("Spacing", 55.0)];
    for (label, value) in table {
        slide(&mut harness, label, value);
    }
    slide(&mut harness, "Size", 77.0);
    slide(&mut harness, "Steadying", 0.0);
    slide(&mut harness, "Roughness value", 0.2);
    slide(&mut harness, "Metalness value", 0.9);
    let brush = &harness.state().brush;
    let settings = &brush.settings;
    assert!(close(f64::from(settings.opacity), 0.25));
    assert!(close(f64::from(settings.flow), 0.35));
    assert!(close(f64::from(settings.hardness), 0.55));
    assert!(close(f64::from(settings.spacing), 0.55));
    assert!(close(brush.radius_points, 77.0));
    assert_eq!(brush.smoothing, Smoothing::Off);
    assert_eq!(brush.values[&ChannelId::ROUGHNESS], Value::Scalar(13_107));
    assert_eq!(brush.values[&ChannelId::METALNESS], Value::Scalar(58_982));
    assert!(settings.check().is_ok());
}

#[test]
fn every_choice_sets_what_it_says() {
    let mut harness = panel(bell_desk());
    click(&mut harness, Role::RadioButton, "Even");
    click(&mut harness, Role::RadioButton, "Joined");
    let settings = harness.state().brush.settings.clone();
    assert_eq!((settings.build_up, settings.reach), (BuildUp::Even, Reach::Connected));
    click(&mut harness, Role::RadioButton, "Gradual");
    click(&mut harness, Role::RadioButton, "Part");
    let settings = harness.state().brush.settings.clone();
    assert_eq!((settings.build_up, settings.reach), (BuildUp::Gradual, Reach::Part));
    click(&mut harness, Role::Button, "Erase");
    assert_eq!(harness.state().brush.does, Does::Erase);
    click(&mut harness, Role::Button, "Pick all values");
    assert_eq!(harness.state().brush.picking, Some(Pick::All));
}

#[test]
fn a_size_that_is_meant_otherwise_looks_the_same() {
    let mut harness = panel(bell_desk());
    slide(&mut harness, "Size", 40.0);
    click(&mut harness, Role::RadioButton, "Model");
    assert_eq!(harness.state().brush.size_in, SizeIn::Object);
    click(&mut harness, Role::RadioButton, "Screen");
    let radius = harness.state().brush.radius_points;
    assert!((radius - 40.0).abs() < 1e-6, "{radius}");
}

#[test]
fn words_are_taken_in_hand_as_a_decal_and_paths_and_symmetry_have_their_rows() {
    let mut harness = panel(bell_desk());
    click(&mut harness, Role::RadioButton, "String");
    assert!(harness.state().brush.is_pulled());
    click(&mut harness, Role::Button, "Smudge");
    assert_eq!(harness.state().brush.does, Does::Smudge);
    click(&mut harness, Role::Button, "Leave paint");
    for fold in ["Symmetry", "Paths", "Decals"] {
        click(&mut harness, Role::Button, fold);
    }
    harness.state_mut().brush_panel.words = "No 7".to_owned();
    harness.run();
    click(&mut harness, Role::Button, "Lay");
    assert!(harness.state().decal.is_some());
}

#[test]
fn channels_are_switched_and_one_stays() {
    let mut harness = panel(bell_desk());
    for label in ["Roughness", "Metal", "Colour"] {
        click(&mut harness, Role::CheckBox, label);
    }
    assert_eq!(harness.state().chosen.aim, Aim::Cells([ChannelId::BASE_COLOUR].into()));
    let roughness = harness.get_by_role_and_label(Role::Slider, "Roughness value");
    assert!(roughness.accesskit_node().is_disabled());
}

#[test]
fn a_code_is_read_and_a_bad_one_keeps_the_old_colour() {
    let mut harness = panel(bell_desk());
    retype(&mut harness, "Colour code", "#5f8f7f");
    let wanted = [0x5f5f, 0x8f8f, 0x7f7f];
    assert_eq!(harness.state().brush.colour(), wanted);
    retype(&mut harness, "Colour code", "verdigris");
    assert_eq!(harness.state().brush.colour(), wanted);
    assert!(harness.query_by_label_contains("the old one is kept").is_some());
    retype(&mut harness, "Colour code", "583");
    assert_eq!(harness.state().brush.colour(), [0x5555, 0x8888, 0x3333]);
    assert!(harness.query_by_label_contains("the old one is kept").is_none());
}

#[test]
fn a_code_that_is_only_looked_at_leaves_all_16_bits() {
    let mut desk = bell_desk();
    let fine = [1001, 2002, 3003];
    desk.brush.set_colour(fine);
    let mut harness = panel(desk);
    harness.get_by_label("Colour code").focus();
    harness.run();
    harness.key_press(Key::Tab);
    harness.run();
    assert_eq!(harness.state().brush.colour(), fine);
}

#[test]
fn arrows_move_hue_saturation_and_value() {
    let mut desk = bell_desk();
    desk.brush.set_colour([20_000, 40_000, 60_000]);
    let mut harness = panel(desk);
    let before = harness.state().brush.hsv();
    harness.get_by_label("Hue").focus();
    harness.run();
    harness.key_press(Key::ArrowRight);
    harness.run();
    assert!((harness.state().brush.hsv().hue - before.hue - 1.0).abs() < 1e-9);
    harness.get_by_label("Saturation and value").focus();
    harness.run();
    harness.key_press(Key::ArrowLeft);
    harness.key_press(Key::ArrowUp);
    harness.run();
    let after = harness.state().brush.hsv();
    assert!((after.saturation - before.saturation + 0.01).abs() < 1e-9);
    assert!((after.value - before.value - 0.01).abs() < 1e-9);
}

#[test]
fn sliders_follow_arrows_home_and_end_and_a_double_click_brings_the_usual_back() {
    let mut harness = panel(bell_desk());
    let label = "Softness";
    harness.get_by_role_and_label(Role::Slider, label).focus();
    harness.run();
    for (key, hardness) in
        [(Key::Home, 1.0), (Key::ArrowRight, 0.99), (Key::PageUp, 0.89), (Key::End, 0.0)]
    {
        harness.key_press(key);
        harness.run();
        let found = harness.state().brush.settings.hardness;
        assert!((found - hardness).abs() < 1e-4, "{key:?}: {found}");
    }
    let centre = harness.get_by_role_and_label(Role::Slider, label).rect().center();
    for pressed in [true, false, true, false] {
        let (pos, button) = (centre, egui::PointerButton::Primary);
        let modifiers = Modifiers::NONE;
        // All in one frame: two clicks at once.
        harness.input_mut().events.push(egui::Event::PointerMoved(pos));
        harness.input_mut().events.push(egui::Event::PointerButton {
            pos,
            button,
            pressed,
            modifiers,
        });
    }
    harness.run();
    let usual = BrushInHand::usual_settings().hardness;
    assert!((harness.state().brush.settings.hardness - usual).abs() < 1e-6);
}

#[test]
fn a_drag_with_shift_is_ten_times_as_fine() {
    let dragged = |modifiers: Modifiers| {
        let mut harness = panel(bell_desk());
        slide(&mut harness, "Opacity", 50.0);
        let rect = harness.get_by_role_and_label(Role::Slider, "Opacity").rect();
        let start = rect.center();
        harness.event_modifiers(egui::Event::PointerMoved(start), modifiers);
        let button = |pressed| egui::Event::PointerButton {
            pos: start,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers,
        };
        harness.event_modifiers(button(true), modifiers);
        harness.run();
        for step in [10.0, 20.0] {
            let at = start + egui::vec2(step, 0.0);
            harness.event_modifiers(egui::Event::PointerMoved(at), modifiers);
            harness.run();
        }
        f64::from(harness.state().brush.settings.opacity) - 0.5
    };
    let (coarse, fine) = (dragged(Modifiers::NONE), dragged(Modifiers::SHIFT));
    assert!(coarse > 0.1, "{coarse}");
    assert!((coarse / fine - 10.0).abs() < 1.5, "{coarse} against {fine}");
}

#[test]
fn the_palette_keeps_gives_moves_and_drops_colours() {
    let mut desk = bell_desk();
    desk.preferences.palette.0.clear();
    desk.brush.set_colour([0, 0, 65_535]);
    let mut harness = panel(desk);
    assert!(harness.query_by_label_contains("No colours are kept yet").is_some());
    click(&mut harness, Role::Button, "Keep colour");
    harness.state_mut().brush.set_colour([65_535, 0, 0]);
    harness.run();
    click(&mut harness, Role::Button, "Keep colour");
    click(&mut harness, Role::Button, "#0000ff");
    assert_eq!(harness.state().brush.colour(), [0, 0, 65_535]);
    click(&mut harness, Role::Button, "Change the palette");
    click(&mut harness, Role::Button, "#0000ff");
    retype(&mut harness, "Name of the colour", "Sky");
    click(&mut harness, Role::Button, "Move right");
    let kept = |harness: &Harness<'_, Desk>| -> Vec<String> {
        harness.state().preferences.palette.0.iter().map(|kept| kept.name.clone()).collect()
    };
    assert_eq!(kept(&harness), ["", "Sky"]);
    click(&mut harness, Role::Button, "Remove colour");
    assert_eq!(kept(&harness), [""]);
}

#[test]
fn a_solid_layer_says_why_it_is_not_painted_and_the_button_mends_it() {
    let mut desk = bell_desk();
    let material = desk.chosen.material;
    let layer = desk.editor.free_layer_id(material);
    let content = NewContent::Solid([(ChannelId::ROUGHNESS, Value::Scalar(0))].into());
    let place = Place { parent: None, index: 0 };
    let name = "Base".to_owned();
    let edit = MaterialEdit::AddLayer { layer, name, content, place };
    assert!(desk.apply(&Edit::Material(material, edit)));
    desk.chosen.layer = Some(layer);
    let mut harness = panel(desk);
    assert!(harness.query_by_label_contains("is solid").is_some());
    click(&mut harness, Role::Button, "Add painted layer");
    assert!(harness.state().refusal().is_none());
    assert!(harness.query_by_label_contains("is solid").is_none());
}

#[test]
fn a_hidden_layer_is_shown_again_from_here() {
    let mut desk = bell_desk();
    let layer = desk.chosen.layer.unwrap();
    assert!(desk.edit_material(MaterialEdit::Layer(layer, LayerEdit::Visible(false))));
    let mut harness = panel(desk);
    click(&mut harness, Role::Button, "Show or hide layer");
    assert!(harness.state().chosen_layer().unwrap().visible);
}

#[test]
fn the_stroke_is_drawn_anew_when_the_brush_changes_and_only_then() {
    let mut harness = panel(bell_desk());
    let drawn = |harness: &Harness<'_, Desk>| format!("{:?}", harness.state().brush_panel.card);
    let before = drawn(&harness);
    harness.run();
    assert_eq!(drawn(&harness), before);
    slide(&mut harness, "Opacity", 40.0);
    assert_ne!(drawn(&harness), before);
}

#[test]
fn every_control_has_a_name() {
    let mut desk = bell_desk();
    desk.brush.note_painted([1, 2, 3]);
    desk.brush_panel.editing_palette = true;
    desk.brush_panel.kept = Some(0);
    let harness = panel(desk);
    assert_eq!(harness.unnamed_widgets(), [""; 0]);
}

#[test]
fn a_brush_is_found_by_a_word_and_taken_in_hand_with_its_grain_as_large_as_the_brush_is() {
    let mut harness = crate::testing::harness(bell_desk(), [1280.0, 1000.0]);
    harness.run_steps(4);
    harness.get_by_label("Brush: Choose a brush").click();
    harness.run_steps(4);
    harness.get_by_label("Search brushes").focus();
    harness.run_steps(2);
    harness.get_by_label("Search brushes").type_text("drops dried");
    harness.run_steps(4);
    assert!(harness.query_by_label("Oak grain").is_none());
    harness.get_by_label("Rain spots").click();
    harness.run_steps(4);
    let tooth = harness.state().brush.settings.tooth.clone().unwrap();
    assert_eq!(tooth.relief, brush::Relief::Pattern(brush::Pattern::Speckle));
    assert!(harness.query_by_label("Brush: Rain spots").is_some());
    harness.state_mut().brush.settings.opacity = 0.5;
    harness.run_steps(2);
    assert!(harness.query_by_label("Brush: Rain spots, changed").is_some());

    // It is kept under a name of one's own, and removed again.
    harness.get_by_label("Brush: Rain spots, changed").click();
    harness.run_steps(4);
    harness.get_by_label("Name for the brush in hand").focus();
    harness.run_steps(2);
    harness.get_by_label("Name for the brush in hand").type_text("Thin rain");
    harness.run_steps(2);
    harness.get_by_label("Keep it").click();
    harness.run_steps(4);
    assert!(harness.query_by_label("Brush: Thin rain").is_some());
    let kept = harness.state().preferences.brushes.clone();
    assert_eq!((kept.len(), kept[0].name.as_str()), (1, "Thin rain"));
    let text = toml::to_string(&harness.state().preferences).unwrap();
    let back: crate::preferences::Preferences = toml::from_str(&text).unwrap();
    assert_eq!(back.brushes, kept);
    // It comes first once it has a star, and a copy of it is another one.
    harness.get_by_label("Thin rain first").click();
    harness.run_steps(4);
    assert!(harness.state().preferences.favourite_brushes.contains("Thin rain"));
    let choose = |harness: &mut Harness<'_, Desk>, what: &str| {
        harness.get_by_label("More for Thin rain").click();
        harness.run_steps(4);
        harness.get_by_label(what).click();
        harness.run_steps(4);
    };
    choose(&mut harness, "Duplicate");
    let names = |harness: &Harness<'_, Desk>| -> Vec<String> {
        harness.state().preferences.brushes.iter().map(|brush| brush.name.clone()).collect()
    };
    assert_eq!(names(&harness), ["Thin rain", "Thin rain 2"]);
    choose(&mut harness, "Rename");
    harness.get_by_label("New name for Thin rain").focus();
    harness.run_steps(2);
    harness.get_by_label("New name for Thin rain").type_text(" of May");
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::Button, "Rename").click();
    harness.run_steps(4);
    assert_eq!(names(&harness), ["Thin rain of May", "Thin rain 2"]);
    assert!(harness.state().preferences.favourite_brushes.contains("Thin rain of May"));
    harness.get_by_label("More for Thin rain 2").click();
    harness.run_steps(4);
    harness.get_by_label("Remove").click();
    harness.run_steps(4);
    assert_eq!(names(&harness), ["Thin rain of May"]);
}
