//! Materials and their parts.

mod parts;
mod size;
#[cfg(test)]
mod tests;

pub(crate) use parts::PartsOfMaterials;

use std::sync::Arc;

use document::{Material, MaterialId};
use editor::ThumbnailOf;
use egui::{
    Align2, Color32, CornerRadius, FontId, Rect, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui,
    WidgetInfo, pos2, vec2,
};
use layers::ChannelId;

use super::panel_margin;
use crate::chosen::Chosen;
use crate::desk::Desk;
use crate::theme::{self, ROW};
use crate::widgets::{elided, remark};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    ui.spacing_mut().item_spacing.y = 0.0;
    let Some(model) = desk.document().model.clone() else {
        panel_margin(ui, |ui| remark(ui, "Open a model: its materials and parts come here."));
        return;
    };
    desk.parts_of_materials.follow(&model);
    let materials = desk.document().materials.clone();
    ScrollArea::vertical().id_salt("materials").auto_shrink(false).show(ui, |ui| {
        ui.add_space(4.0);
        for material in &materials {
            material_row(ui, desk, material);
            for part in desk.parts_of_materials.of(material.id) {
                parts::row(ui, desk, material.id, &model, part);
            }
        }
        ui.add_space(8.0);
    });
}

/// A row of the panel, its back lit where it is chosen or the pointer is over it.
fn row(ui: &mut Ui, is_chosen: bool) -> (Rect, Rect) {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
    let back = rect.shrink2(vec2(8.0, 0.0));
    let colours = theme::colours(ui);
    if is_chosen {
        ui.painter().rect_filled(back, f32::from(theme::RADIUS), colours.raised);
    } else if ui.rect_contains_pointer(rect) {
        let faint = colours.raised.gamma_multiply(0.45);
        ui.painter().rect_filled(back, f32::from(theme::RADIUS), faint);
    }
    (rect, back.shrink2(vec2(4.0, 0.0)))
}

fn material_row(ui: &mut Ui, desk: &mut Desk, material: &Arc<Material>) {
    let colours = theme::colours(ui);
    let is_chosen = material.id == desk.chosen.material;
    let (_, within) = row(ui, is_chosen);
    let patch =
        Rect::from_center_size(pos2(within.left() + 8.0, within.center().y), vec2(16.0, 16.0));
    let corners = CornerRadius::same(4);
    ui.painter().rect_filled(patch, corners, mean_colour(ui, desk, material));
    ui.painter().rect_stroke(patch, corners, Stroke::new(1.0, colours.line), StrokeKind::Inside);

    let size = size::button(ui, desk, material, within);
    let name_at = Rect::from_min_max(
        pos2(patch.right() + 8.0, within.top()),
        pos2(size.left() - 8.0, within.bottom()),
    );
    let response = ui.interact(
        Rect::from_min_max(within.min, name_at.max),
        ui.scope_id().with(("material", material.id.0)),
        Sense::click(),
    );
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_chosen, &material.name));
    let font = if is_chosen { theme::semibold(13.0) } else { FontId::proportional(13.0) };
    let galley = elided(ui, &material.name, font, colours.text, name_at.width());
    let is_cut = galley.elided;
    let at = pos2(name_at.left(), within.center().y - galley.size().y / 2.0);
    ui.painter().galley(at, galley, colours.text);
    ring(ui, response.has_focus(), within);
    if response.clicked() && !is_chosen {
        choose(desk, material.id);
    }
    let about = "Paint this material";
    let about = if is_cut { format!("{}\n{about}", material.name) } else { about.to_owned() };
    response.on_hover_text(about);
}

fn mean_colour(ui: &Ui, desk: &mut Desk, material: &Material) -> Color32 {
    let of = ThumbnailOf::Channel { material: material.id, channel: ChannelId::BASE_COLOUR };
    let picture = desk.thumbnails.look(ui.ctx(), &desk.editor, of);
    picture.map_or(theme::colours(ui).well, |picture| picture.mean)
}

pub(super) fn ring(ui: &Ui, has_focus: bool, rect: Rect) {
    if has_focus {
        let stroke = Stroke::new(1.0, theme::colours(ui).accent);
        ui.painter().rect_stroke(rect.expand(3.0), 4.0, stroke, StrokeKind::Inside);
    }
}

/// An icon in the middle of a rectangle.
pub(super) fn icon(ui: &Ui, icon: lucide_icons::Icon, at: Rect, size: f32, colour: Color32) {
    let glyph = char::from(icon);
    ui.painter().text(at.center(), Align2::CENTER_CENTER, glyph, theme::icons(size), colour);
}

/// Makes a material the one that is painted.
pub(super) fn choose(desk: &mut Desk, material: MaterialId) {
    desk.chosen = Chosen::of(desk.document(), material);
}
