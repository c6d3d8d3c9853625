//! The palette: colours to paint with, kept for good.

use egui::{Key, Modifiers, TextEdit, Ui, vec2};
use layers::Value;
use lucide_icons::Icon;

use super::brush::{command_button, titled};
use crate::colour::hex_text;
use crate::commands::{BrushCommand, Command};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{choosable_swatch, icon_button, icon_toggle, remark};

const EDGE: f32 = 24.0;

/// What is done with the palette's colours in a frame.
enum Wish {
    Take(usize),
    Move(usize, usize),
    Remove(usize),
}

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    titled(ui, "Palette", |ui| {
        let editing = desk.brush_panel.editing_palette;
        let tip = "Name, move and remove colours";
        if icon_toggle(ui, Icon::Pencil, "Change the palette", tip, editing).clicked() {
            desk.brush_panel.editing_palette = !editing;
        }
        command_button(ui, desk, Icon::Plus, Command::Brush(BrushCommand::KeepColour));
    });
    if desk.preferences.palette.0.is_empty() {
        remark(ui, "No colours are kept yet. Mix one, then add it with the plus above.");
        return;
    }
    let kept = desk.brush_panel.kept.filter(|index| *index < desk.preferences.palette.0.len());
    desk.brush_panel.kept = kept;
    let wish = swatches(ui, desk);
    if desk.brush_panel.editing_palette {
        change(ui, desk);
    }
    if let Some(wish) = wish {
        perform(desk, &wish);
    }
}

fn perform(desk: &mut Desk, wish: &Wish) {
    let palette = &mut desk.preferences.palette;
    match *wish {
        Wish::Take(index) => {
            if let Some(kept) = palette.0.get(index) {
                desk.brush.set_colour(kept.colour);
                desk.brush_panel.kept = Some(index);
            }
        }
        Wish::Move(from, to) => desk.brush_panel.kept = Some(palette.move_to(from, to)),
        Wish::Remove(index) => {
            palette.remove(index);
            let last = palette.0.len().checked_sub(1);
            desk.brush_panel.kept = last.map(|last| index.min(last));
        }
    }
}

/// Dragged from here.
#[derive(Clone, Copy)]
struct Dragged(usize);

fn swatches(ui: &mut Ui, desk: &Desk) -> Option<Wish> {
    let mut wish = None;
    let editing = desk.brush_panel.editing_palette;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(4.0, 4.0);
        for (index, kept) in desk.preferences.palette.0.iter().enumerate() {
            let code = hex_text(kept.colour);
            let name = if kept.name.is_empty() { code.clone() } else { kept.name.clone() };
            let chosen = editing && desk.brush_panel.kept == Some(index);
            let value = Value::Colour(kept.colour);
            let patch = choosable_swatch(ui, value, theme::square(EDGE), &name, chosen);
            patch.dnd_set_drag_payload(Dragged(index));
            if let Some(from) = patch.dnd_release_payload::<Dragged>() {
                wish = Some(Wish::Move(from.0, index));
            }
            if patch.has_focus() {
                wish = by_key(ui, index).or(wish.take());
            }
            let tip = if kept.name.is_empty() { code } else { format!("{name}  {code}") };
            if patch.on_hover_text(tip).clicked() {
                wish = Some(Wish::Take(index));
            }
        }
    });
    wish
}

/// With the focus: Delete takes a colour out, Alt and an arrow moves it.
fn by_key(ui: &Ui, index: usize) -> Option<Wish> {
    ui.input_mut(|input| {
        if input.consume_key(Modifiers::ALT, Key::ArrowLeft) {
            Some(Wish::Move(index, index.saturating_sub(1)))
        } else if input.consume_key(Modifiers::ALT, Key::ArrowRight) {
            Some(Wish::Move(index, index + 1))
        } else {
            input.consume_key(Modifiers::NONE, Key::Delete).then_some(Wish::Remove(index))
        }
    })
}

/// Name, place and end of the chosen colour.
fn change(ui: &mut Ui, desk: &mut Desk) {
    let Some(index) = desk.brush_panel.kept else {
        remark(ui, "Click a colour to name, move or remove it. Colours can be dragged, too.");
        return;
    };
    let last = desk.preferences.palette.0.len() - 1;
    let mut wish = None;
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 0.0;
        let buttons = 3.0 * theme::ROW + 4.0;
        let Some(kept) = desk.preferences.palette.0.get_mut(index) else { return };
        let field = TextEdit::singleline(&mut kept.name)
            .hint_text("Name")
            .char_limit(40)
            .margin(vec2(8.0, 4.0))
            .desired_width((ui.available_width() - buttons - 16.0).max(40.0));
        ui.add(field).accessible_name("Name of the colour");
        ui.add_space(4.0);
        ui.add_enabled_ui(index > 0, |ui| {
            if icon_button(ui, Icon::ChevronLeft, "Move left", "One place to the left").clicked() {
                wish = Some(Wish::Move(index, index - 1));
            }
        });
        ui.add_enabled_ui(index < last, |ui| {
            if icon_button(ui, Icon::ChevronRight, "Move right", "One place to the right").clicked()
            {
                wish = Some(Wish::Move(index, index + 1));
            }
        });
        let tip = "Take this colour out of the palette";
        if icon_button(ui, Icon::Trash2, "Remove colour", tip).clicked() {
            wish = Some(Wish::Remove(index));
        }
    });
    if let Some(wish) = wish {
        perform(desk, &wish);
    }
}
