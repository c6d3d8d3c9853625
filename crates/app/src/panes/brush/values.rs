//! What the brush paints into, and which value it leaves there.

use egui::Ui;
use layers::{ChannelDescriptor, ChannelId, ChannelKind, Value};
use lucide_icons::Icon;

use super::{command_toggle, refusal, titled};
use crate::brush_in_hand::Pick;
use crate::chosen::Aim;
use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::does::Does;
use crate::panes::colour;
use crate::theme;
use crate::widgets::{ValueRow, remark, wide_toggles};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let aims_at_mask = matches!(desk.chosen.aim, Aim::Mask(_));
    titled(ui, desk.brush.does.heading(), |ui| {
        let command = Command::Brush(BrushCommand::PickAll);
        let on = desk.brush.picking == Some(Pick::All);
        command_toggle(ui, desk, Icon::Pipette, command, on);
    });
    refusal(ui, desk);
    let channels = desk.document().channels.clone();
    channel_toggles(ui, desk, &channels);
    ui.add_space(4.0);
    if aims_at_mask {
        mask_value(ui, desk);
    }
    for channel in channels.iter() {
        let is_aimed = matches!(&desk.chosen.aim, Aim::Cells(cells) if cells.contains(&channel.id));
        let takes_value = is_aimed && desk.brush.does == Does::Paint;
        ui.add_enabled_ui(takes_value, |ui| match channel.kind {
            ChannelKind::Colour => colour::show(ui, desk, channel.id),
            ChannelKind::Scalar => scalar(ui, desk, channel),
        });
    }
    if !aims_at_mask {
        ui.add_space(4.0);
        let paints = desk.brush.does == Does::Paint;
        ui.add_enabled_ui(paints, |ui| desk.brush_panel.sample.show(ui, &desk.brush));
    }
}

fn channel_toggles(ui: &mut Ui, desk: &mut Desk, channels: &[ChannelDescriptor]) {
    let tips: Vec<String> = channels
        .iter()
        .map(|channel| desk.tooltip(Command::Brush(BrushCommand::ToggleChannel(channel.id))))
        .collect();
    let narrow = ui.available_width() < 230.0;
    let choices: Vec<(ChannelId, &str, &str)> = channels
        .iter()
        .zip(&tips)
        .map(|(channel, tip)| (channel.id, short_name(channel, narrow), tip.as_str()))
        .collect();
    let is_aimed =
        |channel| matches!(&desk.chosen.aim, Aim::Cells(cells) if cells.contains(&channel));
    let clicked = wide_toggles(ui, &choices, is_aimed);
    if let Some(channel) = clicked {
        desk.toggle_channel(channel);
    }
}

/// A channel's name where there is little room.
pub(super) fn short_name(channel: &ChannelDescriptor, narrow: bool) -> &str {
    match channel.id {
        ChannelId::ROUGHNESS if narrow => "Rough",
        ChannelId::BASE_COLOUR => "Colour",
        ChannelId::METALNESS => "Metal",
        _ => &channel.label,
    }
}

fn about(channel: &ChannelDescriptor) -> &'static str {
    match channel.id {
        ChannelId::ROUGHNESS => "0 is a mirror, 1 is matt",
        ChannelId::METALNESS => {
            "0 is no metal, 1 is bare metal; between is only for edges and dirt"
        }
        _ => "0 to 1",
    }
}

fn scalar(ui: &mut Ui, desk: &mut Desk, channel: &ChannelDescriptor) {
    let held = desk.brush.values.get(&channel.id).copied().unwrap_or(channel.ground);
    let Value::Scalar(level) = held else { return };
    let name = if channel.id == ChannelId::METALNESS { "Metal" } else { channel.label.as_str() };
    let spoken = format!("{} value", channel.label);
    let Value::Scalar(usual) = channel.ground else { return };
    let mut value = f64::from(level) / 65_535.0;
    let row = ValueRow::new(name, about(channel), 0.0..=1.0)
        .spoken(&spoken)
        .usual(f64::from(usual) / 65_535.0);
    if row.show(ui, &mut value).changed() {
        desk.brush.set(channel.id, Value::Scalar((value * 65_535.0).round() as u16));
    }
}

fn mask_value(ui: &mut Ui, desk: &mut Desk) {
    let mut value = f64::from(desk.brush.mask_value) / 65_535.0;
    let row = ValueRow::new("Mask", "1 lets the layer through, 0 holds it back", 0.0..=1.0)
        .spoken("Mask value")
        .usual(1.0);
    ui.add_enabled_ui(desk.brush.does == Does::Paint, |ui| {
        if row.show(ui, &mut value).changed() {
            desk.brush.mask_value = (value * 65_535.0).round() as u16;
        }
    });
    if let Some(layer) = desk.chosen_layer() {
        remark(ui, format!("The brush paints the mask of \"{}\"", layer.name));
    }
    ui.add_space(theme::GAP * 0.5);
}
