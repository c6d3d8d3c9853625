//! A mask's terms, in the order in which they are combined.

use document::{LayerEdit, MaskAt, MaskOwner, MaskTermEdit, MaterialEdit};
use egui::{Align, Layout, RichText, Ui};
use layers::{Combine, FieldId, Layer, MaskSource, MaskTerm};
use lucide_icons::Icon;

use super::blend::changed;
use super::cell_settings::line;
use crate::chosen::{Aim, mask_of};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{ValueRow, heading, icon_button, icon_toggle, remark};

const COMBINES: [(Combine, &str); 6] = [
    (Combine::Multiply, "Multiply"),
    (Combine::Add, "Add"),
    (Combine::Subtract, "Subtract"),
    (Combine::Lighten, "Lighten"),
    (Combine::Darken, "Darken"),
    (Combine::Replace, "Replace"),
];

/// A term's name, as it stands in cells and lists.
pub(super) fn name_of(term: &MaskTerm) -> &'static str {
    match &term.source {
        MaskSource::Painted(_) => "Painted",
        MaskSource::Field(expr) => match expr.field {
            FieldId::Occlusion => "Recess",
            FieldId::Curvature => "Ridge",
            FieldId::Thickness => "Thickness",
            FieldId::Elevation => "Elevation",
            FieldId::Slope => "Slope",
            FieldId::EdgeDistance => "Edge",
            FieldId::Noise => "Noise",
        },
    }
}

/// The terms with all that they are set to, and what can be added.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk, layer: &Layer, owner: MaskOwner) {
    let terms = &mask_of(layer, owner).terms;
    if matches!(owner, MaskOwner::Cell(_)) && !terms.is_empty() {
        heading(ui, "Mask of this cell");
    }
    for (index, term) in terms.iter().enumerate() {
        ui.push_id(("term", term.id.0), |ui| {
            term_lines(
                ui,
                desk,
                layer,
                MaskAt { owner, term: term.id },
                (index, terms.len()),
                term,
            );
        });
    }
    if terms.is_empty() && owner == MaskOwner::Layer {
        remark(ui, "No mask: all of the layer shows.");
    }
    let cell = matches!(owner, MaskOwner::Cell(_));
    let [white, black] = match (terms.is_empty(), cell) {
        (true, true) => ["Mask this cell, white", "Mask this cell, black"],
        (true, false) => ["Add mask, white", "Add mask, black"],
        (false, _) => ["Add painted term, white", "Add painted term, black"],
    };
    if line(ui, white, "It shows everything: paint away what is too much") {
        desk.choose_layer(layer.id);
        desk.add_mask(owner, u16::MAX);
    }
    if line(ui, black, "It hides everything: paint in what is wanted") {
        desk.choose_layer(layer.id);
        desk.add_mask(owner, 0);
    }
}

fn term_lines(
    ui: &mut Ui,
    desk: &mut Desk,
    layer: &Layer,
    at: MaskAt,
    (index, count): (usize, usize),
    term: &MaskTerm,
) {
    let colours = theme::colours(ui);
    let change = |desk: &mut Desk, change| {
        desk.edit_layer(layer.id, LayerEdit::MaskTerm(at, change));
    };
    let name = format!("{} {}", name_of(term), index + 1);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 0.0;
        let eye = if term.on { Icon::Eye } else { Icon::EyeOff };
        if icon_toggle(ui, eye, &format!("{name} on"), "Count this term", term.on).clicked() {
            change(desk, MaskTermEdit::On(!term.on));
        }
        let is_painted = matches!(term.source, MaskSource::Painted(_));
        let is_aimed = desk.chosen.layer == Some(layer.id) && desk.chosen.aim == Aim::Mask(at);
        let text = RichText::new(&name).color(if is_aimed { colours.accent } else { colours.text });
        let label = ui.add_enabled(is_painted, egui::Button::selectable(is_aimed, text));
        if label.on_hover_text("Aim the brush at this term").clicked() {
            desk.choose_layer(layer.id);
            desk.chosen.aim = Aim::Mask(at);
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let remove = format!("Remove {name}");
            if icon_button(ui, Icon::X, &remove, "Take this term out of the mask").clicked() {
                desk.edit_layer(layer.id, LayerEdit::RemoveMaskTerm(at));
            }
            moves(ui, desk, layer, at, (index, count), &name);
            let tooltip = "Turn black and white round";
            if icon_toggle(ui, Icon::Contrast, &format!("Invert {name}"), tooltip, term.invert)
                .clicked()
            {
                change(desk, MaskTermEdit::Invert(!term.invert));
            }
        });
    });
    let combined = COMBINES.iter().find(|(combine, _)| *combine == term.combine);
    let combined = combined.map_or("Multiply", |(_, name)| name);
    ui.menu_button(format!("Combine: {combined}"), |ui| {
        for (combine, name) in COMBINES {
            let is_so = combine == term.combine;
            if ui.add(egui::Button::selectable(is_so, name)).clicked() && !is_so {
                change(desk, MaskTermEdit::Combine(combine));
            }
        }
    });
    let mut strength = f64::from(term.strength.get());
    let tooltip = "How much of this term counts";
    ValueRow::new("Strength", tooltip, 0.0..=1.0).percent().show(ui, &mut strength);
    if let Some(strength) = changed(term.strength, strength) {
        let edit = LayerEdit::MaskTerm(at, MaskTermEdit::Strength(strength));
        desk.follow_hand(ui, MaterialEdit::Layer(layer.id, edit));
    }
    ui.separator();
}

fn moves(
    ui: &mut Ui,
    desk: &mut Desk,
    layer: &Layer,
    at: MaskAt,
    (index, count): (usize, usize),
    name: &str,
) {
    let later = (Icon::ArrowDown, "later", index + 1, index + 1 < count);
    let earlier = (Icon::ArrowUp, "earlier", index.saturating_sub(1), index > 0);
    for (icon, word, to, enabled) in [later, earlier] {
        let label = format!("Combine {name} {word}");
        let button = ui.add_enabled_ui(enabled, |ui| icon_button(ui, icon, &label, &label));
        if button.inner.clicked() {
            desk.edit_layer(layer.id, LayerEdit::MoveMaskTerm(at, to));
        }
    }
}
