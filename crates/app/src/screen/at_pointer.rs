//! Recent brushes and colours, in a strip that opens where the pointer is.

use egui::{Area, Context, Frame, Id, Key, Order, Pos2, Sense, Ui, vec2};

use crate::desk::Desk;
use crate::panes;
use crate::theme;
use crate::widgets::{focus_ring, remark, to_colour32};

/// Edge of a colour, in points.
const COLOUR: f32 = 28.0;

/// Whether it is open, and where.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) enum AtPointer {
    /// It is not there.
    #[default]
    Closed,
    /// It is to open at the pointer.
    Asked,
    /// It is open, its upper left corner here.
    Open(Pos2),
}

impl AtPointer {
    /// Opens it at the pointer, or closes it.
    pub(crate) fn toggle(&mut self) {
        *self = if *self == Self::Closed { Self::Asked } else { Self::Closed };
    }
}

pub(super) fn show(context: &Context, desk: &mut Desk) {
    let at = match desk.at_pointer {
        AtPointer::Closed => return,
        AtPointer::Asked => {
            let pointer = context.input(|input| input.pointer.latest_pos());
            // The pointer is over the first brush: one more click takes it.
            pointer.unwrap_or_else(|| context.content_rect().center()) - vec2(24.0, 20.0)
        }
        AtPointer::Open(at) => at,
    };
    let is_new = desk.at_pointer == AtPointer::Asked;
    desk.at_pointer = AtPointer::Open(at);
    let area =
        Area::new(Id::unique("at pointer")).order(Order::Foreground).fixed_pos(at).constrain(true);
    let shown =
        area.show(context, |ui| Frame::popup(ui.style()).show(ui, |ui| strip(ui, desk)).inner);
    let is_left = context.input(|input| {
        let beside = |pos: Option<Pos2>| pos.is_some_and(|pos| !shown.response.rect.contains(pos));
        input.key_pressed(Key::Escape)
            || input.pointer.any_pressed() && beside(input.pointer.interact_pos())
    });
    if shown.inner || is_left && !is_new {
        desk.at_pointer = AtPointer::Closed;
    }
}

/// True where something was chosen.
fn strip(ui: &mut Ui, desk: &mut Desk) -> bool {
    let chosen = panes::recent_brushes(ui, desk);
    ui.add_space(6.0);
    colours(ui, desk) || chosen
}

/// The colours that were painted lately, each chosen by a click.
fn colours(ui: &mut Ui, desk: &mut Desk) -> bool {
    let recent = desk.brush.recent.clone();
    if recent.is_empty() {
        remark(ui, "Colours that you paint with come here");
        return false;
    }
    let mut chosen = None;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        for colour in &recent {
            let (rect, response) = ui.allocate_exact_size(vec2(COLOUR, COLOUR), Sense::click());
            let name = crate::colour::hex_text(*colour);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &name));
            let shown = to_colour32(layers::Value::Colour(*colour));
            ui.painter().rect_filled(rect, f32::from(theme::RADIUS), shown);
            focus_ring(ui, &response, rect, f32::from(theme::RADIUS));
            if response.on_hover_text(&name).clicked() {
                chosen = Some(*colour);
            }
        }
    });
    let is_chosen = chosen.is_some();
    if let Some(colour) = chosen {
        desk.brush.set_colour(colour);
    }
    is_chosen
}
