//! How strokes are repeated.

use brush::Axis;
use egui::Ui;

use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::symmetry_in_hand::About;
use crate::widgets::{ValueRow, named_row, remark, wide_segments, wide_toggles};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    mirrors(ui, desk);
    let symmetry = &mut desk.symmetry;
    named_row(ui, "Around", |ui| {
        let about = |axis| format!("Repeat strokes around {axis}");
        let tips = [about("x"), about("y, the upright axis"), about("z")];
        let choices = [
            (None, "Off", "Strokes are not repeated around an axis"),
            (Some(Axis::X), "X", tips[0].as_str()),
            (Some(Axis::Y), "Y", tips[1].as_str()),
            (Some(Axis::Z), "Z", tips[2].as_str()),
        ];
        let chosen = wide_segments(ui, &choices, |choice| choice == symmetry.turns);
        symmetry.turns = chosen.unwrap_or(symmetry.turns);
    });
    ui.add_enabled_ui(symmetry.turns.is_some(), |ui| {
        let mut count = f64::from(symmetry.count);
        let row =
            ValueRow::new("Copies", "How often a stroke is there in one full turn", 2.0..=32.0);
        if row.unit("", 0).usual(6.0).show(ui, &mut count).changed() {
            symmetry.count = (count.round() as u8).clamp(2, 32);
        }
    });
    named_row(ui, "About", |ui| {
        let choices = [
            (About::Middle, "Model", "Planes and axis go through the middle of the model"),
            (
                About::Part,
                "Part",
                "Planes and axis go through the middle of the part under the pointer",
            ),
            (About::Origin, "Origin", "Planes and axis go through the model's origin"),
        ];
        let chosen = wide_segments(ui, &choices, |choice| choice == symmetry.about);
        symmetry.about = chosen.unwrap_or(symmetry.about);
    });
    if symmetry.is_on() {
        remark(ui, "Strokes in the flat view are not repeated");
    }
}

fn mirrors(ui: &mut Ui, desk: &mut Desk) {
    let tips = Axis::ALL.map(|axis| desk.tooltip(Command::Brush(BrushCommand::MirrorAcross(axis))));
    let clicked = named_row(ui, "Mirror", |ui| {
        let names = ["X", "Y", "Z"];
        let choices: Vec<(usize, &str, &str)> =
            (0..3).map(|n| (n, names[n], tips[n].as_str())).collect();
        wide_toggles(ui, &choices, |n| desk.symmetry.mirrors[n])
    });
    if let Some(number) = clicked {
        desk.symmetry.mirrors[number] = !desk.symmetry.mirrors[number];
    }
}
