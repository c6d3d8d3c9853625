//! The job's stages in order, what is open, and the way back.

use egui::{Align, Frame, Layout, Margin, Panel, RichText, Ui};
use lucide_icons::Icon;

use crate::commands::{Command, FileCommand, WindowCommand, entry};
use crate::desk::{Desk, Sheet, Stage};
use crate::theme;
use crate::widgets::icon_button;

pub(crate) fn show(ui: &mut Ui, desk: &mut Desk) {
    let colours = theme::colours(ui);
    let frame = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(12, 6));
    Panel::top("stages").frame(frame).exact_size(44.0).show(ui, |ui| {
        ui.horizontal_centered(|ui| {
            for stage in [Stage::Paint, Stage::Export] {
                stage_button(ui, desk, stage);
            }
            let title = RichText::new(&desk.title).font(theme::semibold(13.0)).color(colours.text);
            ui.add_space(24.0);
            ui.label(title);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let buttons = [
                    (
                        Icon::SlidersHorizontal,
                        Command::Window(WindowCommand::Sheet(Sheet::Preferences)),
                    ),
                    (Icon::Keyboard, Command::Window(WindowCommand::Sheet(Sheet::Help))),
                    (Icon::Redo2, Command::File(FileCommand::Redo)),
                    (Icon::Undo2, Command::File(FileCommand::Undo)),
                ];
                for (icon, command) in buttons {
                    command_button(ui, desk, icon, command);
                }
            });
        });
    });
}

/// A button for a command, with its name and tooltip from the table.
fn command_button(ui: &mut Ui, desk: &mut Desk, icon: Icon, command: Command) {
    let name = entry(command).map_or("", |entry| entry.label);
    if icon_button(ui, icon, name, &desk.tooltip(command)).clicked() {
        desk.perform(command);
    }
}

fn stage_button(ui: &mut Ui, desk: &mut Desk, stage: Stage) {
    let colours = theme::colours(ui);
    let command = Command::Window(WindowCommand::Stage(stage));
    let chosen = desk.stage == stage;
    let name = entry(command).map_or("", |entry| entry.label);
    let colour = if chosen { colours.on_accent } else { colours.text_soft };
    let text = RichText::new(name).color(colour);
    let fill = if chosen { colours.accent_deep } else { colours.panel };
    let button = egui::Button::selectable(chosen, text).fill(fill);
    if ui.add(button).on_hover_text(desk.tooltip(command)).clicked() {
        desk.perform(command);
    }
}
