//! What an edit may change: everything else in the new document is shared with the old one.

use layers::{ChannelId, LayerId};

use crate::{Deposit, Edit, LayerEdit, MaterialEdit, MaterialId, Step, Target};

/// What an edit may change. Empty lists mean none, `None` means any.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scope {
    /// The material; any for an import.
    pub material: Option<MaterialId>,
    /// The layer; any where the stack itself, or all of it, changes.
    pub layer: Option<LayerId>,
    /// The channels whose maps may come out otherwise.
    pub channels: Option<Vec<ChannelId>>,
}

impl Edit {
    /// What this edit may change.
    pub fn scope(&self) -> Scope {
        let any = Scope { material: None, layer: None, channels: None };
        let Self::Material(id, change) = self else { return any };
        let material = Some(*id);
        match change {
            MaterialEdit::Ground(channel, _) => {
                Scope { material, channels: Some(vec![*channel]), ..any }
            }
            MaterialEdit::Layer(layer, change) => {
                Scope { material, layer: Some(*layer), channels: change.channels() }
            }
            MaterialEdit::Select(_) => Scope { material, layer: None, channels: Some(Vec::new()) },
            _ => Scope { material, ..any },
        }
    }
}

impl LayerEdit {
    fn channels(&self) -> Option<Vec<ChannelId>> {
        match self {
            Self::Rename(_) => Some(Vec::new()),
            Self::Cells(channels, _) => Some(channels.clone()),
            Self::Solid(channel, _) | Self::AddMaskTerm(crate::MaskOwner::Cell(channel), _) => {
                Some(vec![*channel])
            }
            Self::RemoveMaskTerm(at) | Self::MaskTerm(at, _) | Self::MoveMaskTerm(at, _) => {
                at.channels()
            }
            Self::Paint(step) => match &**step {
                Step::Deposit { deposit, .. } => deposit.channels(),
                Step::Clear(channels) => Some(channels.clone()),
                Step::Mirror { target, .. } => target.channels(),
                Step::MaskStart { at, .. } => at.channels(),
            },
            Self::FillRegion(fill) => fill.deposit.channels(),
            Self::Repaint { .. }
            | Self::Visible(_)
            | Self::Opacity(_)
            | Self::Isolation(_)
            | Self::AddMaskTerm(..) => None,
        }
    }
}

impl Deposit {
    fn channels(&self) -> Option<Vec<ChannelId>> {
        match self {
            Self::Paint(values) => Some(values.keys().copied().collect()),
            Self::Erase(channels) => Some(channels.clone()),
            Self::Mask { at, .. } => at.channels(),
            Self::Move(target) | Self::Adjust(target, _) => target.channels(),
        }
    }
}

impl Target {
    fn channels(&self) -> Option<Vec<ChannelId>> {
        match self {
            Self::Cells(channels) => Some(channels.clone()),
            Self::Mask(at) => at.channels(),
        }
    }
}

impl crate::MaskAt {
    fn channels(self) -> Option<Vec<ChannelId>> {
        match self.owner {
            crate::MaskOwner::Layer => None,
            crate::MaskOwner::Cell(channel) => Some(vec![channel]),
        }
    }
}
