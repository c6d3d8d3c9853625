//! Decals: words or a picture that are laid on the model, and those that the chosen layer has.

use egui::{Align, Button, Layout, TextEdit, Ui};
use lucide_icons::Icon;

use super::image_row::{self, ImageOf};
use crate::desk::Desk;
use crate::lettering::lettering;
use crate::theme;
use crate::widgets::{icon_button, remark};

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    words(ui, desk);
    image_row::show(ui, desk, ImageOf::Decal);
    let decals = desk.kept_decals();
    let Some(layer) = desk.chosen.layer else { return };
    if decals.is_empty() {
        remark(
            ui,
            "They follow the surface around the point where they are set down, and can be moved later",
        );
    }
    for (place, number) in (1..).zip(decals) {
        ui.horizontal(|ui| {
            let chosen = desk
                .decal
                .as_ref()
                .is_some_and(|held| held.kept.as_ref().is_some_and(|kept| kept.number == number));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let remove = format!("Remove decal {place}");
                if icon_button(ui, Icon::Trash2, &remove, "Take the decal away").clicked() {
                    desk.remove_decal(layer, number);
                }
                let width = ui.available_width();
                let row = Button::selectable(chosen, format!("Decal {place}"));
                let row = ui.add_sized([width, theme::ROW], row);
                if row.on_hover_text("Take it in hand, to move it").clicked() {
                    if chosen {
                        desk.drop_decal();
                    } else {
                        desk.take_kept_decal(layer, number);
                    }
                }
            });
        });
    }
}

/// A field for words, and the button that takes them in hand.
fn words(ui: &mut Ui, desk: &mut Desk) {
    ui.horizontal(|ui| {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let is_there = !desk.brush_panel.words.trim().is_empty();
            let button = ui.add_enabled(is_there, Button::new("Lay"));
            let lays = button.on_hover_text("Lay these words on the model").clicked();
            let field = TextEdit::singleline(&mut desk.brush_panel.words)
                .hint_text("Words")
                .align(egui::Align2::LEFT_CENTER);
            let field = ui.add_sized([ui.available_width(), theme::ROW], field);
            let entered =
                field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
            if lays || (entered && is_there) {
                match lettering(&desk.brush_panel.words) {
                    Ok(image) => desk.take_decal(image),
                    Err(error) => desk.notices.error(error),
                }
            }
        });
    });
}
