//! What cells and masks hold.

use std::sync::Arc;

use document::{
    CellEdit, LayerEdit, MaskAt, MaskOwner, MaterialEdit, NewTerm, NewTermSource, Step,
};
use layers::{ChannelId, Combine, Content, Layer, TermId};

use crate::chosen::{Aim, mask_of};
use crate::desk::Desk;

impl Desk {
    /// Makes an edit of one layer of the chosen material.
    pub(crate) fn edit_layer(&mut self, layer: layers::LayerId, edit: LayerEdit) -> bool {
        self.edit_material(MaterialEdit::Layer(layer, edit))
    }

    /// A painted term more on a mask of the chosen layer, of one value (as stored) everywhere; the brush is aimed at
    /// it. Terms that are there are multiplied with it.
    pub(crate) fn add_mask(&mut self, owner: MaskOwner, value: u16) {
        let Some(layer) = self.chosen_layer() else { return };
        let taken = mask_of(&layer, owner).terms.iter().map(|term| term.id.0).max();
        let id = TermId(taken.map_or(0, |taken| taken + 1));
        let source = NewTermSource::Painted(value);
        let term = NewTerm { id, combine: Combine::Multiply, source };
        if self.edit_layer(layer.id, LayerEdit::AddMaskTerm(owner, term)) {
            self.chosen.aim = Aim::Mask(MaskAt { owner, term: id });
            // Else the first stroke would change nothing.
            self.brush.mask_value = u16::MAX - value;
        }
    }

    /// Takes the paint out of the cells that are aimed at and hold some.
    pub(super) fn clear_aimed(&mut self) {
        let Some(layer) = self.chosen_layer() else { return };
        let Aim::Cells(aimed) = self.chosen.aim.clone() else {
            self.notices.note("The brush is aimed at a mask: choose cells to clear");
            return;
        };
        self.clear_cells(&layer, aimed.into_iter().collect());
    }

    /// Takes the paint out of some cells of a layer, those that hold any.
    pub(crate) fn clear_cells(&mut self, layer: &Layer, cells: Vec<ChannelId>) {
        let Content::Painted(painted) = &layer.content else {
            self.notices.note(format!("{} holds no paint: only painted layers do", layer.name));
            return;
        };
        let held: Vec<_> = cells.into_iter().filter(|cell| painted.contains_key(cell)).collect();
        if !held.is_empty() {
            self.edit_layer(layer.id, LayerEdit::Paint(Arc::new(Step::Clear(held))));
        }
    }

    /// Turns the cells that are aimed at off, or on where all of them are off.
    pub(super) fn toggle_aimed_cells(&mut self) {
        let Some(layer) = self.chosen_layer() else { return };
        if let Aim::Cells(aimed) = self.chosen.aim.clone() {
            let are_on = aimed.iter().any(|channel| layer.cell(*channel).on);
            let cells = aimed.into_iter().collect();
            self.edit_layer(layer.id, LayerEdit::Cells(cells, CellEdit::On(!are_on)));
        }
    }
}
