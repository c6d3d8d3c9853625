//! What is chosen: the material, the layer, and what of the layer the brush paints.

use std::collections::BTreeSet;

use document::{Document, MaskAt, MaterialId};
use layers::{ChannelId, Content, LayerId};

/// What of a layer the brush paints.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Aim {
    /// Some of its cells; never none.
    Cells(BTreeSet<ChannelId>),
    /// A painted term of one of its masks.
    Mask(MaskAt),
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Chosen {
    /// The material whose layers are shown.
    pub(crate) material: MaterialId,
    /// The layer; none in a material without layers.
    pub(crate) layer: Option<LayerId>,
    /// What the brush paints.
    pub(crate) aim: Aim,
}

impl Chosen {
    /// A material's topmost painted layer, or its topmost, all cells.
    pub(crate) fn of(document: &Document, material: MaterialId) -> Self {
        let layers = document.materials.get(material.0 as usize).map(|found| &found.stack);
        let painted = layers.and_then(|stack| {
            let painted = |content: &Content| matches!(content, Content::Painted(_));
            let topmost = stack.walk().filter(|layer| painted(&layer.content)).last();
            topmost.or_else(|| stack.walk().last()).map(|layer| layer.id)
        });
        Self { material, layer: painted, aim: Self::all_cells(document) }
    }

    /// All channels of a document.
    pub(crate) fn all_cells(document: &Document) -> Aim {
        Aim::Cells(document.channels.iter().map(|channel| channel.id).collect())
    }

    /// Keeps only what is there: an undo may have taken the layer or the mask term away.
    pub(crate) fn settle(&mut self, document: &Document) {
        let Some(material) = document.materials.get(self.material.0 as usize) else {
            *self = Self::of(document, MaterialId(0));
            return;
        };
        let layer = self.layer.and_then(|layer| material.stack.find(layer));
        if let Some(layer) = layer {
            if let Aim::Mask(at) = self.aim
                && !has_term(layer, at)
            {
                self.aim = Self::all_cells(document);
            }
        } else {
            let aim = self.aim.clone();
            *self = Self::of(document, self.material);
            if matches!(aim, Aim::Cells(_)) {
                self.aim = aim;
            }
        }
    }
}

fn has_term(layer: &layers::Layer, at: MaskAt) -> bool {
    let mask = match at.owner {
        document::MaskOwner::Layer => &layer.mask,
        document::MaskOwner::Cell(channel) => &layer.cell(channel).mask,
    };
    mask.terms.iter().any(|term| term.id == at.term)
}
