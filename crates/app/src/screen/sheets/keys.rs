//! Every command with its keys, which can be others: click, press, done. A clash is told, not made.

use egui::{Context, Event, Key, KeyboardShortcut, RichText, Ui, vec2};

use crate::commands::{Command, Entry, TABLE, entry, shortcut_text};
use crate::desk::{Desk, Rebinding};
use crate::theme;
use crate::widgets::{heading, remark};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    take_keys(ui.ctx(), desk);
    heading(ui, "Keys");
    remark(
        ui,
        "Click a command's keys, then press others. Backspace leaves it without keys, Escape as it is.",
    );
    for (name, entries) in TABLE {
        ui.collapsing(name, |ui| {
            for entry in entries {
                row(ui, desk, entry);
            }
        });
    }
}

fn row(ui: &mut Ui, desk: &mut Desk, entry: &Entry) {
    let colours = theme::colours(ui);
    let is_own = desk.preferences.keys.contains_key(entry.key);
    let waits = desk.rebinding.as_ref().filter(|waits| waits.command == entry.command);
    let (waits, clash) = (waits.is_some(), waits.and_then(|waits| waits.clash.clone()));
    ui.horizontal(|ui| {
        ui.set_min_height(theme::ROW);
        let width = (ui.available_width() - 260.0).max(120.0);
        let label = RichText::new(entry.label).color(colours.text);
        ui.allocate_ui(vec2(width, theme::ROW), |ui| {
            ui.set_width(width);
            ui.label(label).on_hover_text(entry.about);
        });
        let text = match (waits, desk.bindings.text(entry.command)) {
            (true, _) => "Press keys".to_owned(),
            (false, Some(keys)) => keys,
            (false, None) => "none".to_owned(),
        };
        let button = ui.add_sized([150.0, theme::ROW - 2.0], egui::Button::new(text));
        let button = button.accessible_name(format!("Keys for {}", entry.label));
        if button.on_hover_text("Click, then press other keys").clicked() {
            desk.rebinding = Some(Rebinding { command: entry.command, clash: None });
        }
        if is_own && ui.small_button("Back").on_hover_text("The keys it had at first").clicked() {
            desk.preferences.keys.remove(entry.key);
            desk.rebind();
        }
    });
    if let Some(clash) = clash {
        ui.label(RichText::new(clash).color(colours.error));
    }
}

/// Takes the keys that are waited for.
fn take_keys(context: &Context, desk: &mut Desk) {
    let Some(Rebinding { command, .. }) = desk.rebinding else { return };
    let pressed = context.input_mut(|input| {
        let at = input
            .events
            .iter()
            .position(|event| matches!(event, Event::Key { pressed: true, repeat: false, .. }))?;
        match input.events.remove(at) {
            Event::Key { key, modifiers, .. } => Some(KeyboardShortcut::new(modifiers, key)),
            _ => None,
        }
    });
    let Some(pressed) = pressed else { return };
    let Some(row) = entry(command) else { return };
    match pressed.logical_key {
        Key::Escape => desk.rebinding = None,
        Key::Backspace | Key::Delete if pressed.modifiers.is_none() => {
            desk.preferences.keys.insert(row.key.to_owned(), String::new());
            desk.rebinding = None;
            desk.rebind();
        }
        _ => bind(desk, command, row.key, pressed),
    }
}

fn bind(desk: &mut Desk, command: Command, key: &str, pressed: KeyboardShortcut) {
    let text = shortcut_text(pressed);
    let holder = desk.bindings.holder(&text).filter(|holder| *holder != command);
    if let Some(holder) = holder.and_then(entry) {
        let clash = format!("{text} is for {}: press others, or free it there first", holder.label);
        desk.rebinding = Some(Rebinding { command, clash: Some(clash) });
        return;
    }
    desk.preferences.keys.insert(key.to_owned(), text);
    desk.rebinding = None;
    desk.rebind();
}
