//! Whether two values come to the very same: told by identity, no texel is read.

use std::sync::Arc;

use crate::{ChannelId, Content, Layer, Mask, MaskSource, MaskTerm, PaintedCell};

impl PaintedCell {
    /// True when all planes are the same.
    pub fn same(&self, other: &Self) -> bool {
        self.values.len() == other.values.len()
            && self.coverage.same(&other.coverage)
            && self.values.iter().zip(&other.values).all(|(a, b)| a.same(b))
    }
}

impl Mask {
    /// True when the terms that act are the same, as long as the fields are that they read.
    pub fn same(&self, other: &Self) -> bool {
        self.acting().count() == other.acting().count()
            && self.acting().zip(other.acting()).all(|(a, b)| same_term(a, b))
    }
}

fn same_term(a: &MaskTerm, b: &MaskTerm) -> bool {
    let source = match (&a.source, &b.source) {
        (MaskSource::Painted(a), MaskSource::Painted(b)) => a.same(b),
        (MaskSource::Field(a), MaskSource::Field(b)) => a == b,
        _ => false,
    };
    source && (a.invert, a.strength, a.combine) == (b.invert, b.strength, b.combine)
}

impl Layer {
    /// True when both give the same to a channel, as long as the fields are that masks read.
    pub fn gives_same(&self, other: &Self, channel: ChannelId) -> bool {
        let masks = self.masks(channel).into_iter().zip(other.masks(channel));
        self.factor(channel) == other.factor(channel)
            && self.cell(channel).blend == other.cell(channel).blend
            && masks.into_iter().all(|(a, b)| a.same(b))
            && self.holds_same(other, channel)
    }

    /// True when both hold the same for a channel, opacities, blend mode and masks of their own apart.
    pub fn holds_same(&self, other: &Self, channel: ChannelId) -> bool {
        match (&self.content, &other.content) {
            (Content::Painted(a), Content::Painted(b)) => {
                match (a.get(&channel), b.get(&channel)) {
                    (Some(a), Some(b)) => a.same(b),
                    (a, b) => a.is_none() && b.is_none(),
                }
            }
            (Content::Solid(a), Content::Solid(b)) => a.get(&channel) == b.get(&channel),
            (
                Content::Group { isolation: a, children: below },
                Content::Group { isolation: b, children: above },
            ) => a == b && give_same(below, above, channel),
            _ => false,
        }
    }
}

/// True when two lists of layers give the same to a channel.
pub fn give_same(a: &[Arc<Layer>], b: &[Arc<Layer>], channel: ChannelId) -> bool {
    let same = |(a, b): (&Arc<Layer>, &Arc<Layer>)| Arc::ptr_eq(a, b) || a.gives_same(b, channel);
    a.len() == b.len() && a.iter().zip(b).all(same)
}
