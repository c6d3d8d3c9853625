//! A cell: what a layer gives to a channel. A click aims the brush at it.

use document::{LayerEdit, MaterialEdit};
use editor::ThumbnailOf;
use egui::{
    Align2, Color32, FontId, Image, Rect, Response, Role, Sense, Shape, Stroke, StrokeKind, Ui,
    WidgetInfo, pos2, vec2,
};
use layers::{ChannelDescriptor, ChannelId, Content, Layer, Value};
use lucide_icons::Icon;

use super::row::{InRow, focus_ring};
use super::state::Spot;
use super::{blend, cell_settings};
use crate::chosen::Aim;
use crate::desk::Desk;
use crate::theme;
use crate::thumbnails::Picture;
use crate::widgets::to_colour32;

const CORNERS: f32 = 4.0;
/// Cells from this width on have room for words.
const ROOMY: f32 = 88.0;

/// What a cell shows.
#[derive(Debug, Clone)]
pub(super) enum Looks {
    /// The layer gives nothing to the channel.
    Empty,
    /// One value everywhere.
    Value(Value),
    /// What is painted; none before it was made.
    Picture(Option<Picture>),
}

impl Looks {
    fn of(ui: &Ui, desk: &mut Desk, layer: &Layer, channel: ChannelId) -> Self {
        match &layer.content {
            Content::Solid(values) => {
                values.get(&channel).map_or(Self::Empty, |value| Self::Value(*value))
            }
            Content::Painted(cells) if !cells.contains_key(&channel) => Self::Empty,
            Content::Group { children, .. } if children.is_empty() => Self::Empty,
            Content::Painted(_) | Content::Group { .. } => {
                let material = desk.chosen.material;
                let of = ThumbnailOf::Cell { material, layer: layer.id, channel };
                let picture = desk.thumbnails.look(ui.ctx(), &desk.editor, of);
                if picture.as_ref().is_some_and(Picture::is_empty) {
                    Self::Empty
                } else {
                    Self::Picture(picture)
                }
            }
        }
    }

    pub(super) fn paint(&self, ui: &Ui, rect: Rect, is_faint: bool) {
        let colours = theme::colours(ui);
        match self {
            Self::Empty => paint_empty(ui, rect),
            Self::Value(value) => {
                let fill = to_colour32(*value);
                ui.painter().rect_filled(rect, CORNERS, dimmed(fill, is_faint));
                let edge = Stroke::new(1.0, colours.line);
                ui.painter().rect_stroke(rect, CORNERS, edge, StrokeKind::Inside);
                if let Value::Scalar(level) = value {
                    let text = scalar_text(*level);
                    let font = FontId::proportional(if rect.width() < 36.0 { 12.0 } else { 13.0 });
                    let colour = dimmed(text_on(fill), is_faint);
                    ui.painter().text(rect.center(), Align2::CENTER_CENTER, text, font, colour);
                }
            }
            Self::Picture(picture) => {
                ui.painter().rect_filled(rect, CORNERS, colours.well);
                let Some(picture) = picture else { return };
                paint_picture(ui, rect, picture, is_faint);
            }
        }
    }
}

pub(super) fn show(
    ui: &mut Ui,
    desk: &mut Desk,
    this: &InRow<'_>,
    rect: Rect,
    channel: &ChannelDescriptor,
) {
    let layer = &this.row.layer;
    let rect = rect.shrink2(vec2(0.0, 6.0));
    let looks = Looks::of(ui, desk, layer, channel.id);
    let is_scrubbed = matches!(looks, Looks::Value(Value::Scalar(_)));
    let sense = if is_scrubbed { Sense::click_and_drag() } else { Sense::click() };
    let response = ui.interact(rect, ui.scope_id().with(("cell", channel.id.0)), sense);
    let is_group = matches!(layer.content, Content::Group { .. });
    // A group holds no paint of its own.
    let is_aimed = desk.chosen.aims_at_cell(layer.id, channel.id) && !is_group;
    let name = format!("{}, {}", layer.name, channel.label);
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_aimed, &name));

    let cell = layer.cell(channel.id);
    looks.paint(ui, rect, this.is_faint() || !cell.on);
    let has_room = rect.width() >= ROOMY && !matches!(looks, Looks::Empty);
    paint_marks(ui, rect, layer, channel.id, has_room);
    paint_edge(ui, &response, rect, is_aimed);
    if let Looks::Value(Value::Scalar(level)) = looks {
        scrub(ui, desk, &response, layer, channel.id, level);
    }

    let is_only_aim = is_aimed && desk.chosen.aim == Aim::Cells([channel.id].into());
    let mut opens = response.secondary_clicked();
    if response.clicked() {
        let also = ui.input(|input| input.modifiers.command || input.modifiers.shift);
        let is_painted = matches!(layer.content, Content::Painted(_));
        opens |= is_only_aim && !also && !is_painted;
        desk.aim_at_cell(layer.id, channel.id, also);
    }
    if opens && !is_aimed {
        desk.aim_at_cell(layer.id, channel.id, false);
    }
    opens |= desk.layer_table.wants(Spot::Cell(layer.id, channel.id));
    cell_settings::show(desk, &response, layer, channel, opens);
    response.on_hover_ui(|ui| about(ui, layer, channel, &looks));
}

/// What the cell holds, larger, and what can be done with it.
fn about(ui: &mut Ui, layer: &Layer, channel: &ChannelDescriptor, looks: &Looks) {
    let colours = theme::colours(ui);
    ui.label(format!("{}, {}", layer.name, channel.label.to_lowercase()));
    if let Looks::Picture(Some(Picture { texture: Some(texture), .. })) = looks {
        ui.add(Image::new((texture.id(), vec2(96.0, 96.0))));
    }
    if let Looks::Value(Value::Colour(colour)) = looks {
        let [r, g, b] = colour.map(|stored| stored / 257);
        ui.label(format!("#{r:02X}{g:02X}{b:02X}"));
    }
    let mut words = blend::remark_on_cell(layer, channel.id).into_iter().collect::<Vec<_>>();
    let cell = layer.cell(channel.id);
    if !cell.on {
        words.push("off".to_owned());
    }
    if !cell.mask.terms.is_empty() {
        words.push("has a mask of its own".to_owned());
    }
    if !words.is_empty() {
        ui.label(words.join(", "));
    }
    let how = match layer.content {
        Content::Solid(_) => {
            "Click to choose it, again to change its value. Right click for all settings"
        }
        Content::Group { .. } => {
            "What the group gives. Right click for blend mode, opacity and mask"
        }
        Content::Painted(_) => "Click to paint it. Right click for its settings",
    };
    ui.label(egui::RichText::new(how).color(colours.text_weak));
}

/// A drag to the side changes the number; all of the drag is one edit.
fn scrub(
    ui: &Ui,
    desk: &mut Desk,
    response: &Response,
    layer: &Layer,
    channel: ChannelId,
    level: u16,
) {
    if !response.dragged() {
        return;
    }
    ui.ctx().set_cursor_icon(egui::CursorIcon::ResizeHorizontal);
    let fine = if ui.input(|input| input.modifiers.shift) { 0.1 } else { 1.0 };
    let step = f64::from(response.drag_delta().x) * fine * 65535.0 / 300.0;
    let moved = (f64::from(level) + step).round().clamp(0.0, 65535.0) as u16;
    if moved != level {
        let edit = LayerEdit::Solid(channel, Some(Value::Scalar(moved)));
        desk.follow_hand(ui, MaterialEdit::Layer(layer.id, edit));
    }
}

/// A dashed outline with a dash: nothing is there.
pub(super) fn paint_empty(ui: &Ui, rect: Rect) {
    let colours = theme::colours(ui);
    let stroke = Stroke::new(1.0, colours.text_weak.gamma_multiply(0.45));
    let rect = rect.shrink(0.5);
    let corners = [
        rect.left_top(),
        rect.right_top(),
        rect.right_bottom(),
        rect.left_bottom(),
        rect.left_top(),
    ];
    ui.painter().extend(Shape::dashed_line(&corners, stroke, 3.0, 3.0));
    let middle = rect.center();
    ui.painter().hline(middle.x - 4.0..=middle.x + 4.0, middle.y, (1.0, colours.text_weak));
}

/// The part of a picture that is as low as the cell, about where most is painted.
fn paint_picture(ui: &Ui, rect: Rect, picture: &Picture, is_faint: bool) {
    let Some(texture) = &picture.texture else {
        ui.painter().rect_filled(rect, CORNERS, dimmed(picture.mean, is_faint));
        return;
    };
    let height = (rect.height() / rect.width()).min(1.0);
    let middle = picture.middle.clamp(height / 2.0, 1.0 - height / 2.0);
    let uv = Rect::from_min_max(pos2(0.0, middle - height / 2.0), pos2(1.0, middle + height / 2.0));
    Image::new((texture.id(), rect.size()))
        .uv(uv)
        .corner_radius(CORNERS)
        .tint(dimmed(Color32::WHITE, is_faint))
        .paint_at(ui, rect);
}

/// What differs from the ordinary: blend mode and opacity in words or as a dot, off, a mask.
fn paint_marks(ui: &Ui, rect: Rect, layer: &Layer, channel: ChannelId, has_room: bool) {
    let colours = theme::colours(ui);
    let cell = layer.cell(channel);
    if !cell.on {
        let (from, to) = (rect.left_bottom(), rect.right_top());
        ui.painter().line_segment([from, to], Stroke::new(1.5, colours.text_soft));
    }
    let mut right = rect.right() - 4.0;
    if let Some(remark) = blend::remark_on_cell(layer, channel) {
        if has_room {
            let font = FontId::proportional(12.0);
            let galley =
                crate::widgets::elided(ui, &remark, font, colours.text, rect.width() - 16.0);
            let size = galley.size() + vec2(8.0, 0.0);
            let at = pos2(rect.right() - 3.0, rect.center().y) - vec2(size.x, size.y / 2.0);
            let back = Rect::from_min_size(at, size);
            ui.painter().rect_filled(back, 3.0, colours.panel.gamma_multiply(0.85));
            ui.painter().galley(at + vec2(4.0, 0.0), galley, colours.text);
            right = back.left() - 4.0;
        } else {
            let at = pos2(right - 2.0, rect.bottom() - 6.0);
            ui.painter().circle(at, 3.5, colours.accent, Stroke::new(1.0, colours.panel));
        }
    }
    if !cell.mask.terms.is_empty() {
        let at = pos2(rect.left() + 10.0_f32.min(right - rect.left()), rect.center().y);
        ui.painter().circle_filled(at, 8.0, colours.panel.gamma_multiply(0.85));
        let icon = char::from(Icon::CircleDashed);
        ui.painter().text(at, Align2::CENTER_CENTER, icon, theme::icons(12.0), colours.text);
    }
}

/// The accent frame of what the brush paints.
pub(super) fn paint_edge(ui: &Ui, response: &Response, rect: Rect, is_aimed: bool) {
    let colours = theme::colours(ui);
    if is_aimed {
        let stroke = Stroke::new(2.0, colours.accent);
        ui.painter().rect_stroke(rect.expand(3.0), CORNERS + 2.0, stroke, StrokeKind::Inside);
    } else if response.hovered() {
        let stroke = Stroke::new(1.0, colours.text_soft);
        ui.painter().rect_stroke(rect, CORNERS, stroke, StrokeKind::Inside);
    }
    focus_ring(ui, response, rect.shrink(2.0));
}

/// 0..1 with two figures, whole numbers without.
pub(super) fn scalar_text(level: u16) -> String {
    match level {
        0 => "0".to_owned(),
        u16::MAX => "1".to_owned(),
        _ => format!("{:.2}", f64::from(level) / 65535.0),
    }
}

pub(super) fn dimmed(colour: Color32, is_faint: bool) -> Color32 {
    if is_faint { colour.gamma_multiply(0.4) } else { colour }
}

/// Black or white, as is easier to read on a grey. The weights are those of luma in ITU-R BT.709.
pub(super) fn text_on(fill: Color32) -> Color32 {
    let luma =
        0.2126 * f32::from(fill.r()) + 0.7152 * f32::from(fill.g()) + 0.0722 * f32::from(fill.b());
    if luma > 116.0 { Color32::BLACK } else { Color32::WHITE }
}
