//! One row: what a layer is called, how it blends, and its cells.

use std::sync::Arc;

use document::{LayerEdit, MaterialEdit};
use egui::text::{CCursor, CCursorRange};
use egui::{
    Align2, DragValue, FontId, Galley, Key, Popup, PopupCloseBehavior, Rangef, Rect, Response,
    Role, Sense, Stroke, StrokeKind, TextEdit, Ui, UiBuilder, WidgetInfo, pos2, vec2,
};
use lucide_icons::Icon;

use super::blend::{self, RowBlend};
use super::columns::Columns;
use super::rows::Row;
use super::{cell, drag, mask_cell, row_menu};
use crate::desk::Desk;
use crate::theme::{self, Colours};
use crate::widgets::{elided, icon_button};

/// How far a layer in a group stands in, in points.
pub(super) const INDENT: f32 = 16.0;
const FOLD: f32 = 20.0;

/// A row in a frame.
pub(super) struct InRow<'a> {
    pub(super) row: &'a Row,
    pub(super) rect: Rect,
    pub(super) columns: &'a Columns,
    pub(super) is_chosen: bool,
}

impl InRow<'_> {
    /// The part of the row that lies in a column.
    pub(super) fn at(&self, column: Rangef) -> Rect {
        let (left, right) = (self.rect.left() + column.min, self.rect.left() + column.max);
        Rect::from_x_y_ranges(left..=right, self.rect.y_range())
    }

    /// The row, or a group about it, is hidden.
    pub(super) fn is_faint(&self) -> bool {
        !self.row.in_sight || !self.row.layer.visible
    }

    fn text_colour(&self, colours: &Colours) -> egui::Color32 {
        if self.is_faint() { colours.text_weak } else { colours.text }
    }
}

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, row: &Row, rect: Rect, columns: &Columns) {
    let is_chosen = desk.chosen.layer == Some(row.layer.id);
    let this = InRow { row, rect, columns, is_chosen };
    let place = UiBuilder::new().max_rect(rect).id_salt(("layer", row.layer.id.0));
    ui.scope_builder(place, |ui| {
        back(ui, &this);
        grip(ui, desk, &this);
        eye(ui, desk, &this);
        name(ui, desk, &this);
        blend_button(ui, desk, &this);
        opacity_field(ui, desk, &this);
        let channels = desk.document().channels.clone();
        for (column, channel) in columns.cells.iter().zip(channels.iter()) {
            cell::show(ui, desk, &this, this.at(*column), channel);
        }
        if let Some(column) = columns.mask {
            mask_cell::show(ui, desk, &this, this.at(column));
        }
        more(ui, desk, &this);
    });
}

fn back(ui: &Ui, this: &InRow<'_>) {
    let colours = theme::colours(ui);
    let is_under = ui.rect_contains_pointer(this.rect);
    if this.is_chosen {
        ui.painter().rect_filled(this.rect, 0.0, colours.raised);
    } else if is_under {
        let faint = colours.raised.gamma_multiply(0.45);
        ui.painter().rect_filled(this.rect, 0.0, faint);
    }
    ui.painter().hline(this.rect.x_range(), this.rect.bottom() - 0.5, (1.0, colours.line));
}

fn grip(ui: &mut Ui, desk: &mut Desk, this: &InRow<'_>) {
    let Some(column) = this.columns.grip else { return };
    let rect = this.at(column);
    let response = ui.interact(rect, ui.scope_id().with("grip"), Sense::click_and_drag());
    let name = format!("Move {}", this.row.layer.name);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &name));
    let colours = theme::colours(ui);
    let is_lit_up = response.hovered() || response.has_focus();
    let colour = if is_lit_up { colours.text } else { colours.text_weak.gamma_multiply(0.7) };
    let icon = char::from(Icon::GripVertical);
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, icon, theme::icons(14.0), colour);
    drag::begin(desk, this.row, &response);
    let response = response.on_hover_cursor(egui::CursorIcon::Grab);
    response.on_hover_text("Drag to another place, or onto a group  (Alt+arrows)");
}

fn eye(ui: &mut Ui, desk: &mut Desk, this: &InRow<'_>) {
    let layer = &this.row.layer;
    let rect = this.at(this.columns.eye);
    let response = ui.interact(rect, ui.scope_id().with("eye"), Sense::click());
    let (name, visible) = (format!("{} visible", layer.name), layer.visible);
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, visible, &name));
    let colours = theme::colours(ui);
    let icon = if visible { Icon::Eye } else { Icon::EyeOff };
    let colour = match (response.hovered() || response.has_focus(), visible) {
        (true, _) => colours.text,
        (false, true) => colours.text_soft,
        (false, false) => colours.text_weak,
    };
    let icon = char::from(icon);
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, icon, theme::icons(16.0), colour);
    focus_ring(ui, &response, rect.shrink2(vec2(1.0, 6.0)));
    let about = if visible { "Hide this layer" } else { "Show this layer" };
    if response.on_hover_text(about).clicked() {
        desk.edit_layer(layer.id, LayerEdit::Visible(!visible));
    }
}

fn name(ui: &mut Ui, desk: &mut Desk, this: &InRow<'_>) {
    let layer = &this.row.layer;
    let mut rect = this.at(this.columns.name);
    // Deep groups leave room for their names: the last steps in are small.
    let most = (rect.width() - 64.0).max(0.0);
    let indent = (this.row.depth as f32 * INDENT).min(most);
    rect.min.x += indent;
    if this.row.is_group() {
        fold(ui, desk, this, rect);
        rect.min.x += FOLD;
    } else {
        rect.min.x += 4.0;
    }
    let is_named = desk.layer_table.renaming.as_ref().is_some_and(|name| name.layer == layer.id);
    if is_named {
        rename_field(ui, desk, rect);
        return;
    }
    let response = ui.interact(rect, ui.scope_id().with("name"), Sense::click_and_drag());
    let chosen = this.is_chosen;
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, chosen, &layer.name));
    let has_second_line = this.columns.blend.is_none();
    let galley = name_text(ui, this, rect.width());
    let is_cut = galley.elided;
    let y =
        if has_second_line { rect.top() + 4.0 } else { rect.center().y - galley.size().y / 2.0 };
    let colour = this.text_colour(theme::colours(ui));
    ui.painter().galley(pos2(rect.left(), y), galley, colour);
    focus_ring(ui, &response, rect.shrink2(vec2(-3.0, 4.0)));
    drag::begin(desk, this.row, &response);
    if response.clicked() {
        desk.choose_all_of(layer.id);
    }
    if response.double_clicked() {
        desk.layer_table.rename(layer.id, &layer.name);
    }
    if response.secondary_clicked() {
        desk.choose_layer(layer.id);
    }
    response.context_menu(|ui| row_menu::show(ui, desk, layer, this.columns));
    if is_cut {
        response.on_hover_text(&layer.name);
    }
}

fn name_text(ui: &Ui, this: &InRow<'_>, width: f32) -> Arc<Galley> {
    let colour = this.text_colour(theme::colours(ui));
    let font = if this.is_chosen { theme::semibold(13.0) } else { FontId::proportional(13.0) };
    elided(ui, &this.row.layer.name, font, colour, width)
}

fn fold(ui: &mut Ui, desk: &mut Desk, this: &InRow<'_>, rect: Rect) {
    let rect = Rect::from_min_size(rect.min, vec2(FOLD, rect.height()));
    let response = ui.interact(rect, ui.scope_id().with("fold"), Sense::click());
    let (name, open) = (format!("{} open", this.row.layer.name), this.row.is_open);
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, open, &name));
    let colours = theme::colours(ui);
    let icon = char::from(if open { Icon::ChevronDown } else { Icon::ChevronRight });
    let is_lit_up = response.hovered() || response.has_focus();
    let colour = if is_lit_up { colours.text } else { colours.text_soft };
    let at = pos2(rect.left() + 8.0, rect.center().y);
    ui.painter().text(at, Align2::CENTER_CENTER, icon, theme::icons(14.0), colour);
    let about = if open { "Fold this group" } else { "Unfold this group" };
    if response.on_hover_text(about).clicked() {
        desk.layer_table.toggle_fold(desk.chosen.material, this.row.layer.id);
    }
}

/// Enter or a click elsewhere takes the name, Escape leaves the old one.
fn rename_field(ui: &mut Ui, desk: &mut Desk, rect: Rect) {
    let Some(mut renaming) = desk.layer_table.renaming.take() else { return };
    let field = rect.shrink2(vec2(0.0, 6.0));
    let edit = TextEdit::singleline(&mut renaming.text).desired_width(field.width() - 8.0);
    let response = ui.put(field, edit).accessible_name("Name of the layer");
    if !renaming.has_begun {
        renaming.has_begun = true;
        response.request_focus();
        if let Some(mut state) = TextEdit::load_state(ui.ctx(), response.id) {
            let all = CCursorRange::two(CCursor::default(), CCursor::end_of_str(&renaming.text));
            state.cursor.set_char_range(Some(all));
            state.store(ui.ctx(), response.id);
        }
        desk.layer_table.renaming = Some(renaming);
        return;
    }
    let is_given_up = ui.input(|input| input.key_pressed(Key::Escape));
    if response.has_focus() && !is_given_up {
        desk.layer_table.renaming = Some(renaming);
        return;
    }
    let text = renaming.text.trim().to_owned();
    let is_new = desk
        .material()
        .and_then(|material| material.stack.find(renaming.layer))
        .is_some_and(|layer| layer.name != text && !text.is_empty());
    if is_new && !is_given_up {
        desk.edit_layer(renaming.layer, LayerEdit::Rename(text));
    }
}

/// The row's blend mode, in its column or below the name.
fn blend_button(ui: &mut Ui, desk: &mut Desk, this: &InRow<'_>) {
    let layer = &this.row.layer;
    let blend = RowBlend::of(layer, &desk.document().channels);
    let below = this.columns.blend.is_none();
    let (rect, text) = if let Some(column) = this.columns.blend {
        (this.at(column).shrink2(vec2(0.0, 6.0)), blend.name().to_owned())
    } else {
        let mut rect = this.at(this.columns.name);
        rect.min.x += 4.0
            + (this.row.depth as f32 * INDENT).min(rect.width() - 64.0).max(0.0)
            + if this.row.is_group() { FOLD - 4.0 } else { 0.0 };
        rect.min.y = rect.max.y - 18.0;
        (rect, blend::summary(blend, layer.opacity))
    };
    let response = ui.interact(rect, ui.scope_id().with("blend"), Sense::click());
    let name = if below {
        format!("Blend and opacity of {}", layer.name)
    } else {
        format!("Blend of {}", layer.name)
    };
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::ComboBox, true, &name);
        info.current_text_value = Some(text.clone());
        info
    });
    let colours = theme::colours(ui);
    let is_lit_up = response.hovered() || response.has_focus();
    if is_lit_up && !below {
        ui.painter().rect_filled(rect, f32::from(theme::RADIUS), colours.well);
    }
    let colour = if is_lit_up { colours.text } else { colours.text_soft };
    let font = FontId::proportional(if below { 12.0 } else { 13.0 });
    let inset = if below { 0.0 } else { 4.0 };
    let galley = elided(ui, &text, font, colour, rect.width() - inset);
    let at = if below {
        pos2(rect.left(), rect.bottom() - 3.0 - galley.size().y)
    } else {
        pos2(rect.left() + inset, rect.center().y - galley.size().y / 2.0)
    };
    ui.painter().galley(at, galley, colour);
    let about = if below {
        "Blend mode and opacity of all channels of this layer"
    } else {
        "How all channels of this layer blend with what is below"
    };
    let popup = Popup::menu(&response);
    if below {
        popup.close_behavior(PopupCloseBehavior::CloseOnClickOutside).width(260.0).show(|ui| {
            blend::row_opacity(ui, desk, layer);
            ui.separator();
            blend::row_modes(ui, desk, layer);
        });
    } else {
        popup.show(|ui| {
            egui::ScrollArea::vertical()
                .max_height(460.0)
                .show(ui, |ui| blend::row_modes(ui, desk, layer));
        });
    }
    response.on_hover_text(about);
}

fn opacity_field(ui: &mut Ui, desk: &mut Desk, this: &InRow<'_>) {
    let Some(column) = this.columns.opacity else { return };
    let layer = &this.row.layer;
    let rect = this.at(column).shrink2(vec2(0.0, 6.0));
    let mut shown = f64::from(layer.opacity.get()) * 100.0;
    let field = DragValue::new(&mut shown)
        .range(0.0..=100.0)
        .speed(0.5)
        .fixed_decimals(0)
        .suffix(" %")
        .update_while_editing(false);
    let scope = UiBuilder::new().max_rect(rect).id_salt("opacity");
    let response = ui
        .scope_builder(scope, |ui| {
            let colours = theme::colours(ui);
            let look = ui.visuals_mut();
            look.widgets.inactive.weak_bg_fill = egui::Color32::TRANSPARENT;
            look.widgets.inactive.fg_stroke.color = colours.text_soft;
            look.widgets.hovered.weak_bg_fill = colours.well;
            look.widgets.active.weak_bg_fill = colours.well;
            ui.spacing_mut().button_padding.x = 4.0;
            ui.spacing_mut().interact_size.x = rect.width();
            ui.put(rect, field)
        })
        .inner
        .accessible_name(format!("Opacity of {}", layer.name));
    if response.changed()
        && let Some(opacity) = blend::changed(layer.opacity, shown / 100.0)
    {
        let edit = MaterialEdit::Layer(layer.id, LayerEdit::Opacity(opacity));
        desk.follow_hand(ui, edit);
    }
    response.on_hover_text("Opacity of the whole layer: drag, or click and type");
}

fn more(ui: &mut Ui, desk: &mut Desk, this: &InRow<'_>) {
    let Some(column) = this.columns.menu else { return };
    let layer = &this.row.layer;
    let rect = this.at(column).shrink2(vec2(0.0, 6.0));
    let scope = UiBuilder::new().max_rect(rect).id_salt("more");
    let response = ui
        .scope_builder(scope, |ui| {
            let name = format!("More for {}", layer.name);
            icon_button(ui, Icon::Ellipsis, &name, "What else can be done with this layer")
        })
        .inner;
    if response.clicked() {
        desk.choose_layer(layer.id);
    }
    Popup::menu(&response).show(|ui| row_menu::show(ui, desk, layer, this.columns));
}

/// Shows which control the keyboard is at.
pub(super) fn focus_ring(ui: &Ui, response: &Response, rect: Rect) {
    if response.has_focus() {
        let stroke = Stroke::new(1.0, theme::colours(ui).accent);
        ui.painter().rect_stroke(rect, 4.0, stroke, StrokeKind::Inside);
    }
}
