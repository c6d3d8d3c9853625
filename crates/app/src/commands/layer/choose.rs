//! Which layer is chosen, and what of it the brush paints.

use document::{MaskAt, MaskOwner};
use layers::{ChannelId, LayerId, MaskSource};

use crate::chosen::{Aim, Chosen, mask_of};
use crate::desk::Desk;

impl Desk {
    /// Chooses a layer; a mask that was painted is left for the cells.
    pub(crate) fn choose_layer(&mut self, layer: LayerId) {
        if self.chosen.layer == Some(layer) {
            return;
        }
        self.chosen.layer = Some(layer);
        if matches!(self.chosen.aim, Aim::Mask(_)) {
            self.chosen.aim = Chosen::all_cells(self.document());
        }
        self.chosen.settle(self.editor.document());
    }

    /// Chooses a layer, all of its channels.
    pub(crate) fn choose_all_of(&mut self, layer: LayerId) {
        self.choose_layer(layer);
        self.aim_at_all_cells();
    }

    /// Aims at one cell; `also` adds it to those that are aimed at, or takes it out again.
    pub(crate) fn aim_at_cell(&mut self, layer: LayerId, channel: ChannelId, also: bool) {
        let stays = self.chosen.layer == Some(layer);
        self.choose_layer(layer);
        match &mut self.chosen.aim {
            Aim::Cells(channels) if also && stays => {
                if !channels.insert(channel) && channels.len() > 1 {
                    channels.remove(&channel);
                }
            }
            aim => *aim = Aim::Cells([channel].into()),
        }
    }

    pub(super) fn aim_at_all_cells(&mut self) {
        self.chosen.aim = Chosen::all_cells(self.document());
    }

    /// Aims at the last painted term of one of the chosen layer's masks; nothing happens where there is none.
    pub(crate) fn aim_at_mask(&mut self, owner: MaskOwner) {
        let Some(layer) = self.chosen_layer() else { return };
        let terms = &mask_of(&layer, owner).terms;
        let painted = terms.iter().rfind(|term| matches!(term.source, MaskSource::Painted(_)));
        if let Some(term) = painted {
            self.chosen.aim = Aim::Mask(MaskAt { owner, term: term.id });
        }
    }

    /// The row that lies so many rows further down.
    pub(super) fn choose_beside(&mut self, down: isize) {
        let Some(material) = self.material() else { return };
        let rows = self.layer_table.rows(self.chosen.material, &material.stack);
        let here = rows.iter().position(|row| Some(row.layer.id) == self.chosen.layer);
        let there = here.map_or(Some(0), |here| here.checked_add_signed(down));
        if let Some(row) = there.and_then(|there| rows.get(there)) {
            self.choose_layer(row.layer.id);
        }
    }
}
