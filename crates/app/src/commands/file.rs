//! Files and the history.

use super::{Command, Entry};
use crate::desk::{Desk, Sheet};

/// Commands on files and the history.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum FileCommand {
    /// The sheet that opens a model.
    Open,
    /// The sheet that asks where the project is to be.
    Keep,
    /// The demo.
    OpenDemo,
    /// Write what the export stage says.
    Export,
    /// One edit back; a stroke that goes on is taken back.
    Undo,
    /// One edit forward.
    Redo,
    /// Close the window.
    Close,
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
    row(FileCommand::Open, "open", "Open", "Open a project or a model: OBJ, glTF or GLB", "Ctrl+O"),
    row(
        FileCommand::Keep,
        "keep",
        "Keep as a project",
        "Name a file that has everything, each edit at once",
        "Ctrl+S",
    ),
    row(
        FileCommand::OpenDemo,
        "open_demo",
        "Open the harbour bell",
        "Open the painted bell, to try things out",
        "",
    ),
    row(
        FileCommand::Export,
        "export",
        "Export files",
        "Write the files that the export stage names",
        "Ctrl+E",
    ),
    row(FileCommand::Undo, "undo", "Undo", "Go one edit back", "Ctrl+Z"),
    row(FileCommand::Redo, "redo", "Redo", "Go one edit forward", "Ctrl+Shift+Z"),
    row(FileCommand::Close, "close", "Quit", "Close the window", "Ctrl+Q"),
];

impl Desk {
    pub(super) fn perform_file(&mut self, command: FileCommand) {
        match command {
            FileCommand::Open => {
                self.sheet = if self.sheet == Some(Sheet::Open) { None } else { Some(Sheet::Open) };
            }
            FileCommand::OpenDemo => {
                if let Some(demo) = self.demo {
                    self.open_demo(demo);
                }
            }
            FileCommand::Keep => self.ask_where_to_keep(),
            FileCommand::Export => self.start_export(),
            FileCommand::Undo => {
                self.editor.undo();
                self.settle();
            }
            FileCommand::Redo => {
                self.editor.redo();
                self.settle();
            }
            FileCommand::Close => self.close(),
        }
    }
}
