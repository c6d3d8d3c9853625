//! What the views show, and from where.

use viewport::Shown;
use viewport::navigation::AxisView;

use super::{Command, Entry};
use crate::desk::Desk;

/// Commands on the views.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum ViewCommand {
    /// Show this.
    Show(Shown),
    /// Edges over it, or not.
    ToggleWire,
    /// A drag turns the view as long as the key is held.
    HoldToTurn,
    /// All that is not hidden fills the view.
    FrameAll,
    /// The part under the pointer fills the view.
    FramePart,
    /// Look along an axis.
    Along(AxisView),
    /// With perspective, or without.
    ToggleOrthographic,
    /// Left and right are swapped, or not.
    ToggleMirror,
    /// By a step: to the left or right, up or down.
    Turn(Way),
    /// By a step, about the middle.
    RollLeft,
    /// By a step, about the middle.
    RollRight,
    /// No roll any more.
    Upright,
    /// A step closer.
    Closer,
    /// A step farther.
    Farther,
    /// Keep the view.
    SaveView,
    /// The next of those that were kept.
    NextView,
    /// All of the texture fills the flat view.
    FlatFrame,
    /// A texel is a pixel.
    FlatActual,
    /// The islands' outlines, or not.
    ToggleOutlines,
    /// The flat view goes where the pointer is on the model, or not.
    ToggleFollow,
    /// Hide the part under the pointer.
    HideUnder,
    /// Hide all others, or show them again.
    IsolateUnder,
    /// No part is hidden.
    ShowAll,
    /// Lock the part under the pointer, or unlock it.
    LockUnder,
    /// Paint the material under the pointer.
    ChooseUnder,
}

/// A way to turn the view.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Way {
    /// The model turns to the left.
    Left,
    /// The model turns to the right.
    Right,
    /// Seen from higher up.
    Up,
    /// Seen from further down.
    Down,
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
    row(
        ViewCommand::HoldToTurn,
        "hold_to_turn",
        "Turn the view while held",
        "Hold, and drag to turn the model; with Shift to move it",
        "V",
    )
    .left("N"),
    row(ViewCommand::FrameAll, "frame_all", "Frame all", "Show the whole model", "F"),
    row(
        ViewCommand::FramePart,
        "frame_part",
        "Frame part",
        "Show all of the part under the pointer",
        "Shift+F",
    ),
    row(
        ViewCommand::Along(AxisView::Front),
        "view_front",
        "From the front",
        "Look from +Z",
        "Alt+1",
    ),
    row(ViewCommand::Along(AxisView::Back), "view_back", "From the back", "Look from -Z", "Alt+2"),
    row(ViewCommand::Along(AxisView::Left), "view_left", "From the left", "Look from -X", "Alt+3"),
    row(
        ViewCommand::Along(AxisView::Right),
        "view_right",
        "From the right",
        "Look from +X",
        "Alt+4",
    ),
    row(ViewCommand::Along(AxisView::Top), "view_top", "From above", "Look from +Y", "Alt+5"),
    row(ViewCommand::Along(AxisView::Bottom), "view_bottom", "From below", "Look from -Y", "Alt+6"),
    row(
        ViewCommand::ToggleOrthographic,
        "orthographic",
        "Orthographic",
        "Look without perspective, or with it",
        "O",
    ),
    row(
        ViewCommand::ToggleMirror,
        "mirror",
        "Mirrored view",
        "Swap left and right to see it with fresh eyes: strokes go where they are seen",
        "M",
    ),
    row(
        ViewCommand::Turn(Way::Left),
        "turn_left",
        "Turn left",
        "Turn the model a step to the left",
        "Shift+ArrowLeft",
    ),
    row(
        ViewCommand::Turn(Way::Right),
        "turn_right",
        "Turn right",
        "Turn the model a step to the right",
        "Shift+ArrowRight",
    ),
    row(
        ViewCommand::Turn(Way::Up),
        "turn_up",
        "Look from higher up",
        "Raise the view by a step",
        "Shift+ArrowUp",
    ),
    row(
        ViewCommand::Turn(Way::Down),
        "turn_down",
        "Look from further down",
        "Lower the view by a step",
        "Shift+ArrowDown",
    ),
    row(
        ViewCommand::RollLeft,
        "roll_left",
        "Roll left",
        "Turn the picture a step counter-clockwise",
        "Alt+Comma",
    ),
    row(
        ViewCommand::RollRight,
        "roll_right",
        "Roll right",
        "Turn the picture a step clockwise",
        "Alt+Period",
    ),
    row(ViewCommand::Upright, "upright", "Set upright", "Take back all roll", "Alt+U"),
    row(ViewCommand::Closer, "closer", "Closer", "Go a step closer", "Shift+PageUp"),
    row(ViewCommand::Farther, "farther", "Farther", "Go a step back", "Shift+PageDown"),
    row(
        ViewCommand::SaveView,
        "save_view",
        "Save view",
        "Keep this view to come back to it",
        "Alt+S",
    ),
    row(
        ViewCommand::NextView,
        "next_view",
        "Next saved view",
        "Go to the next of the views that were kept",
        "Alt+N",
    ),
    row(
        ViewCommand::FlatFrame,
        "flat_frame",
        "Frame texture",
        "Show all of the texture in the flat view",
        "Shift+Alt+F",
    ),
    row(
        ViewCommand::FlatActual,
        "flat_actual",
        "Actual texels",
        "Show a texel as a pixel in the flat view",
        "Alt+0",
    ),
    row(
        ViewCommand::ToggleOutlines,
        "outlines",
        "Outlines",
        "Show the islands' outlines in the flat view",
        "9",
    ),
    row(
        ViewCommand::ToggleFollow,
        "follow",
        "Follow the pointer",
        "Let the flat view go where the pointer is on the model",
        "Alt+B",
    ),
    row(
        ViewCommand::HideUnder,
        "hide_part",
        "Hide part",
        "Hide the part under the pointer: the pen goes through it",
        "H",
    ),
    row(
        ViewCommand::IsolateUnder,
        "isolate_part",
        "Isolate part",
        "Hide all but the part under the pointer, or show all again",
        "I",
    ),
    row(ViewCommand::ShowAll, "show_all_parts", "Show all parts", "Hide no part", "Ctrl+H"),
    row(
        ViewCommand::LockUnder,
        "lock_part",
        "Lock part",
        "Keep paint off the part under the pointer, or let it on again",
        "K",
    ),
    row(
        ViewCommand::ChooseUnder,
        "choose_material",
        "Choose material",
        "Paint the material under the pointer",
        "C",
    ),
];

impl Desk {
    pub(super) fn perform_view(&mut self, command: ViewCommand) {
        let view = &mut self.model_view;
        match command {
            ViewCommand::Show(shown) => view.shown = shown,
            ViewCommand::ToggleWire => view.wire = !view.wire,
            // What is held is looked at where the pointer goes down.
            ViewCommand::HoldToTurn => {}
            ViewCommand::ToggleMirror => view.mirrored = !view.mirrored,
            ViewCommand::FlatFrame => self.flat_view.frame(),
            ViewCommand::FlatActual => {
                let edge = self.material().map_or(1024, |material| material.size.edge());
                self.flat_view.show_actual(edge);
            }
            ViewCommand::ToggleOutlines => self.flat_view.outlines = !self.flat_view.outlines,
            ViewCommand::ToggleFollow => self.flat_view.follows = !self.flat_view.follows,
            ViewCommand::SaveView => self.save_view(),
            ViewCommand::NextView => self.go_to_next_view(),
            ViewCommand::HideUnder
            | ViewCommand::IsolateUnder
            | ViewCommand::ShowAll
            | ViewCommand::LockUnder
            | ViewCommand::ChooseUnder => self.perform_on_parts(command),
            _ => self.look(command),
        }
    }
}
