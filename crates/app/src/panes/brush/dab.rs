//! The brush's outline, and what differs from dab to dab.

use brush::{Jitter, Lies, Tooth};
use egui::Ui;

use super::image_row::{self, ImageOf};
use super::share_row;
use crate::desk::Desk;
use crate::widgets::{ValueRow, named_row, wide_segments};

/// The outline's rows.
pub(super) fn tip(ui: &mut Ui, desk: &mut Desk) {
    image_row::show(ui, desk, ImageOf::Tip);
    let tip = &mut desk.brush.settings.tip;
    let mut aspect = f64::from(tip.aspect);
    let about = "How long the short axis is, in shares of the long one: 100 % is a disc";
    let row = ValueRow::new("Roundness", about, 0.05..=1.0).percent().usual(1.0);
    if row.show(ui, &mut aspect).changed() {
        tip.aspect = (aspect as f32).clamp(0.05, 1.0);
    }
    let lies_some_way = tip.aspect < 1.0
        || tip.image.is_some()
        || desk.brush.settings.tooth.as_ref().is_some_and(Tooth::is_stamped);
    ui.add_enabled_ui(lies_some_way, |ui| {
        named_row(ui, "Lies", |ui| {
            let choices = [
                (Lies::Axis, "Part", "Along the axis of the part under it"),
                (Lies::Stroke, "Line", "Along the stroke"),
                (Lies::Tilt, "Pen", "The way that the pen leans"),
                (Lies::Chance, "Any", "Each dab another way"),
            ];
            let chosen = wide_segments(ui, &choices, |choice| choice == tip.lies);
            tip.lies = chosen.unwrap_or(tip.lies);
        });
        ui.add_enabled_ui(tip.lies != Lies::Chance, |ui| {
            let mut degrees = f64::from(tip.turn).to_degrees();
            let about = "How far it is turned from there";
            let row = ValueRow::new("Turn", about, -180.0..=180.0).unit("\u{b0}", 0).usual(0.0);
            if row.show(ui, &mut degrees).changed() {
                tip.turn = degrees.to_radians() as f32;
            }
        });
    });
}

/// The rows of what differs by chance.
pub(super) fn jitter(ui: &mut Ui, jitter: &mut Jitter) {
    let usual = Jitter::NONE;
    let about = "How much smaller a dab may be than the brush";
    share_row(ui, ("Smaller", about), &mut jitter.size, usual.size);
    let about = "How much weaker a dab may be than the brush";
    share_row(ui, ("Weaker", about), &mut jitter.opacity, usual.opacity);
    let mut position = f64::from(jitter.position);
    let about = "How far beside its path a dab may lie, in shares of the brush's width";
    let row = ValueRow::new("Astray", about, 0.0..=4.0).percent().usual(0.0);
    if row.show(ui, &mut position).changed() {
        jitter.position = position as f32;
    }
    let about = "How far a dab may be turned from the way that the tip lies, in shares of a turn";
    share_row(ui, ("Turned", about), &mut jitter.angle, usual.angle);
    let mut hue = f64::from(jitter.hue);
    let about = "How far the hue of a dab's colour may be off, to either side";
    let row = ValueRow::new("Hue", about, 0.0..=180.0).unit("\u{b0}", 0).usual(0.0);
    if row.spoken("Jitter of hue").show(ui, &mut hue).changed() {
        jitter.hue = hue as f32;
    }
    let about = "How much lighter or darker a dab's colour may be";
    share_row(ui, ("Shade", about), &mut jitter.shade, usual.shade);
    let about = "How far roughness, metalness and other values of a dab may be off, to either side";
    share_row(ui, ("Values", about), &mut jitter.value, usual.value);
}
