//! What the views show, and from where.

use viewport::Shown;

use super::{Command, Entry};
use crate::desk::Desk;

/// Commands on the views.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum ViewCommand {
    /// Show this.
    Show(Shown),
    /// Edges over it, or not.
    ToggleWire,
}

const fn row(
    command: ViewCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::View(command), key, label, about, shortcut)
}

pub(super) const TABLE: &[Entry] = &[
    row(ViewCommand::Show(Shown::Lit), "show_lit", "Lit", "Show the material under light", "1"),
    row(
        ViewCommand::Show(Shown::Colour),
        "show_colour",
        "Colour",
        "Show base colour alone, unlit",
        "2",
    ),
    row(
        ViewCommand::Show(Shown::Roughness),
        "show_roughness",
        "Roughness",
        "Show roughness alone, unlit: white is rough",
        "3",
    ),
    row(
        ViewCommand::Show(Shown::Metalness),
        "show_metal",
        "Metal",
        "Show metalness alone, unlit: white is metal",
        "4",
    ),
    row(
        ViewCommand::Show(Shown::Checker),
        "show_checker",
        "Checker",
        "Show squares of 64 texels: stretch and density",
        "5",
    ),
    row(
        ViewCommand::Show(Shown::Islands),
        "show_islands",
        "Islands",
        "Show each UV island in a colour of its own",
        "6",
    ),
    row(ViewCommand::Show(Shown::Mask), "show_mask", "Mask", "Show the chosen layer's mask", "7"),
    row(ViewCommand::ToggleWire, "wire", "Wire", "Show the edges of the polygons", "8"),
];

impl Desk {
    pub(super) fn perform_view(&mut self, command: ViewCommand) {
        match command {
            ViewCommand::Show(shown) => self.model_view.shown = shown,
            ViewCommand::ToggleWire => self.model_view.wire = !self.model_view.wire,
        }
    }
}
