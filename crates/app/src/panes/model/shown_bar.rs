//! What the model view shows: a bar over it, as much of it as there is room for; the rest in a menu.

use egui::{Button, FontId, Frame, Margin, Rect, RichText, Ui, UiBuilder, pos2, vec2};
use lucide_icons::Icon;
use viewport::Shown;

use super::camera_menu;
use crate::commands::{Command, ViewCommand, entry};
use crate::desk::Desk;
use crate::theme;
use crate::widgets::{icon_text, segments};

/// In the order in which they are offered: the last go into the menu first.
const SHOWN: [Shown; 7] = [
    Shown::Lit,
    Shown::Colour,
    Shown::Roughness,
    Shown::Metalness,
    Shown::Checker,
    Shown::Islands,
    Shown::Mask,
];

/// Width of a menu's rows.
pub(super) const MENU_WIDTH: f32 = 220.0;

/// Room for the two menus and the switch for edges.
const OTHERS: f32 = 180.0;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, view: Rect) {
    let room = Rect::from_min_max(
        view.min + vec2(12.0, 12.0),
        pos2(view.right() - 12.0, view.top() + 44.0),
    );
    ui.scope_builder(UiBuilder::new().max_rect(room), |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0;
            let fitting = fitting(ui, room.width() - OTHERS);
            switch(ui, desk, &SHOWN[..fitting]);
            on_well(ui, |ui| {
                if fitting < SHOWN.len() {
                    more(ui, desk, &SHOWN[fitting..]);
                }
                wire(ui, desk);
                camera_menu::show(ui, desk);
            });
        });
    });
}

fn label(shown: Shown) -> &'static str {
    entry(Command::View(ViewCommand::Show(shown))).map_or("", |row| row.label)
}

/// How many of the choices fit side by side.
fn fitting(ui: &Ui, room: f32) -> usize {
    let mut width = 4.0;
    SHOWN
        .iter()
        .take_while(|shown| {
            let text = label(**shown).to_owned();
            let font = FontId::proportional(13.0);
            let colour = theme::colours(ui).text;
            width += ui.painter().layout_no_wrap(text, font, colour).size().x + 22.0;
            width <= room
        })
        .count()
}

fn switch(ui: &mut Ui, desk: &mut Desk, choices: &[Shown]) {
    if choices.is_empty() {
        return;
    }
    let tips: Vec<String> = choices
        .iter()
        .map(|shown| desk.tooltip(Command::View(ViewCommand::Show(*shown))))
        .collect();
    let rows: Vec<(Shown, &str, &str)> = choices
        .iter()
        .zip(&tips)
        .map(|(shown, tip)| (*shown, label(*shown), tip.as_str()))
        .collect();
    if let Some(chosen) = segments(ui, &rows, |shown| shown == desk.model_view.shown) {
        desk.perform(Command::View(ViewCommand::Show(chosen)));
    }
}

/// What stands on the same ground as the switch beside it.
fn on_well(ui: &mut Ui, contents: impl FnOnce(&mut Ui)) {
    let colours = theme::colours(ui);
    let frame =
        Frame::new().fill(colours.well).corner_radius(theme::RADIUS).inner_margin(Margin::same(2));
    frame.show(ui, |ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        ui.spacing_mut().interact_size.y = theme::ROW - 4.0;
        ui.spacing_mut().button_padding = vec2(10.0, 2.0);
        let widgets = &mut ui.visuals_mut().widgets;
        widgets.inactive.weak_bg_fill = colours.well;
        widgets.hovered.weak_bg_fill = colours.raised;
        widgets.inactive.fg_stroke.color = colours.text_soft;
        ui.horizontal(contents);
    });
}

fn more(ui: &mut Ui, desk: &mut Desk, choices: &[Shown]) {
    let shown = desk.model_view.shown;
    let name = if choices.contains(&shown) { label(shown) } else { "More" };
    let text = RichText::new(name);
    let arrow = icon_text(Icon::ChevronDown, 12.0);
    let menu = ui.menu_button((text, arrow), |ui| {
        ui.set_max_width(MENU_WIDTH);
        for &choice in choices {
            command_row(ui, desk, Command::View(ViewCommand::Show(choice)), Some(choice == shown));
        }
    });
    menu.response.on_hover_text("What else the view can show");
}

fn wire(ui: &mut Ui, desk: &mut Desk) {
    let command = Command::View(ViewCommand::ToggleWire);
    let name = entry(command).map_or("", |row| row.label);
    let button = Button::selectable(desk.model_view.wire, name);
    if ui.add(button).on_hover_text(desk.tooltip(command)).clicked() {
        desk.perform(command);
    }
}

/// A row of a menu for a command; marked where it is something that is on or off.
pub(super) fn command_row(ui: &mut Ui, desk: &mut Desk, command: Command, on: Option<bool>) {
    let Some(row) = entry(command) else { return };
    let keys = desk.bindings.text(command).unwrap_or_default();
    let button = Button::selectable(on.unwrap_or(false), row.label).shortcut_text(keys);
    let width = vec2(MENU_WIDTH, theme::ROW);
    if ui.add(button.min_size(width)).on_hover_text(row.about).clicked() {
        desk.perform(command);
        ui.close();
    }
}
