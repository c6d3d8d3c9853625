//! What stands over the columns, and the tools beside the panel's title.

use document::Document;
use egui::{Align2, Button, Color32, FontId, Rangef, Rect, Role, Sense, Ui, WidgetInfo, vec2};
use layers::{ChannelDescriptor, ChannelId};
use lucide_icons::Icon;
use viewport::Shown;

use super::columns::Columns;
use crate::commands::{Command, LayerCommand, ViewCommand, entry};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::icon_button;

const HEIGHT: f32 = 24.0;

pub(super) fn show(
    ui: &mut Ui,
    desk: &mut Desk,
    columns: &Columns,
    channels: &[ChannelDescriptor],
) {
    let colours = theme::colours(ui);
    let (area, _) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::hover());
    let over = |span: Rangef| {
        let x = Rangef::new(area.left() + span.min, area.left() + span.max);
        Rect::from_x_y_ranges(x, area.y_range())
    };
    let words =
        [(Some(columns.name), "Layer"), (columns.blend, "Blend"), (columns.opacity, "Opacity")];
    for (span, word) in words {
        let Some(span) = span else { continue };
        let at = over(span).left_center() + vec2(4.0, 0.0);
        ui.painter().text(at, Align2::LEFT_CENTER, word, theme::semibold(12.0), colours.text_weak);
    }
    for (span, channel) in columns.cells.iter().zip(channels) {
        let shown = shown_alone(channel.id);
        let command = shown.map(|shown| Command::View(ViewCommand::Show(shown)));
        column_head(ui, desk, over(*span), &channel.label, command);
    }
    if let Some(span) = columns.mask {
        let command = Command::View(ViewCommand::Show(Shown::Mask));
        column_head(ui, desk, over(span), "Mask", Some(command));
    }
    ui.painter().hline(area.x_range(), area.bottom(), (1.0, colours.line));
}

/// The view that shows a channel alone and unlit.
fn shown_alone(channel: ChannelId) -> Option<Shown> {
    match channel {
        ChannelId::BASE_COLOUR => Some(Shown::Colour),
        ChannelId::ROUGHNESS => Some(Shown::Roughness),
        ChannelId::METALNESS => Some(Shown::Metalness),
        _ => None,
    }
}

/// A head that shows its column alone in the views, and all of it lit when it is clicked again.
fn column_head(ui: &mut Ui, desk: &mut Desk, rect: Rect, label: &str, command: Option<Command>) {
    let colours = theme::colours(ui);
    let font = theme::semibold(12.0);
    let word = fitting(ui, label, &font, rect.width() - 4.0);
    let Some(command) = command else {
        let at = rect.left_center();
        ui.painter().text(at, Align2::LEFT_CENTER, word, font, colours.text_weak);
        return;
    };
    let is_alone = command == Command::View(ViewCommand::Show(desk.model_view.shown));
    let response = ui.interact(rect, ui.scope_id().with(("column", label)), Sense::click());
    let enabled = ui.is_enabled();
    response.widget_info(|| {
        WidgetInfo::selected(Role::Button, enabled, is_alone, format!("{label} column"))
    });
    let is_lit_up = response.hovered() || response.has_focus();
    let colour = if is_alone {
        colours.accent
    } else if is_lit_up {
        colours.text
    } else {
        colours.text_weak
    };
    ui.painter().text(rect.left_center(), Align2::LEFT_CENTER, word, font, colour);
    if is_alone {
        ui.painter().hline(rect.x_range(), rect.bottom() - 1.0, (2.0, colours.accent));
    }
    if response.has_focus() {
        let ring = rect.shrink2(vec2(-2.0, 2.0));
        let stroke = egui::Stroke::new(1.0, colours.accent);
        ui.painter().rect_stroke(ring, 3.0, stroke, egui::StrokeKind::Inside);
    }
    let about = desk.tooltip(command);
    let about = if is_alone { "Show the material lit again".to_owned() } else { about };
    if response.on_hover_text(about).clicked() {
        let shown = if is_alone { Command::View(ViewCommand::Show(Shown::Lit)) } else { command };
        desk.perform(shown);
    }
}

/// A label, its last word, or the beginning of that, as there is room.
fn fitting(ui: &Ui, label: &str, font: &FontId, width: f32) -> String {
    let last = label.rsplit(' ').next().unwrap_or(label);
    let mut letters = last.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string());
    let last = first.unwrap_or_default() + letters.as_str();
    let short: String = last.chars().take(3).collect();
    let fits = |text: &String| {
        let galley = ui.painter().layout_no_wrap(text.clone(), font.clone(), Color32::WHITE);
        galley.size().x <= width
    };
    [label.to_owned(), last].into_iter().find(fits).unwrap_or(short)
}

/// The tools for layers, from the right.
pub(crate) fn tool_bar(ui: &mut Ui, desk: &mut Desk) {
    if desk.material().is_none() {
        return;
    }
    ui.spacing_mut().item_spacing.x = 0.0;
    ui.add_space(4.0);
    let has_layer = desk.chosen_layer().is_some();
    let tools = [
        (Icon::Trash2, LayerCommand::Delete, has_layer),
        (Icon::Eraser, LayerCommand::Clear, has_layer),
        (Icon::ArrowDownToLine, LayerCommand::MergeDown, has_layer && has_below(desk)),
        (Icon::Copy, LayerCommand::Duplicate, has_layer),
    ];
    for (icon, command, enabled) in tools {
        tool(ui, desk, icon, command, enabled);
    }
    ui.add_space(8.0);
    mask_tool(ui, desk, has_layer);
    ui.add_space(8.0);
    tool(ui, desk, Icon::FolderPlus, LayerCommand::AddGroup, true);
    tool(ui, desk, Icon::PaintBucket, LayerCommand::AddSolid, true);
    tool(ui, desk, Icon::LayersPlus, LayerCommand::AddPainted, true);
}

fn has_below(desk: &Desk) -> bool {
    let place = desk.chosen.layer.and_then(|layer| desk.material()?.stack.place_of(layer));
    place.is_some_and(|place| place.index > 0)
}

fn tool(ui: &mut Ui, desk: &mut Desk, icon: Icon, command: LayerCommand, enabled: bool) {
    let command = Command::Layer(command);
    let name = entry(command).map_or("", |entry| entry.label);
    let tooltip = desk.tooltip(command);
    let clicked =
        ui.add_enabled_ui(enabled, |ui| icon_button(ui, icon, name, &tooltip).clicked()).inner;
    if clicked {
        desk.perform(command);
    }
}

/// A mask comes in white or in black: two commands under one button.
fn mask_tool(ui: &mut Ui, desk: &mut Desk, enabled: bool) {
    let tooltip = "Add a mask to paint on to the chosen layer";
    let button = ui
        .add_enabled_ui(enabled, |ui| icon_button(ui, Icon::CircleDashed, "Add mask", tooltip))
        .inner;
    egui::Popup::menu(&button).show(|ui| {
        for command in [LayerCommand::AddWhiteMask, LayerCommand::AddBlackMask] {
            menu_item(ui, desk, command, true);
        }
    });
}

/// A line of a menu that does a command, with its keys.
pub(super) fn menu_item(ui: &mut Ui, desk: &mut Desk, command: LayerCommand, enabled: bool) {
    let command = Command::Layer(command);
    let Some(row) = entry(command) else { return };
    let keys = desk.bindings.text(command).unwrap_or_default();
    let button = Button::new(row.label).shortcut_text(keys).min_size(vec2(200.0, theme::ROW));
    if ui.add_enabled(enabled, button).on_hover_text(row.about).clicked() {
        desk.perform(command);
    }
}

/// A channel's name as it stands on screen.
pub(super) fn label_of(document: &Document, channel: ChannelId) -> String {
    document.channel(channel).map_or_else(|_| channel.to_string(), |found| found.label.clone())
}
