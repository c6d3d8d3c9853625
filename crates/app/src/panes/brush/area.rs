//! What the tools beside the brush are set to: selecting, filling, gradients.

use brush::{Axis, Easing};
use document::SelectMode;
use egui::Ui;

use super::{does, share_row, titled, values};
use crate::brush_in_hand::BrushInHand;
use crate::commands::{AreaCommand, Command, entry};
use crate::desk::Desk;
use crate::panes::palette;
use crate::tool::{Area, Tool, Way};
use crate::widgets::{Scale, ValueRow, divide, named_row, remark, wide_segments, wide_toggles};

/// The switch between the brush and the other tools.
pub(super) fn tools(ui: &mut Ui, desk: &mut Desk) {
    let gradient = if ui.available_width() < 250.0 { "Fade" } else { "Gradient" };
    let all = [
        (Tool::Brush, "Brush"),
        (Tool::Select, "Select"),
        (Tool::Fill, "Fill"),
        (Tool::Gradient, gradient),
    ];
    let command = |tool| Command::Area(AreaCommand::Hold(tool));
    let tips = all.map(|(tool, _)| desk.tooltip(command(tool)));
    let choices: Vec<_> =
        all.iter().zip(&tips).map(|((tool, name), tip)| (*tool, *name, tip.as_str())).collect();
    if let Some(tool) = wide_segments(ui, &choices, |tool| tool == desk.tool.tool) {
        desk.perform(command(tool));
    }
    ui.add_space(4.0);
}

const AREAS: [[(Area, &str, &str); 3]; 2] = [
    [
        (Area::Lasso, "Lasso", "What lies in a line that you draw round it, in either view"),
        (Area::Part, "Part", "The part that you click"),
        (Area::Island, "Island", "The UV island that you click"),
    ],
    [
        (Area::Face, "Face", "The polygon that you click"),
        (Area::Crease, "Creases", "All that hangs together with what you click, up to sharp edges"),
        (Area::Alike, "Alike", "What has the colour or value that you click"),
    ],
];

fn areas(ui: &mut Ui, chosen: Option<Area>) -> Option<Area> {
    AREAS.into_iter().fold(None, |clicked, row| {
        let here = wide_segments(ui, &row, |area| Some(area) == chosen);
        clicked.or(here)
    })
}

/// What is only needed for some areas.
fn area_settings(ui: &mut Ui, desk: &mut Desk, area: Option<Area>) {
    match area {
        Some(Area::Crease) => {
            let about = "An edge over which the surface bends by more than this is a crease";
            ValueRow::new("Crease", about, 1.0..=90.0)
                .unit("\u{b0}", 0)
                .usual(30.0)
                .show(ui, &mut desk.tool.crease_degrees);
        }
        Some(Area::Alike) => alike(ui, desk),
        _ => {}
    }
}

fn alike(ui: &mut Ui, desk: &mut Desk) {
    let channels = desk.document().channels.clone();
    named_row(ui, "In", |ui| {
        let choices: Vec<_> = channels
            .iter()
            .map(|channel| {
                let name = values::short_name(channel, true);
                (channel.id, name, "The channel that is looked at, as all layers give it")
            })
            .collect();
        if let Some(channel) = wide_segments(ui, &choices, |id| id == desk.tool.channel) {
            desk.tool.channel = channel;
        }
    });
    let about = "By how much it may differ from what you click";
    ValueRow::new("Tolerance", about, 0.0..=1.0)
        .percent()
        .usual(0.1)
        .show(ui, &mut desk.tool.tolerance);
    named_row(ui, "Where", |ui| {
        let choices = [
            (true, "Connected", "Only what hangs together with the place that you click"),
            (false, "Anywhere", "All of the material"),
        ];
        if let Some(connected) = wide_segments(ui, &choices, |on| on == desk.tool.connected) {
            desk.tool.connected = connected;
        }
    });
}

pub(super) fn select(ui: &mut Ui, desk: &mut Desk) {
    titled(ui, "Select by", |_| {});
    if let Some(area) = areas(ui, Some(desk.tool.selects)) {
        desk.tool.selects = area;
    }
    ui.add_space(4.0);
    area_settings(ui, desk, Some(desk.tool.selects));
    let modes = [
        (SelectMode::Replace, "New", "In the place of what was selected"),
        (SelectMode::Add, "Add", "And what was selected (Shift)"),
        (SelectMode::TakeAway, "Less", "What was selected, without it (Ctrl)"),
        (SelectMode::Intersect, "Both", "Only what was selected too (Ctrl+Shift)"),
    ];
    if let Some(mode) = wide_segments(ui, &modes, |mode| mode == desk.tool.mode) {
        desk.tool.mode = mode;
    }
    divide(ui);
    titled(ui, "Selection", |_| {});
    selection(ui, desk);
    divide(ui);
    titled(ui, "Mirror image", |_| {});
    across(ui, desk);
}

/// Paint fetched from across a plane.
fn across(ui: &mut Ui, desk: &mut Desk) {
    named_row(ui, "Across", |ui| {
        let axes = [
            (Axis::X, "X", "Between left and right"),
            (Axis::Y, "Y", "Between above and below"),
            (Axis::Z, "Z", "Between front and back"),
        ];
        let chosen = wide_segments(ui, &axes, |axis| axis == desk.tool.across);
        desk.tool.across = chosen.unwrap_or(desk.tool.across);
    });
    named_row(ui, "Middle of", |ui| {
        let middles = [
            (false, "Model", "The plane stands in the middle of all"),
            (true, "Part", "The plane stands in the middle of the part that is selected"),
        ];
        let chosen = wide_segments(ui, &middles, |part| part == desk.tool.across_part);
        desk.tool.across_part = chosen.unwrap_or(desk.tool.across_part);
    });
    pair(ui, desk, [AreaCommand::CopyAcross, AreaCommand::MoveAcross]);
}

/// What can be done with what is selected.
fn selection(ui: &mut Ui, desk: &mut Desk) {
    let is_selected = desk.material().is_some_and(|material| material.selection.is_some());
    // One line in either case: nothing below it moves.
    remark(ui, if is_selected { "All paint stays within it." } else { "All may be painted." });
    ui.add_enabled_ui(is_selected, |ui| {
        pair(ui, desk, [AreaCommand::SelectEverything, AreaCommand::Invert]);
        let about = "Texels by which the selection grows or shrinks";
        texels(ui, ("Grow by", about), &mut desk.tool.grows_by);
        pair(ui, desk, [AreaCommand::Grow, AreaCommand::Shrink]);
        let about = "Texels to either side over which its edge becomes soft";
        texels(ui, ("Soften by", about), &mut desk.tool.softens_by);
        pair(ui, desk, [AreaCommand::Soften, AreaCommand::FillSelected]);
        ui.add_space(4.0);
        let command = Command::Area(AreaCommand::ToggleSeen);
        let name = entry(command).map_or("", |row| row.label);
        let tip = desk.tooltip(command);
        let seen = desk.tool.is_selection_seen;
        if wide_toggles(ui, &[((), name, tip.as_str())], |()| seen).is_some() {
            desk.perform(command);
        }
    });
}

fn texels(ui: &mut Ui, (name, about): (&str, &str), value: &mut f64) {
    let row = ValueRow::new(name, about, 1.0..=256.0).scale(Scale::Ratio).unit(" px", 0).usual(4.0);
    if row.show(ui, value).changed() {
        *value = value.round();
    }
}

/// Two buttons for commands, side by side.
fn pair(ui: &mut Ui, desk: &mut Desk, commands: [AreaCommand; 2]) {
    ui.columns(2, |columns| {
        for (ui, command) in columns.iter_mut().zip(commands.map(Command::Area)) {
            let name = entry(command).map_or("", |row| row.label);
            ui.vertical_centered_justified(|ui| {
                if ui.button(name).on_hover_text(desk.tooltip(command)).clicked() {
                    desk.perform(command);
                }
            });
        }
    });
}

pub(super) fn fill(ui: &mut Ui, desk: &mut Desk) {
    titled(ui, "A click fills", |_| {});
    let all = [(None::<Area>, "All that is selected", "Everything that may be painted")];
    if wide_segments(ui, &all, |area| area == desk.tool.fills).is_some() {
        desk.tool.fills = None;
    }
    if let Some(area) = areas(ui, desk.tool.fills) {
        desk.tool.fills = Some(area);
    }
    ui.add_space(4.0);
    area_settings(ui, desk, desk.tool.fills);
    let tooth = desk.brush.settings.tooth.as_ref().filter(|tooth| !tooth.is_stamped());
    ui.add_enabled_ui(tooth.is_some(), |ui| {
        named_row(ui, "Tooth", |ui| {
            let choices = [
                (true, "Brush's", "Where the brush's tooth takes paint: give it one under Brush"),
                (false, "None", "All alike"),
            ];
            let has = tooth.is_some() && desk.tool.fills_tooth;
            if let Some(chosen) = wide_segments(ui, &choices, |choice| choice == has) {
                desk.tool.fills_tooth = chosen;
            }
        });
    });
    paint(ui, desk);
}

pub(super) fn gradient(ui: &mut Ui, desk: &mut Desk) {
    titled(ui, "A drag lays a gradient", |_| {});
    let ways = [
        (Way::Linear, "Linear", "From the place where you press to where you let go"),
        (Way::Radial, "Radial", "From the place where you press, as far as you drag"),
    ];
    let axes = [
        (Way::Along(Axis::X), "Along X", "Along the model, from left to right or back"),
        (Way::Along(Axis::Y), "Along Y", "Along the model, upwards or down"),
        (Way::Along(Axis::Z), "Along Z", "Along the model, to the front or the back"),
    ];
    let is_chosen = |way| way == desk.tool.way;
    let clicked = wide_segments(ui, &ways, is_chosen).or(wide_segments(ui, &axes, is_chosen));
    desk.tool.way = clicked.unwrap_or(desk.tool.way);
    named_row(ui, "Falls off", |ui| {
        let choices = [
            (Easing::Even, "Evenly", "By the same at each step"),
            (Easing::Smooth, "Smoothly", "Slowly where it begins and where it ends"),
        ];
        let chosen = wide_segments(ui, &choices, |easing| easing == desk.tool.easing);
        desk.tool.easing = chosen.unwrap_or(desk.tool.easing);
    });
    remark(ui, "Escape gives up what you draw.");
    paint(ui, desk);
}

/// With what fills and gradients paint: what the brush has.
fn paint(ui: &mut Ui, desk: &mut Desk) {
    does::choices(ui, desk);
    let about = "How much of it covers what is there: the brush's own opacity";
    let usual = BrushInHand::usual_settings().opacity;
    share_row(ui, ("Opacity", about), &mut desk.brush.settings.opacity, usual);
    does::strength(ui, desk);
    divide(ui);
    values::show(ui, desk);
    divide(ui);
    palette::show(ui, desk);
}
