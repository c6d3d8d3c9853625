//! Layers and cells.

use document::{Edit, LayerEdit, MaterialEdit, NewContent};
use layers::Place;

use super::{Command, Entry};
use crate::desk::Desk;

/// Commands on layers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum LayerCommand {
    /// A new painted layer over the chosen one.
    AddPainted,
    /// Show or hide the chosen layer.
    ToggleVisible,
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
        LayerCommand::ToggleVisible,
        "toggle_layer",
        "Show or hide layer",
        "Show or hide the chosen layer",
        "Alt+V",
    ),
];

impl Desk {
    pub(super) fn perform_layer(&mut self, command: LayerCommand) {
        match command {
            LayerCommand::AddPainted => self.add_painted_layer(),
            LayerCommand::ToggleVisible => {
                if let Some(layer) = self.chosen_layer() {
                    let visible = LayerEdit::Visible(!layer.visible);
                    self.edit_material(MaterialEdit::Layer(layer.id, visible));
                }
            }
        }
    }

    fn add_painted_layer(&mut self) {
        let material = self.chosen.material;
        let id = self.editor.free_layer_id(material);
        let Some(found) = self.material() else { return };
        let above = self.chosen.layer.and_then(|layer| found.stack.place_of(layer));
        let top = Place { parent: None, index: found.stack.layers.len() };
        let place = above.map_or(top, |place| Place { index: place.index + 1, ..place });
        let name = format!("Layer {}", found.stack.walk().count() + 1);
        let edit = MaterialEdit::AddLayer { layer: id, name, content: NewContent::Painted, place };
        if self.apply(&Edit::Material(material, edit)) {
            self.chosen.layer = Some(id);
        }
    }
}
