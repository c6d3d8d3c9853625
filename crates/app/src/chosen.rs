//! What is chosen: the material, the layer, and what of the layer the brush paints.

use std::collections::BTreeSet;
use std::sync::Arc;

use document::{Document, MaskAt, MaskOwner, Material, MaterialId, Target};
use layers::{BlendMode, CellSettings, ChannelId, Content, Layer, LayerId, Mask, Opacity, Place};

/// What of a layer the brush paints.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Aim {
    /// Some of its cells; never none.
    Cells(BTreeSet<ChannelId>),
    /// A painted term of one of its masks.
    Mask(MaskAt),
}

impl Aim {
    /// What a stroke changes that makes do with what is there.
    pub(crate) fn target(&self) -> Target {
        match self {
            Self::Mask(at) => Target::Mask(*at),
            Self::Cells(cells) => Target::Cells(cells.iter().copied().collect()),
        }
    }
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
    /// Where the layer stood when it was last seen.
    place: Option<Place>,
    /// A layer that went away while it was chosen, and the one that is chosen in its stead.
    missed: Option<(LayerId, Option<LayerId>)>,
}

impl Chosen {
    /// A material's topmost painted layer, or its topmost, all cells.
    pub(crate) fn of(document: &Document, material: MaterialId) -> Self {
        let layers = document.materials.get(material.0 as usize).map(|found| &found.stack);
        let layer = layers.and_then(|stack| {
            let is_painted = |layer: &&Arc<Layer>| matches!(layer.content, Content::Painted(_));
            let painted = || stack.walk().filter(is_painted);
            // One on which paint shows as it is.
            let is_plain = |layer: &&Arc<Layer>| {
                let plain = |cell: &CellSettings| {
                    cell.on && cell.blend == BlendMode::Normal && cell.opacity == Opacity::FULL
                };
                layer.visible && layer.opacity == Opacity::FULL && layer.cells.values().all(plain)
            };
            let topmost = painted().filter(is_plain).last().or_else(|| painted().last());
            topmost.or_else(|| stack.walk().last()).map(|layer| layer.id)
        });
        let place = layer.and_then(|layer| layers?.place_of(layer));
        Self { material, layer, aim: Self::all_cells(document), place, missed: None }
    }

    /// All channels of a document.
    pub(crate) fn all_cells(document: &Document) -> Aim {
        Aim::Cells(document.channels.iter().map(|channel| channel.id).collect())
    }

    /// Whether the brush paints a cell.
    pub(crate) fn aims_at_cell(&self, layer: LayerId, channel: ChannelId) -> bool {
        let is_aimed = matches!(&self.aim, Aim::Cells(channels) if channels.contains(&channel));
        is_aimed && self.layer == Some(layer)
    }

    /// Whether the brush paints a term of a mask.
    pub(crate) fn aims_at_mask(&self, layer: LayerId, owner: MaskOwner) -> bool {
        let is_aimed = matches!(self.aim, Aim::Mask(at) if at.owner == owner);
        is_aimed && self.layer == Some(layer)
    }

    /// Keeps only what is there: an undo may have taken the layer or the mask term away. Where the layer is gone,
    /// the one below it is chosen, and the layer itself again should it come back.
    pub(crate) fn settle(&mut self, document: &Document) {
        let Some(material) = document.materials.get(self.material.0 as usize) else {
            *self = Self::of(document, MaterialId(0));
            return;
        };
        if let Some((missed, stand_in)) = self.missed {
            if self.layer != stand_in {
                self.missed = None;
            } else if material.stack.find(missed).is_some() {
                self.layer = Some(missed);
                self.missed = None;
            }
        }
        let layer = self.layer.and_then(|layer| material.stack.find(layer));
        let layer = if let Some(layer) = layer {
            Some(layer)
        } else {
            let beside = self.neighbour(material);
            self.missed = self.layer.map(|missed| (missed, beside));
            self.layer = beside;
            beside.and_then(|beside| material.stack.find(beside))
        };
        self.place = layer.and_then(|layer| material.stack.place_of(layer.id));
        let is_there = match self.aim {
            Aim::Cells(_) => true,
            Aim::Mask(at) => layer.is_some_and(|layer| has_term(layer, at)),
        };
        if !is_there {
            self.aim = Self::all_cells(document);
        }
    }

    /// What is chosen where the layer went away: the one below it, else the one above, else the group.
    fn neighbour(&self, material: &Material) -> Option<LayerId> {
        let stack = &material.stack;
        let last = || stack.layers.last().map(|layer| layer.id);
        let Some(place) = self.place else { return last() };
        let list = match place.parent {
            None => stack.layers.as_slice(),
            Some(group) => match stack.find(group) {
                Some(group) => group.children(),
                None => return last(),
            },
        };
        let below = list.get(place.index.saturating_sub(1)).or_else(|| list.last());
        below.map(|layer| layer.id).or(place.parent)
    }
}

/// A layer's mask, or that of one of its cells.
pub(crate) fn mask_of(layer: &Layer, owner: MaskOwner) -> &Mask {
    match owner {
        MaskOwner::Layer => &layer.mask,
        MaskOwner::Cell(channel) => &layer.cell(channel).mask,
    }
}

fn has_term(layer: &Layer, at: MaskAt) -> bool {
    mask_of(layer, at.owner).terms.iter().any(|term| term.id == at.term)
}
