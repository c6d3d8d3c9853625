//! Pictures read, shown and picked from, by their labels.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use egui::accesskit::Role;
use egui::{Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use image::{ImageBuffer, Rgb};
use layers::ChannelId;

use crate::brush_in_hand::Pick;
use crate::desk::Desk;
use crate::references::Placing;
use crate::testing::bell_desk;
use crate::theme;

const RED: [u16; 3] = [50_001, 2, 3];
const BLUE: [u16; 3] = [4, 5, 60_001];

/// A picture whose left half is red and whose right half is blue, in 16 bits.
fn red_and_blue(folder: &Path, name: &str) -> PathBuf {
    let path = folder.join(name);
    let picture = ImageBuffer::from_fn(8, 8, |x, _| Rgb(if x < 4 { RED } else { BLUE }));
    picture.save(&path).unwrap();
    path
}

/// Waits until nothing is read any more.
fn read(desk: &mut Desk) {
    let begun = Instant::now();
    while !desk.tasks.is_empty() {
        desk.take_results();
        assert!(begun.elapsed() < Duration::from_mins(1));
        std::thread::yield_now();
    }
}

fn panel(desk: Desk) -> Harness<'static, Desk> {
    let mut harness = Harness::builder()
        .with_size([420.0, 480.0])
        .with_context_setup(theme::install)
        .build_ui_state(super::show, desk);
    harness.run();
    harness
}

fn click_at(harness: &mut Harness<'_, Desk>, at: Pos2) {
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.drop_at(at);
    harness.run();
}

#[test]
fn a_click_picks_the_colour_under_it_with_all_its_bits() {
    let folder = tempfile::tempdir().unwrap();
    let mut desk = bell_desk();
    desk.add_reference(red_and_blue(folder.path(), "bell.png"));
    read(&mut desk);
    desk.brush.picking = Some(Pick::One(ChannelId::BASE_COLOUR));
    let mut harness = panel(desk);
    let centre = harness.get_by_role_and_label(Role::Image, "bell.png").rect().center();
    click_at(&mut harness, centre - vec2(60.0, 0.0));
    assert_eq!(harness.state().brush.colour(), RED);
    assert_eq!(harness.state().brush.picking, None);
    click_at(&mut harness, centre + vec2(60.0, 0.0));
    assert_eq!(harness.state().brush.colour(), RED, "without a pick, a click only looks");
}

#[test]
fn a_drag_moves_the_picture_and_fit_brings_it_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut desk = bell_desk();
    desk.add_reference(red_and_blue(folder.path(), "bell.png"));
    read(&mut desk);
    let mut harness = panel(desk);
    let centre = harness.get_by_role_and_label(Role::Image, "bell.png").rect().center();
    harness.hover_at(centre);
    harness.run();
    harness.drag_at(centre);
    harness.run();
    harness.hover_at(centre + vec2(50.0, 0.0));
    harness.run();
    harness.drop_at(centre + vec2(50.0, 0.0));
    harness.run();
    assert_ne!(harness.state().references.all[0].placing, Placing::Fit);
    harness.get_by_label("Fit picture").click();
    harness.run();
    assert_eq!(harness.state().references.all[0].placing, Placing::Fit);
}

#[test]
fn a_path_is_typed_and_its_picture_is_there_until_it_is_removed() {
    let folder = tempfile::tempdir().unwrap();
    let path = red_and_blue(folder.path(), "rope.png");
    let mut harness = panel(bell_desk());
    harness.get_by_label("Path of a picture").focus();
    harness.run();
    harness.get_by_label("Path of a picture").type_text(&path.display().to_string());
    harness.run();
    harness.get_by_label("Add").click();
    harness.step();
    read(harness.state_mut());
    harness.run();
    assert_eq!(harness.state().references.all.len(), 1);
    harness.get_by_label("Remove picture").click();
    harness.run();
    assert!(harness.state().references.all.is_empty());
}

#[test]
fn what_is_no_picture_is_told_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bell.png");
    std::fs::write(&path, "no picture").unwrap();
    let mut desk = bell_desk();
    desk.add_reference(path);
    desk.add_reference(folder.path().join("gone.png"));
    read(&mut desk);
    assert!(desk.references.all.is_empty());
    let lines: Vec<&str> = desk.notices.all().iter().map(|notice| notice.text.as_str()).collect();
    assert_eq!(lines.len(), 2, "{lines:?}");
    assert!(lines.iter().all(|line| !line.contains('\n')));
    assert!(lines.iter().any(|line| line.contains("bell.png")));
    assert!(lines.iter().any(|line| line.contains("gone.png")));
}
