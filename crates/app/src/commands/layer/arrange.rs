//! Layers come, go and move.

use document::{Edit, MaterialEdit, NewContent};
use layers::{Content, LayerId, Place, Stack};

use crate::chosen::Chosen;
use crate::desk::Desk;

impl Desk {
    /// A new layer over the chosen one, or on top of what a chosen group holds; it is chosen then.
    pub(super) fn add_layer(&mut self, name: &str, content: NewContent) {
        let material = self.chosen.material;
        let id = self.editor.free_layer_id(material);
        let Some(found) = self.material() else { return };
        let place = self.place_for_new(&found.stack);
        let name = free_name(&found.stack, name);
        let is_solid = matches!(content, NewContent::Solid(_));
        let edit = MaterialEdit::AddLayer { layer: id, name, content, place };
        if self.apply(&Edit::Material(material, edit)) {
            self.choose_layer(id);
            if !is_solid {
                self.chosen.aim = Chosen::all_cells(self.document());
            }
        }
    }

    fn place_for_new(&self, stack: &Stack) -> Place {
        let top = Place { parent: None, index: stack.layers.len() };
        let Some(chosen) = self.chosen.layer.and_then(|layer| stack.find(layer)) else {
            return top;
        };
        let is_open = !self.layer_table.is_folded(self.chosen.material, chosen.id);
        if let Content::Group { children, .. } = &chosen.content
            && is_open
        {
            return Place { parent: Some(chosen.id), index: children.len() };
        }
        stack.place_of(chosen.id).map_or(top, |place| Place { index: place.index + 1, ..place })
    }

    pub(super) fn duplicate_layer(&mut self) {
        let Some(layer) = self.chosen.layer else { return };
        let copy = self.editor.free_layer_id(self.chosen.material);
        if self.edit_material(MaterialEdit::DuplicateLayer { layer, copy }) {
            self.choose_layer(copy);
        }
    }

    /// The layer below is chosen then: it is what both became.
    pub(super) fn merge_down(&mut self) {
        let Some(layer) = self.chosen.layer else { return };
        let Some(material) = self.material() else { return };
        let below = material.stack.place_of(layer).and_then(|place| {
            let below = place.index.checked_sub(1)?;
            list_of(&material.stack, place.parent)?.get(below).copied()
        });
        if self.edit_material(MaterialEdit::MergeDown(layer))
            && let Some(below) = below
        {
            self.choose_layer(below);
        }
    }

    /// Puts a layer elsewhere, where that is another place.
    pub(crate) fn move_layer(&mut self, layer: LayerId, place: Place) {
        let stands = self.material().and_then(|material| material.stack.place_of(layer));
        if stands.is_some_and(|stands| stands != place) {
            self.edit_material(MaterialEdit::MoveLayer(layer, place));
        }
    }

    /// By so many places up in the list that it stands in.
    pub(super) fn move_among_its_like(&mut self, up: isize) {
        let Some((layer, place, like)) = self.chosen_place() else { return };
        if let Some(index) = place.index.checked_add_signed(up).filter(|index| *index < like.len())
        {
            self.move_layer(layer, Place { index, ..place });
        }
    }

    /// On top of what the group below it holds; where there is none, to the bottom of the group above it.
    pub(super) fn move_into_group(&mut self) {
        let Some((layer, place, like)) = self.chosen_place() else { return };
        let Some(material) = self.material() else { return };
        let held = |id: &LayerId| match &material.stack.find(*id)?.content {
            Content::Group { children, .. } => Some((*id, children.len())),
            _ => None,
        };
        let below = place.index.checked_sub(1).and_then(|index| held(like.get(index)?));
        let above = like.get(place.index + 1).and_then(held).map(|(group, _)| (group, 0));
        if let Some((group, index)) = below.or(above) {
            self.layer_table.unfold(self.chosen.material, group);
            self.move_layer(layer, Place { parent: Some(group), index });
        }
    }

    /// Right over the group that it stands in.
    pub(super) fn move_out_of_group(&mut self) {
        let Some((layer, place, _)) = self.chosen_place() else { return };
        let group = place.parent.and_then(|group| self.material()?.stack.place_of(group));
        if let Some(group) = group {
            self.move_layer(layer, Place { index: group.index + 1, ..group });
        }
    }

    /// The chosen layer, where it stands, and all that stand in the same list, bottom first.
    fn chosen_place(&self) -> Option<(LayerId, Place, Vec<LayerId>)> {
        let layer = self.chosen.layer?;
        let stack = &self.material()?.stack;
        let place = stack.place_of(layer)?;
        Some((layer, place, list_of(stack, place.parent)?))
    }
}

/// The root's layers or a group's, bottom first.
fn list_of(stack: &Stack, parent: Option<LayerId>) -> Option<Vec<LayerId>> {
    let list = match parent {
        None => stack.layers.as_slice(),
        Some(group) => stack.find(group)?.children(),
    };
    Some(list.iter().map(|layer| layer.id).collect())
}

/// The first of "Layer 1", "Layer 2" .. that no layer has.
fn free_name(stack: &Stack, word: &str) -> String {
    let is_free = |name: &String| stack.walk().all(|layer| layer.name != *name);
    let mut names = (1_usize..).map(|number| format!("{word} {number}"));
    names.find(is_free).unwrap_or_else(|| word.to_owned())
}
