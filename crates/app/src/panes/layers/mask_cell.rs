//! The column of a layer's mask. A click aims the brush at its painted term.

use document::MaskOwner;
use editor::ThumbnailOf;
use egui::{FontId, Image, Rect, Role, Sense, Ui, WidgetInfo, vec2};
use layers::{Layer, MaskSource};

use super::cell::{Looks, paint_edge};
use super::row::InRow;
use super::state::Spot;
use super::{blend, cell_settings, mask_terms};
use crate::desk::Desk;
use crate::theme;
use crate::thumbnails::Picture;
use crate::widgets::elided;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, this: &InRow<'_>, rect: Rect) {
    let layer = &this.row.layer;
    let rect = rect.shrink2(vec2(0.0, 6.0));
    let response = ui.interact(rect, ui.scope_id().with("mask"), Sense::click());
    let is_aimed = desk.chosen.aims_at_mask(layer.id, MaskOwner::Layer);
    let name = format!("Mask of {}", layer.name);
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_aimed, &name));

    let has_mask = !layer.mask.terms.is_empty();
    let looks = if has_mask {
        let (material, owner) = (desk.chosen.material, MaskOwner::Layer);
        let of = ThumbnailOf::Mask { material, layer: layer.id, owner };
        Looks::Picture(desk.thumbnails.look(ui.ctx(), &desk.editor, of))
    } else {
        Looks::Empty
    };
    looks.paint(ui, rect, this.is_faint());
    if has_mask && rect.width() >= 64.0 {
        words(ui, rect, layer);
    }
    paint_edge(ui, &response, rect, is_aimed);

    let can_be_painted =
        layer.mask.terms.iter().any(|term| matches!(term.source, MaskSource::Painted(_)));
    let mut opens = response.secondary_clicked();
    if response.clicked() {
        desk.choose_layer(layer.id);
        desk.aim_at_mask(MaskOwner::Layer);
        opens |= !can_be_painted || is_aimed;
    }
    opens |= desk.layer_table.wants(Spot::Mask(layer.id));
    cell_settings::popup(&response, opens).width(300.0).show(|ui| {
        blend::title(ui, desk.document(), layer, None);
        mask_terms::show(ui, desk, layer, MaskOwner::Layer);
    });
    response.on_hover_ui(|ui| about(ui, layer, &looks));
}

/// The terms in a row: "Recess x noise".
fn terms_text(layer: &Layer) -> String {
    let on = layer.mask.terms.iter().filter(|term| term.on);
    let names: Vec<&str> = on.map(mask_terms::name_of).collect();
    if names.is_empty() { "off".to_owned() } else { names.join(" \u{d7} ") }
}

fn words(ui: &Ui, rect: Rect, layer: &Layer) {
    let colours = theme::colours(ui);
    let font = FontId::proportional(12.0);
    let galley = elided(ui, &terms_text(layer), font, colours.text, rect.width() - 16.0);
    let back = Rect::from_center_size(rect.center(), galley.size() + vec2(8.0, 0.0));
    ui.painter().rect_filled(back, 3.0, colours.panel.gamma_multiply(0.85));
    ui.painter().galley(back.min + vec2(4.0, 0.0), galley, colours.text);
}

fn about(ui: &mut Ui, layer: &Layer, looks: &Looks) {
    let colours = theme::colours(ui);
    ui.label(format!("{}, mask", layer.name));
    if let Looks::Picture(Some(Picture { texture: Some(texture), .. })) = looks {
        ui.add(Image::new((texture.id(), vec2(96.0, 96.0))));
    }
    let how = if layer.mask.terms.is_empty() {
        "No mask. Click to add one"
    } else {
        ui.label(terms_text(layer));
        "Click to paint it, again for its terms"
    };
    ui.label(egui::RichText::new(how).color(colours.text_weak));
}
