//! The brush and its values.

use super::{Command, Entry};
use crate::desk::Desk;

/// Commands on the brush.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum BrushCommand {
    /// A larger brush.
    Larger,
    /// A smaller brush.
    Smaller,
    /// Erase instead of paint, or paint again.
    ToggleErase,
}

const fn row(
    command: BrushCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::Brush(command), key, label, about, shortcut)
}

pub(super) const TABLE: &[Entry] = &[
    row(BrushCommand::Larger, "brush_larger", "Larger brush", "Make the brush a tenth larger", "]"),
    row(
        BrushCommand::Smaller,
        "brush_smaller",
        "Smaller brush",
        "Make the brush a tenth smaller",
        "[",
    ),
    row(BrushCommand::ToggleErase, "erase", "Erase", "Take paint off, or paint again", "E")
        .left("U"),
];

impl Desk {
    pub(super) fn perform_brush(&mut self, command: BrushCommand) {
        match command {
            BrushCommand::Larger => self.brush.scale(1.1),
            BrushCommand::Smaller => self.brush.scale(1.0 / 1.1),
            BrushCommand::ToggleErase => self.brush.erases = !self.brush.erases,
        }
    }
}
