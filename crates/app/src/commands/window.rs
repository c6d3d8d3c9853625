//! Panels, sheets and stages.

use super::{Command, Entry};
use crate::desk::{Desk, Sheet, Stage};

/// Commands on the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum WindowCommand {
    /// Go to a stage.
    Stage(Stage),
    /// Open or close a sheet.
    Sheet(Sheet),
}

const fn row(
    command: WindowCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::Window(command), key, label, about, shortcut)
}

pub(super) const TABLE: &[Entry] = &[
    row(WindowCommand::Stage(Stage::Paint), "stage_paint", "Paint", "Go to painting", "Ctrl+1"),
    row(
        WindowCommand::Stage(Stage::Export),
        "stage_export",
        "Export",
        "Go to writing maps and models",
        "Ctrl+2",
    ),
    row(WindowCommand::Sheet(Sheet::Help), "help", "Help", "Show all keys and gestures", "F1"),
    row(
        WindowCommand::Sheet(Sheet::Preferences),
        "preferences",
        "Preferences",
        "Theme, size, pen, keys, memory",
        "Ctrl+Comma",
    ),
];

impl Desk {
    pub(super) fn perform_window(&mut self, command: WindowCommand) {
        match command {
            WindowCommand::Stage(stage) => self.stage = stage,
            WindowCommand::Sheet(sheet) => {
                self.sheet = if self.sheet == Some(sheet) { None } else { Some(sheet) };
            }
        }
    }
}
