//! Files and the history.

use super::{Command, Entry};
use crate::desk::{Desk, Sheet};
use crate::on_disk::Purpose;

/// Commands on files and the history.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum FileCommand {
    /// The sheet that opens a model.
    Open,
    /// The sheet that asks where the project is to be; in one, the sheet that names a point.
    Keep,
    /// The sheet that names a point to return to.
    NamePoint,
    /// The sheet that asks where a copy to go on in is to be.
    KeepElsewhere,
    /// The sheet that asks where a copy is to be left.
    KeepCopy,
    /// The sheet that asks where a copy without history is to be left.
    Pack,
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
    row(FileCommand::Undo, "undo", "Undo", "Go one edit back", "Ctrl+Z"),
    row(FileCommand::Redo, "redo", "Redo", "Go one edit forward", "Ctrl+Shift+Z"),
    row(FileCommand::Open, "open", "Open", "Open a project or a model: OBJ, glTF or GLB", "Ctrl+O"),
    row(
        FileCommand::Keep,
        "keep",
        "Keep",
        "Name a file that has everything, each edit at once; in a project, name a point to return to",
        "Ctrl+S",
    ),
    row(
        FileCommand::NamePoint,
        "name_point",
        "Name a point",
        "Give the work as it is now a name, to return to from the history",
        "",
    ),
    row(
        FileCommand::KeepElsewhere,
        "keep_elsewhere",
        "Keep in another place",
        "Copy the project to another file and go on in that one",
        "Ctrl+Shift+S",
    ),
    row(
        FileCommand::KeepCopy,
        "keep_copy",
        "Keep a copy",
        "Leave a copy of the project in another file, and go on in this one",
        "",
    ),
    row(
        FileCommand::Pack,
        "pack",
        "Pack",
        "Leave a small copy: the work as it is now, without history and points",
        "",
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
            FileCommand::Keep => self.keep(),
            FileCommand::NamePoint => self.ask_for_point(),
            FileCommand::KeepElsewhere => self.ask_where(Purpose::GoOn),
            FileCommand::KeepCopy => self.ask_where(Purpose::Copy),
            FileCommand::Pack => self.ask_where(Purpose::Pack),
            FileCommand::Export => self.start_export(),
            FileCommand::Undo if self.take_back_in_hand() || self.give_up_beside() => {}
            FileCommand::Undo => {
                self.editor.undo();
                self.settle();
            }
            FileCommand::Redo => {
                self.drop_in_hand();
                self.editor.redo();
                self.settle();
            }
            FileCommand::Close => self.close(),
        }
    }
}
