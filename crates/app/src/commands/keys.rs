//! Which keys do what: the table's, changed by the preferences.

use std::collections::BTreeMap;

use egui::{Key, KeyboardShortcut, Modifiers, Ui};

use super::{Command, entries};
use crate::preferences::{Handed, Preferences};

/// Keys as they are typed, "Ctrl+Shift+Z"; none where a name is unknown or there is no key.
pub(crate) fn parse(text: &str) -> Option<KeyboardShortcut> {
    let mut modifiers = Modifiers::NONE;
    let mut words: Vec<&str> = text.split('+').map(str::trim).collect();
    let last = words.pop()?;
    for word in words {
        modifiers |= match word {
            "Ctrl" => Modifiers::COMMAND,
            "Shift" => Modifiers::SHIFT,
            "Alt" => Modifiers::ALT,
            _ => return None,
        };
    }
    Some(KeyboardShortcut::new(modifiers, Key::from_name(last)?))
}

/// A shortcut as it is shown and typed.
pub(crate) fn shortcut_text(shortcut: KeyboardShortcut) -> String {
    let modifiers = [
        (shortcut.modifiers.command || shortcut.modifiers.ctrl, "Ctrl+"),
        (shortcut.modifiers.shift, "Shift+"),
        (shortcut.modifiers.alt, "Alt+"),
    ];
    let held: String = modifiers.iter().filter(|(held, _)| *held).map(|(_, name)| *name).collect();
    // Signs for arrows are in few fonts.
    let key = match shortcut.logical_key {
        Key::ArrowUp | Key::ArrowDown | Key::ArrowLeft | Key::ArrowRight => {
            shortcut.logical_key.name()
        }
        other => other.symbol_or_name(),
    };
    held + key
}

/// Keys that do nothing in a field that is typed into, and so may be a command's meanwhile.
fn is_no_typing(shortcut: KeyboardShortcut) -> bool {
    use Key::{
        A, ArrowDown, ArrowLeft, ArrowRight, ArrowUp, Backspace, C, Delete, End, H, Home, K, U, V,
        W, X, Y, Z,
    };
    let edits = [
        A, ArrowDown, ArrowLeft, ArrowRight, ArrowUp, Backspace, C, Delete, End, H, Home, K, U, V,
        W, X, Y, Z,
    ];
    let is_function_key =
        shortcut.logical_key.name().starts_with('F') && shortcut.logical_key != Key::F;
    (shortcut.modifiers.command && !edits.contains(&shortcut.logical_key)) || is_function_key
}

/// The keys that are in force.
#[derive(Debug, Default)]
pub(crate) struct Bindings(Vec<(KeyboardShortcut, Command)>);

impl Bindings {
    /// The table's keys for this hand, with what the preferences say instead. Gives a line for each of those
    /// that can't be read.
    pub(crate) fn of(preferences: &Preferences) -> (Self, Vec<String>) {
        let hand = usize::from(preferences.handed == Handed::Left);
        let own: &BTreeMap<String, String> = &preferences.keys;
        let mut faults = Vec::new();
        let mut bindings = Vec::new();
        for entry in entries() {
            let text = own.get(entry.key).map_or(entry.shortcuts[hand], String::as_str);
            if text.is_empty() {
                continue;
            }
            match parse(text) {
                Some(shortcut) => {
                    bindings.push((shortcut, entry.command));
                    // On most keyboards a plus is typed by the key of the equals sign.
                    if shortcut.logical_key == Key::Plus {
                        let other = KeyboardShortcut::new(shortcut.modifiers, Key::Equals);
                        bindings.push((other, entry.command));
                    }
                }
                None => faults.push(format!(
                    "the keys \"{text}\" for {} are unknown: write them as in Ctrl+Shift+Z",
                    entry.key
                )),
            }
        }
        for unknown in own.keys().filter(|key| entries().all(|entry| entry.key != **key)) {
            faults.push(format!("the preferences name keys for {unknown}, which is no command"));
        }
        // More keys held down first: Ctrl+Shift+Z must not be taken for Ctrl+Z.
        let held = |shortcut: &KeyboardShortcut| {
            let modifiers = shortcut.modifiers;
            u8::from(modifiers.shift) + u8::from(modifiers.alt) + u8::from(modifiers.command)
        };
        bindings.sort_by_key(|(shortcut, _)| std::cmp::Reverse(held(shortcut)));
        (Self(bindings), faults)
    }

    /// A command's keys as they are shown.
    pub(crate) fn text(&self, command: Command) -> Option<String> {
        let found = self.0.iter().find(|(_, bound)| *bound == command);
        found.map(|(shortcut, _)| shortcut_text(*shortcut))
    }

    /// The command that has these keys, as they are shown.
    pub(crate) fn holder(&self, text: &str) -> Option<Command> {
        let found = self.0.iter().find(|(shortcut, _)| shortcut_text(*shortcut) == text);
        found.map(|(_, command)| *command)
    }

    /// Whether a command's key is held down, whatever else is: for what lasts as long as it is.
    pub(crate) fn is_held(&self, ui: &Ui, command: Command) -> bool {
        let bound = self.0.iter().filter(|(_, bound)| *bound == command);
        let mut keys = bound.map(|(shortcut, _)| shortcut.logical_key);
        !ui.ctx().text_edit_focused() && ui.input(|input| keys.any(|key| input.key_down(key)))
    }

    /// Commands whose keys are used more than once.
    #[cfg(test)]
    pub(crate) fn clashes(&self) -> Vec<String> {
        let mut seen = BTreeMap::new();
        let mut clashes = Vec::new();
        for (shortcut, command) in &self.0 {
            if let Some(other) = seen.insert(shortcut_text(*shortcut), command) {
                clashes.push(format!("{}: {command:?} and {other:?}", shortcut_text(*shortcut)));
            }
        }
        clashes
    }

    /// The commands whose keys were pressed in this frame, each as often as they were: a slow frame may have
    /// several. Keys typed into a field are the field's.
    pub(crate) fn pressed(&self, ui: &Ui) -> Vec<Command> {
        let typing = ui.ctx().text_edit_focused();
        ui.input_mut(|input| {
            let pressed = self.0.iter().flat_map(|(shortcut, command)| {
                let KeyboardShortcut { modifiers, logical_key } = *shortcut;
                let is_ours = !typing || is_no_typing(*shortcut);
                let times =
                    if is_ours { input.count_and_consume_key(modifiers, logical_key) } else { 0 };
                std::iter::repeat_n(*command, times)
            });
            pressed.collect()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_keys_do_two_things_with_either_hand() {
        for handed in [Handed::Right, Handed::Left] {
            let preferences = Preferences { handed, ..Preferences::default() };
            let (bindings, faults) = Bindings::of(&preferences);
            assert_eq!(faults, [""; 0]);
            assert_eq!(bindings.clashes(), [""; 0]);
        }
    }

    #[test]
    fn keys_of_ones_own_take_the_place_of_the_tables() {
        let mut preferences = Preferences::default();
        preferences.keys.insert("undo".to_owned(), "Ctrl+Shift+U".to_owned());
        preferences.keys.insert("redo".to_owned(), "Hyper+Q".to_owned());
        preferences.keys.insert("sing".to_owned(), "Q".to_owned());
        let (bindings, faults) = Bindings::of(&preferences);
        let undo = Command::File(crate::commands::FileCommand::Undo);
        assert_eq!(bindings.text(undo).as_deref(), Some("Ctrl+Shift+U"));
        assert_eq!(faults.len(), 2, "{faults:?}");
    }
}
