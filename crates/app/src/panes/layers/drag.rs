//! A layer on its way to another place: a line shows where it lands, and the table scrolls at its edges.

use egui::{
    CornerRadius, CursorIcon, FontId, Pos2, Rect, Response, Stroke, StrokeKind, Ui, pos2, vec2,
};

use super::Table;
use super::landing::{Landing, Mark, landing};
use super::row::INDENT;
use super::rows::Row;
use super::state::Dragged;
use crate::desk::Desk;
use crate::theme::{self, LAYER_ROW};

/// How near to an edge the table begins to scroll, in points.
const EDGE: f32 = 28.0;
/// How fast it does at the edge, in points a second.
const SPEED: f32 = 600.0;

/// Begins to drag a row by something that senses drags.
pub(super) fn begin(desk: &mut Desk, row: &Row, response: &Response) {
    if response.drag_started()
        && let Some(pointer) = response.interact_pointer_pos()
    {
        let (layer, depth) = (row.layer.id, row.depth);
        desk.layer_table.dragged = Some(Dragged { layer, depth, from_x: pointer.x, lands: None });
    }
}

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, table: &Table<'_>, area: Rect) {
    let Some(dragged) = desk.layer_table.dragged else { return };
    let is_held = ui.input(|input| input.pointer.primary_down());
    let is_given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
    let pointer = ui.ctx().pointer_latest_pos();
    let lands = match pointer {
        Some(pointer) => lands_at(ui, table, area, dragged, pointer),
        None => dragged.lands,
    };
    desk.layer_table.dragged = Some(Dragged { lands, ..dragged });
    if is_given_up || !is_held {
        desk.layer_table.dragged = None;
        if let Some(landing) = lands.filter(|_| !is_given_up) {
            desk.move_layer(dragged.layer, landing.place);
        }
        return;
    }
    ui.ctx().set_cursor_icon(if lands.is_some() {
        CursorIcon::Grabbing
    } else {
        CursorIcon::NoDrop
    });
    if let Some(landing) = lands {
        paint_mark(ui, table, area, landing.mark);
    }
    if let Some(pointer) = pointer {
        paint_name(ui, table, dragged, pointer);
        scroll_at_edges(ui, pointer.y);
    }
}

fn lands_at(
    ui: &Ui,
    table: &Table<'_>,
    area: Rect,
    dragged: Dragged,
    pointer: Pos2,
) -> Option<Landing> {
    if !ui.clip_rect().expand2(vec2(0.0, 16.0)).contains(pointer) {
        return None;
    }
    let at = (pointer.y - area.top()) / LAYER_ROW;
    let steps = ((pointer.x - dragged.from_x) / INDENT).round() as isize;
    let wish = dragged.depth.saturating_add_signed(steps);
    landing(table.stack, table.rows, dragged.layer, at, wish)
}

fn paint_mark(ui: &Ui, table: &Table<'_>, area: Rect, mark: Mark) {
    let stroke = Stroke::new(2.0, theme::colours(ui).accent);
    match mark {
        Mark::Line { over, depth } => {
            let y = (area.top() + over as f32 * LAYER_ROW)
                .clamp(area.top() + 1.0, area.bottom().max(area.top() + 2.0) - 1.0);
            let left = area.left() + table.columns.name.min + depth as f32 * INDENT;
            ui.painter().circle_stroke(pos2(left, y), 3.0, stroke);
            ui.painter().hline(left + 3.0..=area.right() - 4.0, y, stroke);
        }
        Mark::Into(row) => {
            let rect = Table::rect_of(area, row).shrink2(vec2(4.0, 2.0));
            let corners = CornerRadius::same(theme::RADIUS);
            ui.painter().rect_stroke(rect, corners, stroke, StrokeKind::Inside);
        }
    }
}

/// The name of what is dragged, beside the pointer.
fn paint_name(ui: &Ui, table: &Table<'_>, dragged: Dragged, pointer: Pos2) {
    let Some(row) = table.rows.iter().find(|row| row.layer.id == dragged.layer) else { return };
    let colours = theme::colours(ui);
    let layer = egui::LayerId::new(egui::Order::Tooltip, ui.scope_id().with("dragged layer"));
    let painter = ui.ctx().layer_painter(layer);
    let font = FontId::proportional(13.0);
    let galley = crate::widgets::elided(ui, &row.layer.name, font, colours.text, 200.0);
    let at = pointer + vec2(16.0, 8.0);
    let back = Rect::from_min_size(at, galley.size()).expand2(vec2(8.0, 4.0));
    painter.rect_filled(back, CornerRadius::same(theme::RADIUS), colours.chosen);
    painter.galley(at, galley, colours.text);
}

fn scroll_at_edges(ui: &Ui, y: f32) {
    let sight = ui.clip_rect();
    let above = (sight.top() + EDGE - y).clamp(0.0, EDGE) / EDGE;
    let below = (y - (sight.bottom() - EDGE)).clamp(0.0, EDGE) / EDGE;
    let speed = (above - below) * SPEED;
    if speed != 0.0 {
        let seconds = ui.input(|input| input.stable_dt).min(0.1);
        let still = egui::style::ScrollAnimation::none();
        ui.scroll_with_delta_animation(vec2(0.0, speed * seconds), still);
        ui.ctx().request_repaint();
    }
}
