//! Everything that can be done by a key, a button or a menu, in one table: the help sheet and all tooltips are made
//! from it.
//!
//! A command is of an area; each area has a file with its commands, its part of the table and what they do.

mod area;
mod brush;
mod file;
mod keys;
mod layer;
mod light;
mod view;
mod window;

pub(crate) use area::AreaCommand;
pub(crate) use brush::BrushCommand;
pub(crate) use file::FileCommand;
pub(crate) use keys::{Bindings, shortcut_text};
pub(crate) use layer::LayerCommand;
pub(crate) use light::LightCommand;
pub(crate) use view::{ViewCommand, Way};
pub(crate) use window::WindowCommand;

use crate::desk::Desk;

/// One thing to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Command {
    /// Files and the history.
    File(FileCommand),
    /// The brush and its values.
    Brush(BrushCommand),
    /// Other tools, and what is selected.
    Area(AreaCommand),
    /// Layers and cells.
    Layer(LayerCommand),
    /// What the views show and from where.
    View(ViewCommand),
    /// The light.
    Light(LightCommand),
    /// Panels, sheets, stages.
    Window(WindowCommand),
}

/// A row of the table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Entry {
    /// What it does.
    pub(crate) command: Command,
    /// Its name in the preferences: lower case, words joined by an underscore.
    pub(crate) key: &'static str,
    /// Its name on screen.
    pub(crate) label: &'static str,
    /// What it does, in one sentence.
    pub(crate) about: &'static str,
    /// The keys for a pen in the right hand, and in the left; empty for none.
    pub(crate) shortcuts: [&'static str; 2],
}

impl Entry {
    /// A row whose keys are the same for both hands.
    const fn new(
        command: Command,
        key: &'static str,
        label: &'static str,
        about: &'static str,
        shortcut: &'static str,
    ) -> Self {
        Self { command, key, label, about, shortcuts: [shortcut; 2] }
    }

    /// A row with other keys where the pen is in the left hand.
    const fn left(self, shortcut: &'static str) -> Self {
        Self { shortcuts: [self.shortcuts[0], shortcut], ..self }
    }
}

/// The areas of the table, with their headings.
pub(crate) const TABLE: [(&str, &[Entry]); 7] = [
    ("Files and history", file::TABLE),
    ("Brush", brush::TABLE),
    ("Select and fill", area::TABLE),
    ("Layers", layer::TABLE),
    ("Views", view::TABLE),
    ("Light", light::TABLE),
    ("Window", window::TABLE),
];

/// All rows.
pub(crate) fn entries() -> impl Iterator<Item = &'static Entry> {
    TABLE.iter().flat_map(|(_, entries)| entries.iter())
}

/// A command's row.
pub(crate) fn entry(command: Command) -> Option<&'static Entry> {
    entries().find(|entry| entry.command == command)
}

impl Desk {
    /// Does it. What can't be done now says why in the notices.
    pub(crate) fn perform(&mut self, command: Command) {
        match command {
            Command::File(command) => self.perform_file(command),
            Command::Brush(command) => self.perform_brush(command),
            Command::Area(command) => self.perform_area(command),
            Command::Layer(command) => self.perform_layer(command),
            Command::View(command) => self.perform_view(command),
            Command::Light(command) => self.perform_light(command),
            Command::Window(command) => self.perform_window(command),
        }
    }

    /// A tooltip for a control that does a command: what it does, and its keys.
    pub(crate) fn tooltip(&self, command: Command) -> String {
        let about = entry(command).map_or("", |entry| entry.about);
        match self.bindings.text(command) {
            Some(keys) => format!("{about}  ({keys})"),
            None => about.to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_row_has_a_key_and_a_label_of_its_own() {
        let keys: BTreeSet<&str> = entries().map(|entry| entry.key).collect();
        let labels: BTreeSet<&str> = entries().map(|entry| entry.label).collect();
        assert_eq!(keys.len(), entries().count());
        assert_eq!(labels.len(), entries().count());
    }
}
