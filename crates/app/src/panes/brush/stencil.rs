//! The stencil: which sheet, and how it is held before the views.

use egui::{Button, TextEdit, Ui};

use super::image_row::{self, ImageOf};
use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::lettering::lettering;
use crate::stencil_in_hand::StencilInHand;
use crate::stencils::OwnStencil;
use crate::theme;
use crate::widgets::{Scale, ValueRow, named_row, remark, wide_toggles};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    if desk.stencil.image.is_none() {
        remark(ui, "A sheet with holes is held before the view, and strokes go through it");
    } else {
        remark(ui, "Drag its handles in the view");
        held(ui, desk);
    }
    own(ui, desk);
    words(ui, desk);
    image_row::show(ui, desk, ImageOf::Stencil);
}

/// How it is held.
fn held(ui: &mut Ui, desk: &mut Desk) {
    let tips = [BrushCommand::HoldStencil, BrushCommand::InvertStencil]
        .map(|command| desk.tooltip(Command::Brush(command)));
    let clicked = named_row(ui, "Sheet", |ui| {
        let choices = [(0, "Held", tips[0].as_str()), (1, "Inverted", tips[1].as_str())];
        let stencil = &desk.stencil;
        wide_toggles(ui, &choices, |n| if n == 0 { stencil.is_held } else { stencil.inverted })
    });
    match clicked {
        Some(0) => desk.perform(Command::Brush(BrushCommand::HoldStencil)),
        Some(_) => desk.perform(Command::Brush(BrushCommand::InvertStencil)),
        None => {}
    }
    let stencil = &mut desk.stencil;
    let about = "How wide the sheet is, in shares of the view's height";
    let row = ValueRow::new("Width", about, StencilInHand::WIDTHS).percent().scale(Scale::Ratio);
    let row = row.spoken("Width of the stencil").usual(StencilInHand::USUAL_WIDTH);
    row.show(ui, &mut stencil.width);
    let mut degrees = stencil.turn.to_degrees();
    let row = ValueRow::new("Turn", "Clockwise", -180.0..=180.0).unit("\u{b0}", 0);
    if row.spoken("Turn of the stencil").usual(0.0).show(ui, &mut degrees).changed() {
        stencil.turn = degrees.to_radians();
    }
    named_row(ui, "Place", |ui| {
        let back = Command::Brush(BrushCommand::PutStencilBack);
        if ui.button("To the middle").on_hover_text(desk.tooltip(back)).clicked() {
            desk.perform(back);
        }
    });
}

/// Sheets of our own.
fn own(ui: &mut Ui, desk: &mut Desk) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = egui::vec2(4.0, 4.0);
        for (stencil, name, about) in OwnStencil::ALL {
            if ui.button(name).on_hover_text(about).clicked()
                && let Some(image) = stencil.image()
            {
                desk.stencil.take(image);
            }
        }
    });
}

/// A field for words, and the button that cuts them into a sheet.
fn words(ui: &mut Ui, desk: &mut Desk) {
    named_row(ui, "Words", |ui| {
        let words = &mut desk.brush_panel.stencil_words;
        let width = (ui.available_width() - 48.0).max(40.0);
        let field = TextEdit::singleline(words)
            .hint_text("Words")
            .align(egui::Align2::LEFT_CENTER)
            .desired_width(width);
        let field = ui.add(field.margin(egui::vec2(8.0, 4.0)));
        let field = field.accessible_name("Words for the stencil");
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        let is_there = !words.trim().is_empty();
        let button =
            ui.add_enabled(is_there, Button::new("Cut").min_size([0.0, theme::ROW].into()));
        let cuts = button.on_hover_text("Cut these words into a sheet").clicked();
        if cuts || (entered && is_there) {
            match lettering(words) {
                Ok(image) => desk.stencil.take(image),
                Err(error) => desk.notices.error(error),
            }
        }
    });
}
