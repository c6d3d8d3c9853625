//! The model view, driven as a hand drives it.

mod area;
mod beside;
mod in_hand;

use std::sync::Arc;

use document::{Document, Edit, MaterialEdit, NewContent};
use egui::{Event, Key, Modifiers, MouseWheelUnit, PointerButton, Pos2, TouchPhase, pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use glam::DVec2;
use layers::{Content, LayerId, Place, Value};
use raster::Unobserved;
use surface::PartId;

use crate::brush_in_hand::SizeIn;
use crate::chosen::Aim;
use crate::commands::{Command, FileCommand, ViewCommand};
use crate::desk::{Desk, Met};
use crate::panes::Pane;
use crate::testing;

/// The bell in a window, ready to be painted.
fn open() -> Harness<'static, Desk> {
    let desk = testing::bell_desk();
    for material in &desk.document().materials {
        desk.editor.texel_map(material.id, &Unobserved).unwrap();
    }
    let mut harness = testing::harness(desk, [1280.0, 800.0]);
    harness.run();
    harness
}

fn edits(desk: &Desk) -> usize {
    desk.editor.history().entries().0.count()
}

/// A place in the model view at which something of this kind is seen.
fn place(desk: &Desk, wanted: impl Fn(Option<Met>) -> bool) -> Pos2 {
    let rect = desk.model_view.rect.shrink(60.0);
    let across = |share: usize, steps: usize| share as f32 / steps as f32;
    let places = (0..=24).flat_map(|y| (0..=24).map(move |x| (across(x, 24), across(y, 24))));
    let mut places = places.map(|(x, y)| rect.min + rect.size() * vec2(x, y));
    places.find(|place| wanted(desk.met(*place))).expect("such a place is seen")
}

fn on_chosen(desk: &Desk) -> Pos2 {
    place(desk, |met| met.is_some_and(|met| met.material == desk.chosen.material))
}

fn beside(desk: &Desk) -> Pos2 {
    let far = |at: Pos2| desk.met_around(at, 1.0).next().is_none();
    let rect = desk.model_view.rect;
    let corner = pos2(rect.left() + 20.0, rect.bottom() - 20.0);
    assert!(desk.met(corner).is_none() && far(corner), "the corner is empty");
    corner
}

fn button(harness: &Harness<'_, Desk>, at: Pos2, button: PointerButton, pressed: bool) {
    let modifiers = Modifiers::NONE;
    harness.event(Event::PointerButton { pos: at, button, pressed, modifiers });
}

fn drag(harness: &mut Harness<'_, Desk>, with: PointerButton, from: Pos2, by: egui::Vec2) {
    harness.hover_at(from);
    button(harness, from, with, true);
    for share in [0.25, 0.5, 0.75, 1.0] {
        harness.hover_at(from + by * share);
    }
    button(harness, from + by, with, false);
    harness.run();
}

#[test]
fn a_stroke_that_came_in_one_slow_frame_is_painted() {
    let mut harness = open();
    let before = edits(harness.state());
    let from = on_chosen(harness.state());
    let to = from + vec2(40.0, 0.0);
    let (button, modifiers) = (PointerButton::Primary, Modifiers::NONE);
    let press = |pos, pressed| Event::PointerButton { pos, button, pressed, modifiers };
    let moves =
        [Event::PointerMoved(from), press(from, true), Event::PointerMoved(to), press(to, false)];
    harness.input_mut().events.extend(moves);
    harness.run();
    assert_eq!(edits(harness.state()), before + 1);
}

fn is_same(a: &Document, b: &Document) -> bool {
    a.materials.iter().zip(&b.materials).all(|(a, b)| Arc::ptr_eq(a, b))
}

#[test]
fn a_drag_over_the_model_is_one_edit_of_what_is_chosen_and_undo_takes_it_back() {
    let mut harness = open();
    let (before, count) = (harness.state().document().clone(), edits(harness.state()));
    let from = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, from, vec2(30.0, 12.0));
    let desk = harness.state();
    assert_eq!(edits(desk), count + 1);
    let layer = desk.chosen_layer().unwrap();
    let Content::Painted(cells) = &layer.content else { panic!("it is painted") };
    assert_eq!(cells.len(), 3, "all cells were aimed at");
    let changed = before.materials.iter().zip(&desk.document().materials);
    let changed: Vec<u32> =
        changed.filter(|(a, b)| !Arc::ptr_eq(a, b)).map(|(a, _)| a.id.0).collect();
    assert_eq!(changed, [desk.chosen.material.0]);
    assert!(desk.notices.all().is_empty(), "{:?}", desk.notices.all());
    assert!(!desk.brush.recent.is_empty(), "its colour is among the recent ones");
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    assert!(is_same(&before, harness.state().document()));
}

#[test]
fn a_stroke_paints_only_the_cells_that_are_aimed_at() {
    let mut harness = open();
    harness.state_mut().chosen.aim = Aim::Cells([layers::ChannelId::ROUGHNESS].into());
    let from = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, from, vec2(30.0, 0.0));
    let layer = harness.state().chosen_layer().unwrap();
    let Content::Painted(cells) = &layer.content else { panic!("it is painted") };
    assert_eq!(cells.keys().copied().collect::<Vec<_>>(), [layers::ChannelId::ROUGHNESS]);
    assert!(harness.state().brush.recent.is_empty(), "no colour was painted");
}

#[test]
fn a_click_makes_one_dab() {
    let mut harness = open();
    let count = edits(harness.state());
    let at = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, at, vec2(0.0, 0.0));
    assert_eq!(edits(harness.state()), count + 1);
}

#[test]
fn a_drag_beside_the_model_paints_nothing_and_orbits_where_that_is_wanted() {
    let mut harness = open();
    let (count, camera) = (edits(harness.state()), harness.state().model_view.camera);
    let from = beside(harness.state());
    drag(&mut harness, PointerButton::Primary, from, vec2(40.0, -10.0));
    assert_eq!(edits(harness.state()), count);
    assert_eq!(harness.state().model_view.camera, camera);
    harness.state_mut().preferences.ground_orbits = true;
    drag(&mut harness, PointerButton::Primary, from, vec2(40.0, -10.0));
    assert_eq!(edits(harness.state()), count);
    assert_ne!(harness.state().model_view.camera.eye, camera.eye);
}

#[test]
fn a_drag_with_the_right_or_the_middle_button_moves_the_camera_and_no_document() {
    for with in [PointerButton::Secondary, PointerButton::Middle] {
        let mut harness = open();
        let (before, camera) =
            (harness.state().document().clone(), harness.state().model_view.camera);
        let from = on_chosen(harness.state());
        let point = harness.state().met(from).unwrap().position;
        drag(&mut harness, with, from, vec2(40.0, 20.0));
        let view = &harness.state().model_view;
        assert_ne!(view.camera, camera);
        assert!(is_same(&before, harness.state().document()));
        let seen = view.camera.project(point).unwrap();
        // Turned about, it stays where it was; moved, it stays under the pointer.
        let to = if with == PointerButton::Middle { from + vec2(40.0, 20.0) } else { from };
        assert!((seen - view.pixel(to)).length() < 1e-3, "{seen}");
    }
}

#[test]
fn the_model_follows_the_hand_that_turns_it() {
    let mut harness = open();
    let from = on_chosen(harness.state());
    let camera = harness.state().model_view.camera;
    let pivot = harness.state().met(from).unwrap().position;
    let near = pivot + (camera.eye - pivot).normalize_or_zero() * 0.05;
    let before = camera.project(near).unwrap();
    drag(&mut harness, PointerButton::Secondary, from, vec2(30.0, 0.0));
    let after = harness.state().model_view.camera.project(near).unwrap();
    assert!(after.x > before.x, "what lies before the pivot goes where the hand goes");
}

#[test]
fn the_wheel_keeps_the_point_under_the_cursor() {
    let mut harness = open();
    let at = on_chosen(harness.state());
    let point = harness.state().met(at).unwrap().position;
    let before = harness.state().model_view.camera.depth(point);
    harness.hover_at(at);
    let (unit, modifiers) = (MouseWheelUnit::Line, Modifiers::NONE);
    for _ in 0..3 {
        let (delta, phase, source) =
            (vec2(0.0, 1.0), TouchPhase::Move, egui::MouseWheelSource::Wheel);
        harness.event(Event::MouseWheel { unit, delta, modifiers, phase, source });
    }
    harness.run();
    let view = &harness.state().model_view;
    assert!((view.camera.project(point).unwrap() - view.pixel(at)).length() < 1e-3);
    assert!((view.camera.depth(point) / before - 0.9f64.powi(3)).abs() < 1e-9);
}

#[test]
fn undo_while_the_pen_is_down_takes_that_stroke_back_and_no_more_comes_of_it() {
    let mut harness = open();
    let (before, count) = (harness.state().document().clone(), edits(harness.state()));
    let from = on_chosen(harness.state());
    harness.hover_at(from);
    button(&harness, from, PointerButton::Primary, true);
    harness.hover_at(from + vec2(20.0, 0.0));
    harness.step();
    assert!(harness.state().stroke.is_some());
    assert!(!is_same(&before, harness.state().editor.shown()), "wet paint is shown");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.step();
    harness.hover_at(from + vec2(40.0, 0.0));
    button(&harness, from + vec2(40.0, 0.0), PointerButton::Primary, false);
    harness.run();
    assert_eq!(edits(harness.state()), count);
    assert!(is_same(&before, harness.state().editor.shown()));
    assert!(harness.state().notices.all().is_empty());
    drag(&mut harness, PointerButton::Primary, from, vec2(20.0, 0.0));
    assert_eq!(edits(harness.state()), count + 1, "the next stroke is as any other");
}

#[test]
fn two_hundred_undos_during_a_stroke_are_survived() {
    let mut harness = open();
    let from = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, from, vec2(10.0, 0.0));
    harness.hover_at(from);
    button(&harness, from, PointerButton::Primary, true);
    for step in 0..200u8 {
        harness.hover_at(from + vec2(f32::from(step % 20), 0.0));
        harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        harness.step();
    }
    button(&harness, from, PointerButton::Primary, false);
    harness.run();
    let desk = harness.state();
    assert!(desk.stroke.is_none() && desk.gesture.is_none());
    assert_eq!(desk.editor.history().entries().1, 0, "all was undone");
}

#[test]
fn a_stroke_on_a_solid_layer_is_a_notice_and_no_edit() {
    let mut harness = open();
    let material = harness.state().chosen.material;
    let place = Place { parent: None, index: 0 };
    let content = NewContent::Solid([(layers::ChannelId::METALNESS, Value::Scalar(0))].into());
    let (layer, name) = (LayerId(77), "Cast".to_owned());
    let edit = MaterialEdit::AddLayer { layer, name, content, place };
    assert!(harness.state_mut().apply(&Edit::Material(material, edit)));
    harness.state_mut().chosen.layer = Some(layer);
    let count = edits(harness.state());
    for _ in 0..3 {
        let from = on_chosen(harness.state());
        drag(&mut harness, PointerButton::Primary, from, vec2(40.0, 0.0));
    }
    let desk = harness.state();
    assert_eq!(edits(desk), count);
    let told: Vec<&str> = desk.notices.all().iter().map(|notice| notice.text.as_str()).collect();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].contains("\"Cast\" is solid") && told[0].contains("add one"), "{}", told[0]);
}

#[test]
fn hidden_layers_and_locked_parts_and_other_materials_are_refused_with_what_to_do() {
    let mut harness = open();
    let from = on_chosen(harness.state());
    let count = edits(harness.state());
    let part = harness.state().met(from).unwrap().part;
    let count_parts = harness.state().model_view.parts.len();
    for other in (0..count_parts as u32).map(PartId) {
        harness.state_mut().model_view.part_mut(other).locked = true;
    }
    drag(&mut harness, PointerButton::Primary, from, vec2(10.0, 0.0));
    assert!(harness.state().notices.all()[0].text.contains("is locked: unlock it"));
    harness.state_mut().model_view.part_mut(part).locked = false;
    let other = place(harness.state(), |met| {
        met.is_some_and(|met| met.material != harness.state().chosen.material)
    });
    harness.state_mut().brush.radius_points = 1.0;
    drag(&mut harness, PointerButton::Primary, other, vec2(0.0, 0.0));
    assert!(harness.state().notices.all()[1].text.contains("to paint it"));
    let layer = harness.state().chosen_layer().unwrap().id;
    let hide = MaterialEdit::Layer(layer, document::LayerEdit::Visible(false));
    assert!(harness.state_mut().edit_material(hide));
    let from = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, from, vec2(10.0, 0.0));
    assert!(harness.state().notices.all()[2].text.contains("is hidden: show it"));
    assert_eq!(edits(harness.state()), count + 1, "only what hid the layer");
}

#[test]
fn the_pen_goes_through_a_hidden_part() {
    let mut harness = open();
    let at = on_chosen(harness.state());
    let first = harness.state().met(at).unwrap();
    harness.state_mut().model_view.part_mut(first.part).hidden = true;
    harness.hover_at(at);
    harness.run();
    let under = harness.state().under_pointer.clone();
    assert!(under.is_none_or(|under| under.part != Some(first.part)));
}

#[test]
fn in_a_mirror_paint_goes_where_it_is_seen() {
    let mut harness = open();
    let at = on_chosen(harness.state());
    let edge = harness.state().material().unwrap().size.edge();
    let uv = harness.state().met(at).unwrap().uv.unwrap();
    let [x, y] = crate::desk::texel_of(uv, edge).unwrap();
    let material = harness.state().chosen.material;
    let value = |desk: &Desk| desk.editor.texel_values(material, x, y).unwrap();
    let bare = value(harness.state());
    let white = Value::Colour([u16::MAX; 3]);
    harness.state_mut().brush.values.insert(layers::ChannelId::BASE_COLOUR, white);
    drag(&mut harness, PointerButton::Primary, at, vec2(0.0, 0.0));
    let painted = value(harness.state());
    assert_ne!(painted, bare);
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    harness.state_mut().perform(Command::View(ViewCommand::ToggleMirror));
    let rect = harness.state().model_view.rect;
    let seen = pos2(rect.left() + rect.right() - at.x, at.y);
    drag(&mut harness, PointerButton::Primary, seen, vec2(0.0, 0.0));
    assert_eq!(value(harness.state()), painted);
}

#[test]
fn a_stroke_ends_as_if_the_pen_were_lifted_when_it_vanishes_or_its_view_does() {
    let ways: [fn(&mut Harness<'_, Desk>); 3] = [
        |harness| harness.event(Event::PointerGone),
        |harness| harness.event(Event::WindowFocused(false)),
        |harness| harness.state_mut().panel_wishes.push((Pane::Model, false)),
    ];
    for lose in ways {
        let mut harness = open();
        let count = edits(harness.state());
        let from = on_chosen(harness.state());
        harness.hover_at(from);
        button(&harness, from, PointerButton::Primary, true);
        harness.hover_at(from + vec2(20.0, 0.0));
        harness.step();
        assert!(harness.state().stroke.is_some());
        lose(&mut harness);
        harness.step();
        harness.step();
        assert_eq!(edits(harness.state()), count + 1);
        assert!(harness.state().stroke.is_none() && harness.state().gesture.is_none());
        button(&harness, from, PointerButton::Primary, false);
        harness.run();
        assert_eq!(edits(harness.state()), count + 1);
    }
}

#[test]
fn a_held_key_makes_the_pen_turn_the_view_or_the_light() {
    let mut harness = open();
    let (count, camera) = (edits(harness.state()), harness.state().model_view.camera);
    let from = on_chosen(harness.state());
    harness.key_down(Key::V);
    harness.step();
    drag(&mut harness, PointerButton::Primary, from, vec2(30.0, 10.0));
    harness.key_up(Key::V);
    harness.step();
    assert_ne!(harness.state().model_view.camera, camera);
    let (camera, key) =
        (harness.state().model_view.camera, harness.state().model_view.lighting.key);
    harness.key_down(Key::L);
    harness.step();
    drag(&mut harness, PointerButton::Primary, from, vec2(30.0, -10.0));
    harness.key_up(Key::L);
    harness.step();
    let view = &harness.state().model_view;
    assert_eq!(view.camera, camera);
    assert!(view.lighting.key.azimuth_rad > key.azimuth_rad);
    assert!(view.lighting.key.elevation_rad > key.elevation_rad, "up raises it");
    assert_eq!(edits(harness.state()), count);
}

#[test]
fn the_dial_turns_and_raises_the_light_by_drag_and_by_keys() {
    let mut harness = open();
    let key = |harness: &Harness<'_, Desk>| harness.state().model_view.lighting.key;
    let before = key(&harness);
    let dial = harness.get_by_label("Light direction").rect();
    drag(&mut harness, PointerButton::Primary, dial.center() + vec2(30.0, 0.0), vec2(-15.0, 3.0));
    let dragged = key(&harness);
    assert_ne!(dragged.azimuth_rad, before.azimuth_rad);
    assert_ne!(dragged.elevation_rad, before.elevation_rad);
    harness.get_by_label("Light direction").focus();
    harness.run();
    harness.key_press(Key::ArrowRight);
    harness.run();
    let turned = key(&harness);
    assert!((turned.azimuth_rad - dragged.azimuth_rad - 5.0f32.to_radians()).abs() < 1e-5);
    harness.get_by_label("Light height").focus();
    harness.run();
    harness.key_press(Key::ArrowUp);
    harness.run();
    let raised = key(&harness);
    assert!((raised.elevation_rad - turned.elevation_rad - 5.0f32.to_radians()).abs() < 1e-5);
    assert_eq!(raised.azimuth_rad, turned.azimuth_rad);
}

#[test]
fn a_brush_has_the_same_size_in_points_at_any_scale() {
    let radius = |scale: f32| {
        let mut harness = open();
        harness.set_pixels_per_point(scale);
        harness.run();
        let desk = harness.state();
        let at = on_chosen(desk);
        let depth = desk.model_view.camera.depth(desk.met(at).unwrap().position);
        harness.hover_at(at);
        harness.run();
        let Some(viewport::Footprint::Surface { radius, .. }) =
            harness.state().model_view.footprint
        else {
            panic!("the brush is over the surface")
        };
        let count = edits(harness.state());
        drag(&mut harness, PointerButton::Primary, at, vec2(20.0, 0.0));
        assert_eq!(edits(harness.state()), count + 1);
        radius / depth
    };
    let (one, two) = (radius(1.0), radius(2.0));
    assert!((one / two - 1.0).abs() < 0.02, "{one} {two}");
}

#[test]
fn a_brush_that_is_constant_on_the_object_is_so_in_the_footprint() {
    let mut harness = open();
    harness.state_mut().brush.size_in = SizeIn::Object;
    harness.state_mut().brush.radius_units = 0.0125;
    harness.hover_at(on_chosen(harness.state()));
    harness.run();
    let footprint = harness.state().model_view.footprint;
    assert!(matches!(footprint, Some(viewport::Footprint::Surface { radius: 0.0125, .. })));
}

#[test]
fn a_window_of_no_size_is_survived() {
    let mut harness = open();
    for size in [vec2(1.0, 1.0), vec2(300.0, 40.0), vec2(1280.0, 800.0)] {
        harness.set_size(size);
        harness.run();
        harness.hover_at(pos2(0.5, 0.5));
        harness.run();
        harness.state_mut().perform(Command::View(ViewCommand::FrameAll));
        harness.run();
        let camera = harness.state().model_view.camera;
        assert!(camera.eye.is_finite() && camera.target.is_finite(), "{size}");
    }
    let count = edits(harness.state());
    let from = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, from, vec2(20.0, 0.0));
    assert_eq!(edits(harness.state()), count + 1);
}

#[test]
fn what_is_told_of_the_point_under_the_pointer_is_what_the_texture_shows_there() {
    let mut harness = open();
    let white = Value::Colour([u16::MAX, 40_000, 123]);
    harness.state_mut().brush.values.insert(layers::ChannelId::BASE_COLOUR, white);
    let from = on_chosen(harness.state());
    drag(&mut harness, PointerButton::Primary, from, vec2(60.0, 30.0));
    let rect = harness.state().model_view.rect.shrink(30.0);
    let mut looked_at = 0;
    for step in 0..60u8 {
        let share = vec2(f32::from(step % 8) / 7.0, f32::from(step / 8) / 7.0);
        let at = rect.min + rect.size() * share;
        harness.hover_at(at);
        harness.run();
        let met = harness.state().met(at);
        let under = harness.state().under_pointer.clone();
        let (Some(met), Some(under)) = (met, under) else { continue };
        assert_eq!(under.part, Some(met.part));
        assert_eq!(under.material, met.material);
        let uv = met.uv.unwrap();
        let [x, y] = under.texel.unwrap();
        let edge = harness.state().document().material(met.material).unwrap().size.edge();
        let middle = DVec2::new(f64::from(x) + 0.5, f64::from(y) + 0.5) / f64::from(edge);
        assert!((middle - uv).abs().max_element() <= 0.5 / f64::from(edge) + 1e-9);
        let map = harness.state().editor.texel_map(met.material, &Unobserved).unwrap();
        if let Some(owner) = map.owner(x, y) {
            let surface = harness.state().editor.made_surface().unwrap();
            assert_eq!(surface.material_of(owner), met.material.slot());
        }
        let values = harness.state().editor.texel_values(met.material, x, y).unwrap();
        assert_eq!(under.values, values);
        looked_at += 1;
    }
    assert!(looked_at > 5, "{looked_at}");
}

#[test]
fn the_status_line_tells_part_material_texel_and_values() {
    let mut harness = open();
    let at = on_chosen(harness.state());
    harness.hover_at(at);
    harness.run();
    let under = harness.state().under_pointer.clone().unwrap();
    let texts = under.texts(harness.state().document());
    let names: Vec<&str> = texts.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["", "", "texel", "base colour", "roughness", "metalness"]);
    harness.get_by_label("texel");
}

#[test]
fn parts_are_hidden_isolated_and_shown_by_keys_at_the_pointer() {
    let mut harness = open();
    let at = on_chosen(harness.state());
    harness.hover_at(at);
    harness.run();
    let hidden = |harness: &Harness<'_, Desk>| {
        harness.state().model_view.parts.iter().filter(|part| part.hidden).count()
    };
    let all = harness.state().model_view.parts.len();
    harness.key_press(Key::I);
    harness.run();
    assert_eq!(hidden(&harness), all - 1);
    harness.key_press(Key::I);
    harness.run();
    assert_eq!(hidden(&harness), 0);
    harness.key_press(Key::H);
    harness.run();
    assert_eq!(hidden(&harness), 1);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::H);
    harness.run();
    assert_eq!(hidden(&harness), 0);
}

#[test]
fn views_are_kept_and_gone_back_to() {
    let mut harness = open();
    let kept = harness.state().model_view.camera;
    let desk = harness.state_mut();
    desk.perform(Command::View(ViewCommand::SaveView));
    desk.perform(Command::View(ViewCommand::Along(viewport::navigation::AxisView::Top)));
    assert_ne!(desk.model_view.camera, kept);
    desk.perform(Command::View(ViewCommand::NextView));
    assert_eq!(desk.model_view.camera, kept);
}
