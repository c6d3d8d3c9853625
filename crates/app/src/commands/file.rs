//! Files and the history.

use super::{Command, Entry};
use crate::desk::Desk;

/// Commands on files and the history.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum FileCommand {
    /// One edit back; a stroke that goes on is taken back.
    Undo,
    /// One edit forward.
    Redo,
}

const fn row(
    command: FileCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::File(command), key, label, about, shortcut)
}

pub(super) const TABLE: &[Entry] = &[
    row(FileCommand::Undo, "undo", "Undo", "Go one edit back", "Ctrl+Z"),
    row(FileCommand::Redo, "redo", "Redo", "Go one edit forward", "Ctrl+Shift+Z"),
];

impl Desk {
    pub(super) fn perform_file(&mut self, command: FileCommand) {
        match command {
            FileCommand::Undo => {
                self.editor.undo();
            }
            FileCommand::Redo => {
                self.editor.redo();
            }
        }
        self.settle();
    }
}
