//! What of the table is folded, named anew, dragged or opened. None of it is part of the document.

use std::collections::{BTreeMap, BTreeSet};

use document::{MaskOwner, MaterialId};
use layers::{ChannelId, LayerId, Stack};

use super::landing::Landing;
use super::rows::{self, Row};
use crate::chosen::{Aim, Chosen};

/// A cell, or the mask of a layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Spot {
    /// A channel of a layer.
    Cell(LayerId, ChannelId),
    /// A layer's mask.
    Mask(LayerId),
}

/// A name that is being typed.
#[derive(Debug, Clone)]
pub(crate) struct Renaming {
    /// Whose.
    pub(crate) layer: LayerId,
    /// As far as it is typed.
    pub(crate) text: String,
    /// The field was there in the last frame.
    pub(crate) has_begun: bool,
}

/// A layer that is being dragged.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Dragged {
    /// Which.
    pub(crate) layer: LayerId,
    /// In how many groups it lies.
    pub(crate) depth: usize,
    /// Where on the screen the drag began, from the left in points.
    pub(crate) from_x: f32,
    /// Where it would have landed in the last frame: a finger that is lifted is nowhere.
    pub(crate) lands: Option<Landing>,
}

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct LayerTable {
    folded: BTreeMap<MaterialId, BTreeSet<LayerId>>,
    /// The row that was scrolled to last.
    followed: Option<(MaterialId, LayerId)>,
    /// Settings to open in this frame.
    wanted: Option<Spot>,
    pub(crate) renaming: Option<Renaming>,
    pub(crate) dragged: Option<Dragged>,
    built: usize,
}

impl LayerTable {
    /// A material's rows, the topmost first.
    pub(crate) fn rows(&self, material: MaterialId, stack: &Stack) -> Vec<Row> {
        let nothing = BTreeSet::new();
        rows::rows(stack, self.folded.get(&material).unwrap_or(&nothing))
    }

    /// Whether the layers that a group holds have no rows.
    pub(crate) fn is_folded(&self, material: MaterialId, group: LayerId) -> bool {
        self.folded.get(&material).is_some_and(|folded| folded.contains(&group))
    }

    /// Folds a group, or unfolds it.
    pub(crate) fn toggle_fold(&mut self, material: MaterialId, group: LayerId) {
        let folded = self.folded.entry(material).or_default();
        if !folded.remove(&group) {
            folded.insert(group);
        }
    }

    /// Shows the rows of what a group holds.
    pub(crate) fn unfold(&mut self, material: MaterialId, group: LayerId) {
        if let Some(folded) = self.folded.get_mut(&material) {
            folded.remove(&group);
        }
    }

    /// Begins to give a layer another name.
    pub(crate) fn rename(&mut self, layer: LayerId, name: &str) {
        self.renaming = Some(Renaming { layer, text: name.to_owned(), has_begun: false });
    }

    /// Opens the settings of what is aimed at.
    pub(crate) fn open_settings(&mut self, chosen: &Chosen) {
        self.wanted = chosen.layer.and_then(|layer| match &chosen.aim {
            Aim::Cells(channels) => channels.first().map(|channel| Spot::Cell(layer, *channel)),
            Aim::Mask(at) => Some(match at.owner {
                MaskOwner::Layer => Spot::Mask(layer),
                MaskOwner::Cell(channel) => Spot::Cell(layer, channel),
            }),
        });
    }

    /// Whether these settings are to be opened; says so once.
    pub(crate) fn wants(&mut self, spot: Spot) -> bool {
        let wants = self.wanted == Some(spot);
        if wants {
            self.wanted = None;
        }
        wants
    }

    /// Whether a chosen row is another than the one that was scrolled to last.
    pub(crate) fn is_news(&mut self, chosen: (MaterialId, LayerId)) -> bool {
        self.followed.replace(chosen) != Some(chosen)
    }

    /// How many rows were built in this frame.
    pub(crate) fn note_built(&mut self, rows: usize) {
        self.built = rows;
    }

    /// How many rows were built in the last frame.
    #[cfg(test)]
    pub(crate) fn built(&self) -> usize {
        self.built
    }
}
