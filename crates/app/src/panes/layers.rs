//! The layer table: layers as rows, the topmost first; channels as columns.
//!
//! Only the rows in sight are built, whatever the stack's height. Nothing here changes the document but edits.

mod blend;
mod cell;
mod cell_settings;
mod columns;
mod drag;
mod head;
mod landing;
mod mask_cell;
mod mask_terms;
mod row;
mod row_menu;
mod rows;
mod state;
#[cfg(test)]
mod tests;

pub(crate) use head::tool_bar;
pub(crate) use state::LayerTable;

use ::layers::{LayerId, Stack};
use egui::{Rect, ScrollArea, Ui, pos2, vec2};

use crate::commands::{Command, LayerCommand};
use crate::desk::Desk;
use crate::theme::{self, LAYER_ROW};
use crate::widgets::remark;
use columns::Columns;
use rows::Row;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let Some(material) = desk.shown_material().cloned() else {
        say(ui, "Open a model: its materials and their layers come here.", None);
        return;
    };
    let followed = news(desk, &material.stack);
    let rows = desk.layer_table.rows(material.id, &material.stack);
    let channels = desk.document().channels.clone();
    let columns = Columns::of(ui.available_width(), channels.len());
    ui.spacing_mut().item_spacing.y = 0.0;
    head::show(ui, desk, &columns, &channels);
    if rows.is_empty() {
        say(ui, "Nothing is painted yet. Add a layer to paint on.", Some(desk));
        return;
    }
    let table = Table { rows: &rows, columns: &columns, stack: &material.stack };
    table.show(ui, desk, followed);
    let bytes = desk.thumbnails.bytes();
    desk.editor.set_outside_bytes("thumbnails", bytes);
}

/// What a frame of the table is made from.
pub(super) struct Table<'a> {
    rows: &'a [Row],
    columns: &'a Columns,
    stack: &'a Stack,
}

impl Table<'_> {
    fn show(&self, ui: &mut Ui, desk: &mut Desk, followed: Option<LayerId>) {
        let followed =
            followed.and_then(|layer| self.rows.iter().position(|row| row.layer.id == layer));
        ScrollArea::vertical()
            .id_salt("layer rows")
            .auto_shrink(false)
            .animated(false)
            .show_viewport(ui, |ui, viewport| {
                let count = self.rows.len();
                let height = count as f32 * LAYER_ROW;
                let (area, _) = ui
                    .allocate_exact_size(vec2(ui.available_width(), height), egui::Sense::hover());
                let area = Rect::from_min_size(area.min, vec2(area.width(), height));
                let first = (viewport.min.y / LAYER_ROW).floor().max(0.0) as usize;
                let end = ((viewport.max.y / LAYER_ROW).ceil() as usize).min(count);
                for (number, row) in self.rows.iter().enumerate().take(end).skip(first) {
                    row::show(ui, desk, row, Self::rect_of(area, number), self.columns);
                }
                desk.layer_table.note_built(end.saturating_sub(first));
                if let Some(number) = followed {
                    ui.scroll_to_rect(Self::rect_of(area, number), None);
                }
                drag::show(ui, desk, self, area);
            });
    }

    fn rect_of(area: Rect, number: usize) -> Rect {
        let top = area.top() + number as f32 * LAYER_ROW;
        Rect::from_min_size(pos2(area.left(), top), vec2(area.width(), LAYER_ROW))
    }
}

/// The chosen layer, where it has not been scrolled to since it was chosen. The groups about it are unfolded.
fn news(desk: &mut Desk, stack: &Stack) -> Option<LayerId> {
    let (material, layer) = (desk.chosen.material, desk.chosen.layer?);
    if !desk.layer_table.is_news((material, layer)) {
        return None;
    }
    for group in rows::groups_around(stack, layer) {
        desk.layer_table.unfold(material, group);
    }
    Some(layer)
}

/// An empty table: what it is for, and what to do next.
fn say(ui: &mut Ui, text: &str, adds: Option<&mut Desk>) {
    ui.add_space(24.0);
    ui.vertical_centered(|ui| {
        ui.set_max_width(320.0);
        remark(ui, text);
        let Some(desk) = adds else { return };
        ui.add_space(theme::GAP);
        let command = Command::Layer(LayerCommand::AddPainted);
        let tooltip = desk.tooltip(command);
        if ui.button("Add a painted layer").on_hover_text(tooltip).clicked() {
            desk.perform(command);
        }
    });
}
