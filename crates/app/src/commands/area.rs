//! What is in the hand, and what is selected.

use document::SelectEdit;

use super::{Command, Entry};
use crate::desk::Desk;
use crate::does::Does;
use crate::tool::Tool;

/// Commands on tools and on the selection.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum AreaCommand {
    /// Takes a tool in hand.
    Hold(Tool),
    /// Everything may be painted.
    SelectEverything,
    /// What was not selected is.
    Invert,
    /// More of it.
    Grow,
    /// Less of it.
    Shrink,
    /// Soft edges.
    Soften,
    /// Paints all that is selected.
    FillSelected,
    /// Fills it with the mirror image of what lies across a plane.
    CopyAcross,
    /// The same, and takes that away there.
    MoveAcross,
    /// The selection is seen, or not.
    ToggleSeen,
}

const fn row(
    command: AreaCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::Area(command), key, label, about, shortcut)
}

pub(super) const TABLE: &[Entry] = &[
    row(AreaCommand::Hold(Tool::Brush), "hold_brush", "Take the brush", "Paint with strokes", "B"),
    row(
        AreaCommand::Hold(Tool::Select),
        "hold_select",
        "Select an area",
        "Say by clicks or a lasso what may be painted",
        "A",
    ),
    row(
        AreaCommand::Hold(Tool::Fill),
        "hold_fill",
        "Fill an area",
        "Paint all of what you click, or all that is selected",
        "T",
    ),
    row(
        AreaCommand::Hold(Tool::Gradient),
        "hold_gradient",
        "Lay a gradient",
        "Paint from full to nothing along a drag",
        "G",
    ),
    row(
        AreaCommand::SelectEverything,
        "select_everything",
        "Everything",
        "Give the selection up: all may be painted",
        "Ctrl+A",
    ),
    row(AreaCommand::Invert, "invert_selection", "Invert", "Select what is not selected", "Ctrl+I"),
    row(
        AreaCommand::Grow,
        "grow_selection",
        "Grow",
        "Select more all around, across seams too",
        "Alt+G",
    ),
    row(AreaCommand::Shrink, "shrink_selection", "Shrink", "Select less all around", "Alt+Shift+G"),
    row(
        AreaCommand::Soften,
        "soften_selection",
        "Soften",
        "Let the selection's edge fade out",
        "Alt+T",
    ),
    row(
        AreaCommand::FillSelected,
        "fill_selected",
        "Fill it",
        "Paint all that is selected, with the brush's values and opacity",
        "Alt+Backspace",
    ),
    row(
        AreaCommand::CopyAcross,
        "copy_across",
        "Copy across",
        "Fill the selection with the mirror image of what the layer has across the plane",
        "",
    ),
    row(
        AreaCommand::MoveAcross,
        "move_across",
        "Move across",
        "Do the same, and take it away where it was",
        "",
    ),
    row(
        AreaCommand::ToggleSeen,
        "see_selection",
        "Show the selection",
        "Dim what is not selected, or show all as it is",
        "Alt+H",
    ),
];

impl Desk {
    pub(super) fn perform_area(&mut self, command: AreaCommand) {
        let grown = |desk: &Self, sign| SelectEdit::Grow(sign * desk.tool.grows_by.round() as i32);
        match command {
            AreaCommand::Hold(tool) => {
                self.tool.tool = tool;
                if tool != Tool::Brush && self.brush.does.moves_paint() {
                    self.brush.does = Does::Paint;
                }
            }
            AreaCommand::SelectEverything => {
                if self.material().is_some_and(|material| material.selection.is_some()) {
                    self.select(SelectEdit::Everything);
                }
            }
            AreaCommand::Invert => self.select(SelectEdit::Invert),
            AreaCommand::Grow => self.select(grown(self, 1)),
            AreaCommand::Shrink => self.select(grown(self, -1)),
            AreaCommand::Soften => {
                self.select(SelectEdit::Soften(self.tool.softens_by.round() as u32));
            }
            AreaCommand::FillSelected => self.fill_selected(),
            AreaCommand::CopyAcross => self.fetch_across(false),
            AreaCommand::MoveAcross => self.fetch_across(true),
            AreaCommand::ToggleSeen => {
                self.tool.is_selection_seen = !self.tool.is_selection_seen;
            }
        }
    }
}
