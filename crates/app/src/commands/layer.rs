//! Layers, cells and masks.

mod arrange;
mod choose;
mod content;

use document::{LayerEdit, MaskOwner, MaterialEdit, NewContent};
use layers::Isolation;

use super::{Command, Entry};
use crate::desk::Desk;

/// Commands on layers. Those that need a layer mean the chosen one, and do nothing where there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum LayerCommand {
    /// A new painted layer over the chosen one.
    AddPainted,
    /// A new layer of the brush's values over the chosen one.
    AddSolid,
    /// A new group over the chosen one.
    AddGroup,
    /// A copy over it.
    Duplicate,
    /// Takes it away.
    Delete,
    /// It and the one below become one.
    MergeDown,
    /// Takes the paint out of the cells that are aimed at.
    Clear,
    /// A mask that shows everything.
    AddWhiteMask,
    /// A mask that hides everything.
    AddBlackMask,
    /// Show or hide the chosen layer.
    ToggleVisible,
    /// Count the cells that are aimed at, or not.
    ToggleCells,
    /// The brush paints all channels.
    AimAtCells,
    /// The brush paints the mask.
    AimAtMask,
    /// What the cell that is aimed at is set to.
    CellSettings,
    /// Another name.
    Rename,
    /// Folds or unfolds a group.
    Fold,
    /// The next row up.
    ChooseAbove,
    /// The next row down.
    ChooseBelow,
    /// One place up among its like.
    MoveUp,
    /// One place down among its like.
    MoveDown,
    /// Into the group below it.
    MoveInto,
    /// Out of its group.
    MoveOut,
}

const fn row(
    command: LayerCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::Layer(command), key, label, about, shortcut)
}

pub(super) const TABLE: &[Entry] = &[
    row(
        LayerCommand::AddPainted,
        "add_painted_layer",
        "Add painted layer",
        "Add a layer to paint on, over the chosen one",
        "Ctrl+Shift+N",
    ),
    row(
        LayerCommand::AddSolid,
        "add_solid_layer",
        "Add solid layer",
        "Add a layer of the brush's values everywhere, over the chosen one",
        "Alt+Shift+N",
    ),
    row(
        LayerCommand::AddGroup,
        "add_group",
        "Add group",
        "Add a group to drag layers into, over the chosen layer",
        "Ctrl+G",
    ),
    row(
        LayerCommand::Duplicate,
        "duplicate_layer",
        "Duplicate layer",
        "Copy the chosen layer, and all that a group holds",
        "Alt+D",
    ),
    row(
        LayerCommand::Delete,
        "delete_layer",
        "Delete layer",
        "Take the chosen layer away, and all that a group holds",
        "Delete",
    ),
    row(
        LayerCommand::MergeDown,
        "merge_down",
        "Merge down",
        "Make one layer of the chosen one and the one below, as it looks",
        "Alt+M",
    ),
    row(
        LayerCommand::Clear,
        "clear_cells",
        "Clear paint",
        "Take the paint out of the cells that the brush is aimed at",
        "Alt+Delete",
    ),
    row(
        LayerCommand::AddWhiteMask,
        "add_white_mask",
        "Add mask, white",
        "Add a mask to paint on that shows everything: paint away what is too much",
        "Alt+K",
    ),
    row(
        LayerCommand::AddBlackMask,
        "add_black_mask",
        "Add mask, black",
        "Add a mask to paint on that hides everything: paint in what is wanted",
        "Alt+Shift+K",
    ),
    row(
        LayerCommand::ToggleVisible,
        "toggle_layer",
        "Show or hide layer",
        "Show or hide the chosen layer",
        "Alt+V",
    ),
    row(
        LayerCommand::ToggleCells,
        "toggle_cells",
        "Cells on or off",
        "Count the cells that the brush is aimed at, or leave them out",
        "Alt+O",
    ),
    row(
        LayerCommand::AimAtCells,
        "aim_at_cells",
        "Paint all channels",
        "Aim the brush at all channels of the chosen layer",
        "Alt+A",
    ),
    row(
        LayerCommand::AimAtMask,
        "aim_at_mask",
        "Paint the mask",
        "Aim the brush at the chosen layer's mask",
        "Alt+W",
    ),
    row(
        LayerCommand::CellSettings,
        "cell_settings",
        "Cell settings",
        "Value, blend mode, opacity and mask of the cell that the brush is aimed at",
        "Alt+E",
    ),
    row(
        LayerCommand::Rename,
        "rename_layer",
        "Rename layer",
        "Give the chosen layer another name",
        "F2",
    ),
    row(
        LayerCommand::Fold,
        "fold_group",
        "Fold or unfold group",
        "Hide or show the rows of what the chosen group holds",
        "Alt+F",
    ),
    row(
        LayerCommand::ChooseAbove,
        "choose_above",
        "Next layer up",
        "Choose the row above",
        "PageUp",
    ),
    row(
        LayerCommand::ChooseBelow,
        "choose_below",
        "Next layer down",
        "Choose the row below",
        "PageDown",
    ),
    row(
        LayerCommand::MoveUp,
        "move_layer_up",
        "Move layer up",
        "Move the chosen layer over the next one",
        "Alt+ArrowUp",
    ),
    row(
        LayerCommand::MoveDown,
        "move_layer_down",
        "Move layer down",
        "Move the chosen layer under the next one",
        "Alt+ArrowDown",
    ),
    row(
        LayerCommand::MoveInto,
        "move_layer_into",
        "Move into group",
        "Move the chosen layer into the group right below or above it",
        "Alt+ArrowRight",
    ),
    row(
        LayerCommand::MoveOut,
        "move_layer_out",
        "Move out of group",
        "Move the chosen layer out of its group",
        "Alt+ArrowLeft",
    ),
];

impl Desk {
    pub(super) fn perform_layer(&mut self, command: LayerCommand) {
        match command {
            LayerCommand::AddPainted => self.add_layer("Layer", NewContent::Painted),
            LayerCommand::AddSolid => {
                let values = self.brush.values.clone();
                self.add_layer("Solid", NewContent::Solid(values));
            }
            LayerCommand::AddGroup => {
                self.add_layer("Group", NewContent::Group(Isolation::Isolated));
            }
            LayerCommand::Duplicate => self.duplicate_layer(),
            LayerCommand::Delete => self.edit_chosen(MaterialEdit::RemoveLayer),
            LayerCommand::MergeDown => self.merge_down(),
            LayerCommand::Clear => self.clear_aimed(),
            LayerCommand::AddWhiteMask => self.add_mask(MaskOwner::Layer, u16::MAX),
            LayerCommand::AddBlackMask => self.add_mask(MaskOwner::Layer, 0),
            LayerCommand::ToggleVisible => {
                if let Some(layer) = self.chosen_layer() {
                    let visible = LayerEdit::Visible(!layer.visible);
                    self.edit_material(MaterialEdit::Layer(layer.id, visible));
                }
            }
            LayerCommand::ToggleCells => self.toggle_aimed_cells(),
            LayerCommand::AimAtCells => self.aim_at_all_cells(),
            LayerCommand::AimAtMask => self.aim_at_mask(MaskOwner::Layer),
            LayerCommand::CellSettings => self.layer_table.open_settings(&self.chosen),
            LayerCommand::Rename => {
                if let Some(layer) = self.chosen_layer() {
                    self.layer_table.rename(layer.id, &layer.name);
                }
            }
            LayerCommand::Fold => {
                if let Some(layer) = self.chosen.layer {
                    self.layer_table.toggle_fold(self.chosen.material, layer);
                }
            }
            LayerCommand::ChooseAbove => self.choose_beside(-1),
            LayerCommand::ChooseBelow => self.choose_beside(1),
            LayerCommand::MoveUp => self.move_among_its_like(1),
            LayerCommand::MoveDown => self.move_among_its_like(-1),
            LayerCommand::MoveInto => self.move_into_group(),
            LayerCommand::MoveOut => self.move_out_of_group(),
        }
    }

    /// Makes an edit of the chosen material that takes the chosen layer's id.
    fn edit_chosen(&mut self, edit: impl FnOnce(layers::LayerId) -> MaterialEdit) {
        if let Some(layer) = self.chosen.layer {
            self.edit_material(edit(layer));
        }
    }
}
