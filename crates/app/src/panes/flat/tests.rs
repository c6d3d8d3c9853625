//! The flat view, driven as a hand drives it.

use std::sync::Arc;

use egui::{Event, Modifiers, MouseWheelUnit, PointerButton, Pos2, TouchPhase, pos2, vec2};
use egui_kittest::Harness;
use glam::DVec2;
use raster::Unobserved;

use crate::brush_in_hand::SizeIn;
use crate::commands::{Command, FileCommand};
use crate::desk::Desk;
use crate::testing;

fn open() -> Harness<'static, Desk> {
    let desk = testing::bell_desk();
    desk.editor.texel_map(desk.chosen.material, &Unobserved).unwrap();
    let mut harness = testing::harness(desk, [1280.0, 800.0]);
    harness.run();
    harness
}

fn edits(desk: &Desk) -> usize {
    desk.editor.history().entries().0.count()
}

/// Where a UV is in the window, at one pixel a point.
fn at(desk: &Desk, uv: DVec2) -> Pos2 {
    let px = (uv - desk.flat_view.camera.top_left) / desk.flat_view.camera.uv_per_px;
    desk.flat_view.rect.min + vec2(px.x as f32, px.y as f32)
}

/// A UV that lies on an island.
fn on_island(desk: &Desk) -> DVec2 {
    let map = desk.editor.texel_map(desk.chosen.material, &Unobserved).unwrap();
    let edge = map.size().edge();
    let owned = |x: u32, y: u32| map.owner(x, y).is_some();
    let (x, y) = (16..edge - 16)
        .flat_map(|y| (16..edge - 16).map(move |x| (x, y)))
        .find(|(x, y)| owned(*x, *y) && owned(x + 12, *y) && owned(x + 6, y + 6))
        .unwrap();
    DVec2::new(f64::from(x) + 0.5, f64::from(y) + 0.5) / f64::from(edge)
}

fn drag(harness: &mut Harness<'_, Desk>, button: PointerButton, from: Pos2, by: egui::Vec2) {
    let modifiers = Modifiers::NONE;
    harness.hover_at(from);
    harness.event(Event::PointerButton { pos: from, button, pressed: true, modifiers });
    harness.hover_at(from + by * 0.5);
    harness.hover_at(from + by);
    harness.event(Event::PointerButton { pos: from + by, button, pressed: false, modifiers });
    harness.run();
}

#[test]
fn a_drag_over_an_island_is_one_edit_and_undo_takes_it_back() {
    let mut harness = open();
    let before = Arc::clone(harness.state().material().unwrap());
    let count = edits(harness.state());
    let from = at(harness.state(), on_island(harness.state()));
    drag(&mut harness, PointerButton::Primary, from, vec2(20.0, 0.0));
    assert_eq!(edits(harness.state()), count + 1);
    assert!(!Arc::ptr_eq(&before, harness.state().material().unwrap()));
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    assert!(Arc::ptr_eq(&before, harness.state().material().unwrap()));
}

#[test]
fn the_values_told_are_those_of_the_texel_under_the_pointer() {
    let mut harness = open();
    let uv = on_island(harness.state());
    harness.hover_at(at(harness.state(), uv));
    harness.run();
    let under = harness.state().under_pointer.clone().unwrap();
    let [x, y] = under.texel.unwrap();
    let edge = f64::from(harness.state().material().unwrap().size.edge());
    assert!((DVec2::new(f64::from(x), f64::from(y)) / edge - uv).length() < 1.5 / edge);
    assert!(under.part.is_some(), "an island lies there");
    let values = harness.state().editor.texel_values(under.material, x, y).unwrap();
    assert_eq!(under.values, values);
}

#[test]
fn the_wheel_keeps_the_texel_under_the_cursor_and_a_drag_with_the_right_button_moves_it() {
    let mut harness = open();
    let uv = DVec2::new(0.3, 0.4);
    let cursor = at(harness.state(), uv);
    harness.hover_at(cursor);
    let (unit, delta) = (MouseWheelUnit::Line, vec2(0.0, 2.0));
    let (modifiers, phase) = (Modifiers::NONE, TouchPhase::Move);
    harness.event(Event::MouseWheel {
        unit,
        delta,
        modifiers,
        phase,
        source: egui::MouseWheelSource::Wheel,
    });
    harness.run();
    assert!((at(harness.state(), uv) - cursor).length() < 0.01);
    let count = edits(harness.state());
    drag(&mut harness, PointerButton::Secondary, cursor, vec2(25.0, -15.0));
    assert!((at(harness.state(), uv) - cursor - vec2(25.0, -15.0)).length() < 0.01);
    assert_eq!(edits(harness.state()), count);
}

#[test]
fn a_size_on_the_object_is_the_same_length_on_the_surface_in_both_views() {
    let mut harness = open();
    harness.state_mut().brush.size_in = SizeIn::Object;
    harness.state_mut().brush.radius_units = 0.03;
    let uv = on_island(harness.state());
    let desk = harness.state();
    let radius = desk.radius_uv(uv, 1.0);
    let surface = desk.editor.made_surface().unwrap();
    let map = desk.editor.texel_map(desk.chosen.material, &Unobserved).unwrap();
    let edge = f64::from(map.size().edge());
    let owner = map.owner((uv.x * edge) as u32, (uv.y * edge) as u32).unwrap();
    let island = surface.islands().get(surface.islands().island_of(owner).unwrap());
    // Area on the surface of a disc of that radius, by the island's scale.
    let area = radius * radius * island.surface_area / island.uv_area.abs();
    assert!((area.sqrt() - 0.03).abs() < 1e-9);
}

#[test]
fn outside_of_the_texture_nothing_is_told() {
    let mut harness = open();
    harness.hover_at(pos2(
        harness.state().flat_view.rect.left() + 2.0,
        harness.state().flat_view.rect.bottom() - 2.0,
    ));
    harness.run();
    assert_eq!(harness.state().under_pointer, None);
}
