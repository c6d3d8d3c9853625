//! The brush's outline, its tooth, and what differs from dab to dab.

use brush::{Jitter, Lies, Pattern, Tip, Tooth};
use egui::Ui;
use lucide_icons::Icon;

use super::{model_size, share_row};
use crate::desk::Desk;
use crate::widgets::{Scale, ValueRow, icon_button, named_row, wide_segments};

/// A pattern by the name that it has on screen, and what it looks like.
fn name_of(pattern: Pattern) -> (&'static str, &'static str) {
    match pattern {
        Pattern::Value => ("Blotches", "Soft spots of a few sizes"),
        Pattern::Gradient => ("Clouds", "Cloudy, coarse and fine at once"),
        Pattern::Cellular => ("Cells", "Islands between narrow cracks"),
        Pattern::Fibres => ("Fibres", "Long strands"),
        Pattern::Speckle => ("Speckle", "Round specks, few large, many small"),
        Pattern::Scratches => ("Scratches", "Thin lines that come and go"),
        Pattern::Pores => ("Pores", "All but small round holes"),
    }
}

/// The tooth's rows.
pub(super) fn tooth(ui: &mut Ui, desk: &mut Desk) {
    let whole = model_size(desk);
    let chosen = &mut desk.brush.settings.tooth;
    pattern(ui, chosen, whole);
    let Some(tooth) = chosen else { return };
    size(ui, tooth, whole);
    let usual = Tooth::default();
    let about = "How much less its valleys take: at 0 % the tooth does nothing";
    share_row(ui, ("Depth", about), &mut tooth.depth, usual.depth);
    let about = "How hard its edges are";
    share_row(ui, ("Contrast", about), &mut tooth.contrast, usual.contrast);
    let about = "How much of the surface takes paint";
    share_row(ui, ("Share", about), &mut tooth.level, usual.level);
    if tooth.pattern.has_direction() {
        named_row(ui, "Runs", |ui| {
            let choices = [
                (true, "Along", "Along the axis of the part under it"),
                (false, "All ways", "In all directions"),
            ];
            let chosen = wide_segments(ui, &choices, |choice| choice == tooth.along_axis);
            tooth.along_axis = chosen.unwrap_or(tooth.along_axis);
        });
    }
}

fn pattern(ui: &mut Ui, chosen: &mut Option<Tooth>, whole: f64) {
    named_row(ui, "Pattern", |ui| {
        let shown = chosen.map_or("None", |tooth| name_of(tooth.pattern).0);
        if let Some(tooth) = chosen {
            let about = "Another one of the same kind";
            if icon_button(ui, Icon::Dices, "Another tooth of this kind", about).clicked() {
                tooth.seed = tooth.seed.wrapping_add(1);
            }
        }
        let width = ui.available_width();
        let combo = egui::ComboBox::from_id_salt("tooth")
            .selected_text(shown)
            .width(width)
            .height(ALL_SHOWN);
        let shown = combo.show_ui(ui, |ui| {
            if ui.selectable_label(chosen.is_none(), "None").clicked() {
                *chosen = None;
            }
            for pattern in Pattern::ALL {
                let is_chosen = chosen.is_some_and(|tooth| tooth.pattern == pattern);
                let (name, about) = name_of(pattern);
                if ui.selectable_label(is_chosen, name).on_hover_text(about).clicked() {
                    let scale = (whole * USUAL_SIZE) as f32;
                    let kept = chosen.unwrap_or(Tooth { scale, ..Tooth::default() });
                    *chosen = Some(Tooth { pattern, ..kept });
                }
            }
        });
        shown.response.on_hover_text("A texture that stays on the surface, as a canvas has tooth");
    });
}

/// As high as all patterns are, in points.
const ALL_SHOWN: f32 = 300.0;
/// The size that a tooth starts with, in model diagonals.
const USUAL_SIZE: f64 = 0.01;

fn size(ui: &mut Ui, tooth: &mut Tooth, whole: f64) {
    let decimals = (4.0 - whole.log10()).round().clamp(0.0, 7.0) as usize;
    let mut scale = f64::from(tooth.scale);
    let range = whole * 1e-4..=whole * 0.5;
    let row = ValueRow::new("Grain", "Size of its features on the model, in its units", range)
        .scale(Scale::Ratio)
        .unit("", decimals)
        .usual(whole * USUAL_SIZE);
    if row.show(ui, &mut scale).changed() {
        tooth.scale = scale as f32;
    }
}

/// The outline's rows.
pub(super) fn tip(ui: &mut Ui, tip: &mut Tip) {
    let mut aspect = f64::from(tip.aspect);
    let about = "How long the short axis is, in shares of the long one: 100 % is a disc";
    let row = ValueRow::new("Roundness", about, 0.05..=1.0).percent().usual(1.0);
    if row.show(ui, &mut aspect).changed() {
        tip.aspect = (aspect as f32).clamp(0.05, 1.0);
    }
    ui.add_enabled_ui(tip.aspect < 1.0, |ui| {
        named_row(ui, "Lies", |ui| {
            let choices = [
                (Lies::Axis, "Upright", "Along the axis of the part under it"),
                (Lies::Stroke, "Along", "Along the stroke"),
                (Lies::Chance, "Any way", "Each dab another way"),
            ];
            let chosen = wide_segments(ui, &choices, |choice| choice == tip.lies);
            tip.lies = chosen.unwrap_or(tip.lies);
        });
        ui.add_enabled_ui(tip.lies != Lies::Chance, |ui| {
            let mut degrees = f64::from(tip.turn).to_degrees();
            let about = "How far it is turned from there";
            let row = ValueRow::new("Turn", about, -90.0..=90.0).unit("\u{b0}", 0).usual(0.0);
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
}
