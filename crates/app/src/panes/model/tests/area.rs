//! Selecting, filling and gradients, by a hand on the model view.

use brush::FillScope;
use document::{Material, SelectMode, Shape, Step};
use egui::{Event, Key, Modifiers, PointerButton, Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use layers::{ChannelId, Content};
use raster::TileRead;

use super::{button, drag, edits, on_chosen, open, place};
use crate::commands::{AreaCommand, Command, FileCommand};
use crate::desk::Desk;
use crate::tool::{Area, Tool, Way};

fn hold(harness: &mut Harness<'static, Desk>, tool: Tool) {
    harness.state_mut().perform(Command::Area(AreaCommand::Hold(tool)));
    harness.run();
}

fn click(harness: &mut Harness<'static, Desk>, at: Pos2) {
    harness.hover_at(at);
    button(harness, at, PointerButton::Primary, true);
    button(harness, at, PointerButton::Primary, false);
    harness.run();
}

fn material(desk: &Desk) -> &Material {
    desk.material().unwrap()
}

/// How many texels have any of a value.
fn count(plane: &raster::Plane) -> usize {
    let tiles = plane.tiles().map(|tile| match tile.read().unwrap() {
        TileRead::Uniform(0) => 0,
        TileRead::Uniform(_) => raster::TILE_TEXELS,
        TileRead::Texels(texels) => texels.iter().filter(|value| **value > 0).count(),
    });
    tiles.sum()
}

fn selected(desk: &Desk) -> usize {
    material(desk).selection.as_ref().map_or(0, |selection| count(selection.plane()))
}

fn painted(desk: &Desk) -> usize {
    let layer = desk.chosen_layer().unwrap();
    let Content::Painted(cells) = &layer.content else { return 0 };
    cells.get(&ChannelId::ROUGHNESS).map_or(0, |cell| count(&cell.coverage))
}

#[test]
fn a_click_selects_and_keys_that_are_held_add_and_take_away() {
    let mut harness = open();
    hold(&mut harness, Tool::Select);
    harness.state_mut().tool.selects = Area::Face;
    let first = on_chosen(harness.state());
    let here = harness.state().met(first).unwrap().triangle;
    let chosen = harness.state().chosen.material;
    let other = place(harness.state(), |met| {
        met.is_some_and(|met| met.material == chosen && met.triangle.0.abs_diff(here.0) > 40)
    });
    click(&mut harness, first);
    let one = selected(harness.state());
    assert!(one > 0);
    harness.state_mut().tool.mode = SelectMode::Add;
    click(&mut harness, other);
    let two = selected(harness.state());
    assert!(two > one);
    let modifiers = Modifiers::COMMAND;
    harness.hover_at(other);
    for pressed in [true, false] {
        let button = PointerButton::Primary;
        harness.event(Event::PointerButton { pos: other, button, pressed, modifiers });
    }
    harness.run();
    assert_eq!(selected(harness.state()), one);
    harness.get_by_label("Held within the selection");
    harness.state_mut().perform(Command::Area(AreaCommand::SelectEverything));
    harness.run();
    assert!(harness.query_by_label("Held within the selection").is_none());
    for expected in [one, two, one, 0] {
        harness.state_mut().perform(Command::File(FileCommand::Undo));
        assert_eq!(selected(harness.state()), expected);
    }
}

#[test]
fn a_lasso_selects_once_it_is_let_go_and_escape_gives_it_up() {
    let mut harness = open();
    hold(&mut harness, Tool::Select);
    let before = edits(harness.state());
    let middle = on_chosen(harness.state());
    let around = [vec2(-30.0, -30.0), vec2(30.0, -30.0), vec2(30.0, 30.0), vec2(-30.0, 30.0)];
    for gives_up in [true, false] {
        harness.hover_at(middle + around[3]);
        button(&harness, middle + around[3], PointerButton::Primary, true);
        for corner in around {
            harness.hover_at(middle + corner);
        }
        harness.run();
        assert!(harness.state().lasso.is_some());
        if gives_up {
            harness.key_press(Key::Escape);
            harness.run();
        }
        button(&harness, middle + around[3], PointerButton::Primary, false);
        harness.run();
        assert_eq!(edits(harness.state()) - before, usize::from(!gives_up));
    }
    assert!(selected(harness.state()) > 0);
    assert!(harness.state().notices.all().is_empty());
}

#[test]
fn a_stroke_outside_of_what_is_selected_says_so_and_changes_nothing() {
    let mut harness = open();
    hold(&mut harness, Tool::Select);
    harness.state_mut().tool.selects = Area::Face;
    let at = on_chosen(harness.state());
    click(&mut harness, at);
    for command in [AreaCommand::Grow, AreaCommand::Invert] {
        harness.state_mut().perform(Command::Area(command));
    }
    hold(&mut harness, Tool::Brush);
    harness.state_mut().brush.radius_points = 0.5;
    let before = edits(harness.state());
    click(&mut harness, at);
    assert_eq!(edits(harness.state()), before);
    let notices = harness.state().notices.all();
    assert!(notices.iter().any(|notice| notice.text.contains("outside of what is selected")));
}

#[test]
fn a_click_fills_what_it_means_within_the_selection() {
    let mut harness = open();
    let at = on_chosen(harness.state());
    hold(&mut harness, Tool::Fill);
    harness.state_mut().tool.fills = Some(Area::Part);
    click(&mut harness, at);
    let part = painted(harness.state());
    assert!(part > 0);
    let layer = harness.state().chosen.layer.unwrap();
    let recipe = material(harness.state()).recipe(layer);
    let last = recipe.steps.last().unwrap();
    assert!(matches!(
        &*last.step,
        Step::Deposit { shape: Shape::Fill { scope: FillScope::Part(_), .. }, .. }
    ));
    harness.state_mut().perform(Command::File(FileCommand::Undo));
    hold(&mut harness, Tool::Select);
    harness.state_mut().tool.selects = Area::Face;
    click(&mut harness, at);
    let face = selected(harness.state());
    harness.state_mut().perform(Command::Area(AreaCommand::FillSelected));
    assert_eq!(painted(harness.state()), face);
    assert!(face < part);
}

#[test]
fn a_gradient_is_seen_while_it_is_drawn_and_escape_takes_it_back() {
    let mut harness = open();
    hold(&mut harness, Tool::Gradient);
    harness.state_mut().tool.way = Way::Radial;
    let before = edits(harness.state());
    let from = on_chosen(harness.state());
    harness.hover_at(from);
    button(&harness, from, PointerButton::Primary, true);
    harness.hover_at(from + vec2(40.0, 10.0));
    harness.run();
    while harness.state().is_trying() {
        harness.step();
        std::thread::yield_now();
    }
    let shown = harness.state().shown_material().unwrap().clone();
    assert!(!std::sync::Arc::ptr_eq(&shown, harness.state().material().unwrap()));
    harness.key_press(Key::Escape);
    harness.run();
    button(&harness, from, PointerButton::Primary, false);
    harness.run();
    assert_eq!((edits(harness.state()), painted(harness.state())), (before, 0));
    drag(&mut harness, PointerButton::Primary, from, vec2(40.0, 10.0));
    assert_eq!(edits(harness.state()), before + 1);
    assert!(painted(harness.state()) > 0);
}

#[test]
fn the_panel_shows_each_tool_with_its_settings() {
    let mut harness = open();
    for (tool, label) in [
        (Tool::Select, "Select by"),
        (Tool::Fill, "A click fills"),
        (Tool::Gradient, "A drag lays a gradient"),
    ] {
        hold(&mut harness, tool);
        harness.get_by_label(label);
    }
    harness.get_by_label("Select").click();
    harness.run();
    assert_eq!(harness.state().tool.tool, Tool::Select);
    harness.get_by_label("Alike").click();
    harness.run();
    assert_eq!(harness.state().tool.selects, Area::Alike);
    harness.get_by_label("Tolerance");
}
