//! Everything that belongs to one cell: value, on, blend mode, opacity, mask.

use document::{CellEdit, LayerEdit, MaskOwner, MaterialEdit};
use egui::{Button, Popup, PopupCloseBehavior, PopupKind, Response, SetOpenCommand, Ui, vec2};
use layers::{ChannelDescriptor, Content, Layer, Value};

use super::{blend, mask_terms};
use crate::colour::Hsv;
use crate::desk::Desk;
use crate::panes::colour::field;
use crate::theme;
use crate::widgets::ValueRow;

/// Shows the settings beside the cell while they are open.
pub(super) fn show(
    desk: &mut Desk,
    response: &Response,
    layer: &Layer,
    channel: &ChannelDescriptor,
    opens: bool,
) {
    popup(response, opens).show(|ui| {
        blend::title(ui, desk.document(), layer, Some(channel.id));
        value(ui, desk, layer, channel);
        let mut on = layer.cell(channel.id).on;
        if ui.checkbox(&mut on, "On").on_hover_text("Count this cell, or leave it out").changed() {
            let edit = LayerEdit::Cells(vec![channel.id], CellEdit::On(on));
            desk.edit_layer(layer.id, edit);
        }
        blend::cell_opacity(ui, desk, layer, channel.id);
        let mode = format!("Blend: {}", blend::name_of(layer.cell(channel.id).blend));
        ui.menu_button(mode, |ui| blend::cell_modes(ui, desk, layer, channel));
        ui.separator();
        mask_terms::show(ui, desk, layer, MaskOwner::Cell(channel.id));
        take_out(ui, desk, layer, channel);
    });
}

/// A popup that stays open while it is worked in.
pub(super) fn popup(response: &Response, opens: bool) -> Popup<'_> {
    Popup::from_response(response)
        .kind(PopupKind::Menu)
        .layout(egui::Layout::top_down_justified(egui::Align::Min))
        .style(egui::containers::menu::menu_style)
        .open_memory(opens.then_some(SetOpenCommand::Bool(true)))
        .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
        .gap(4.0)
        .width(280.0)
}

/// The value of a solid cell; none for other layers.
fn value(ui: &mut Ui, desk: &mut Desk, layer: &Layer, channel: &ChannelDescriptor) {
    let Content::Solid(values) = &layer.content else { return };
    let solid = |value| MaterialEdit::Layer(layer.id, LayerEdit::Solid(channel.id, Some(value)));
    match values.get(&channel.id).copied() {
        Some(Value::Scalar(level)) => {
            let mut shown = f64::from(level) / 65535.0;
            let tooltip = "The value of this layer in this channel";
            ValueRow::new("Value", tooltip, 0.0..=1.0).show(ui, &mut shown);
            let moved = (shown * 65535.0).round() as u16;
            if moved != level {
                desk.follow_hand(ui, solid(Value::Scalar(moved)));
            }
        }
        Some(Value::Colour(colour)) => {
            if let Some(picked) = picked(ui, colour) {
                desk.follow_hand(ui, solid(Value::Colour(picked)));
            }
            let in_hand = Value::Colour(desk.brush.colour());
            if line(ui, "Take the brush's colour", "Put the brush's colour into this layer") {
                desk.edit_material(solid(in_hand));
            }
        }
        None => {
            let value = desk.brush.values.get(&channel.id).copied().unwrap_or(channel.ground);
            if line(ui, "Give it a value", "Put the brush's value into this channel") {
                desk.edit_material(solid(value));
            }
        }
    }
}

/// The colour that is chosen in a picker, where it is another one.
fn picked(ui: &mut Ui, colour: [u16; 3]) -> Option<[u16; 3]> {
    // A grey has no hue of its own: the one that it was made with is kept.
    let id = ui.scope_id().with("picked");
    let kept: Option<Hsv> = ui.data(|data| data.get_temp(id));
    let mut hsv = kept.filter(|kept| kept.stored() == colour);
    let hsv = hsv.get_or_insert_with(|| Hsv::of(colour, kept.unwrap_or_default()));
    let is_moved = field::show(ui, hsv);
    ui.data_mut(|data| data.insert_temp(id, *hsv));
    (is_moved && hsv.stored() != colour).then(|| hsv.stored())
}

/// Takes out what the cell holds.
fn take_out(ui: &mut Ui, desk: &mut Desk, layer: &Layer, channel: &ChannelDescriptor) {
    match &layer.content {
        Content::Painted(cells) if cells.contains_key(&channel.id) => {
            if line(ui, "Clear paint", "Take all paint out of this cell") {
                desk.clear_cells(layer, vec![channel.id]);
            }
        }
        Content::Solid(values) if values.contains_key(&channel.id) => {
            if line(ui, "Take the value out", "Leave this channel as it is below") {
                desk.edit_layer(layer.id, LayerEdit::Solid(channel.id, None));
            }
        }
        Content::Painted(_) | Content::Solid(_) | Content::Group { .. } => {}
    }
}

/// A line of a menu.
pub(super) fn line(ui: &mut Ui, text: &str, tooltip: &str) -> bool {
    let button = Button::new(text).min_size(vec2(0.0, theme::ROW));
    ui.add(button).on_hover_text(tooltip).clicked()
}
