//! The coarse half of the compositor: which layers give anything to one tile of one channel.
//!
//! Tiles are read here and nothing is computed, so that what is left out costs no arithmetic, and so
//! that a tile whose every input is uniform is known before its first texel.

use std::sync::Arc;

use raster::{Tile, TileAt, TileRead};

use crate::{
    BlendMode, ChannelId, Content, Fields, Isolation, Layer, LayersError, Mask, MaskTerm, Value,
};

/// A layer that gives something to the tile.
#[derive(Debug)]
pub(crate) struct Node<'a> {
    /// Cell opacity times layer opacity, above 0.
    pub(crate) factor: f32,
    /// The layer's mask, then the cell's.
    pub(crate) masks: [MaskRead<'a>; 2],
    pub(crate) blend: BlendMode,
    pub(crate) content: NodeContent<'a>,
}

/// The acting terms of a mask with the tiles that they read.
pub(crate) type MaskRead<'a> = Vec<(&'a MaskTerm, TileRead)>;

#[derive(Debug)]
pub(crate) enum NodeContent<'a> {
    /// Painted texels, or one value everywhere with coverage 1.
    Texels { values: Vec<TileRead>, coverage: TileRead },
    /// At least one node.
    Group { isolation: Isolation, children: Vec<Node<'a>> },
}

impl Node<'_> {
    /// True when all texels of the tile are alike.
    pub(crate) fn is_uniform(&self) -> bool {
        self.content.is_uniform() && self.masks.iter().all(is_uniform)
    }
}

impl NodeContent<'_> {
    /// True when all texels of the tile are alike.
    pub(crate) fn is_uniform(&self) -> bool {
        let uniform = |read: &TileRead| matches!(read, TileRead::Uniform(_));
        match self {
            Self::Texels { values, coverage } => values.iter().all(uniform) && uniform(coverage),
            Self::Group { children, .. } => children.iter().all(Node::is_uniform),
        }
    }
}

/// True when a mask is one value over the tile.
pub(crate) fn is_uniform(mask: &MaskRead<'_>) -> bool {
    mask.iter().all(|(_, read)| matches!(read, TileRead::Uniform(_)))
}

/// The tile that is read: place and channel, and where fields come from.
#[derive(Clone, Copy)]
pub(crate) struct Reading<'a> {
    pub(crate) channel: ChannelId,
    pub(crate) at: TileAt,
    pub(crate) fields: &'a dyn Fields,
}

impl Reading<'_> {
    /// The nodes of a list of layers, bottom first.
    pub(crate) fn nodes<'l>(
        self,
        layers: impl IntoIterator<Item = &'l Arc<Layer>>,
    ) -> Result<Vec<Node<'l>>, LayersError> {
        layers.into_iter().filter_map(|layer| self.node(layer).transpose()).collect()
    }

    fn node(self, layer: &Layer) -> Result<Option<Node<'_>>, LayersError> {
        let factor = layer.factor(self.channel);
        let [layer_mask, cell_mask] = layer.masks(self.channel);
        if factor == 0.0 {
            return Ok(None);
        }
        let Some(content) = self.content(layer)? else { return Ok(None) };
        for mask in [layer_mask, cell_mask] {
            if mask.uniform(self.at, self.fields)? == Some(0.0) {
                return Ok(None);
            }
        }
        Ok(Some(Node {
            factor,
            masks: [self.mask(layer_mask)?, self.mask(cell_mask)?],
            blend: layer.cell(self.channel).blend,
            content,
        }))
    }

    /// What a layer holds for the tile, without its opacities and masks.
    pub(crate) fn content(self, layer: &Layer) -> Result<Option<NodeContent<'_>>, LayersError> {
        Ok(match &layer.content {
            Content::Painted(cells) => match cells.get(&self.channel) {
                Some(cell) if !matches!(cell.coverage.tile(self.at), Tile::Uniform(0)) => {
                    let planes = cell.values.iter().map(|plane| plane.tile(self.at).read());
                    let values = planes.collect::<Result<_, _>>()?;
                    Some(NodeContent::Texels {
                        values,
                        coverage: cell.coverage.tile(self.at).read()?,
                    })
                }
                _ => None,
            },
            Content::Solid(values) => values.get(&self.channel).copied().map(solid),
            Content::Group { isolation, children } => {
                let children = self.nodes(children)?;
                let isolation = *isolation;
                (!children.is_empty()).then_some(NodeContent::Group { isolation, children })
            }
        })
    }

    /// The acting terms of a mask with what they read.
    pub(crate) fn mask(self, mask: &Mask) -> Result<MaskRead<'_>, LayersError> {
        mask.acting().map(|term| self.read_term(term)).collect()
    }

    fn read_term(self, term: &MaskTerm) -> Result<(&MaskTerm, TileRead), LayersError> {
        Ok((term, term.tile(self.at, self.fields)?.read()?))
    }
}

fn solid<'a>(value: Value) -> NodeContent<'a> {
    let values = value.components().iter().map(|&stored| TileRead::Uniform(stored)).collect();
    NodeContent::Texels { values, coverage: TileRead::Uniform(u16::MAX) }
}

/// True when a layer may give anything to the tile; reads no body. Where a field can't be had, it may.
pub(crate) fn may_touch(layer: &Layer, reading: Reading<'_>) -> bool {
    let Reading { channel, at, fields } = reading;
    let content = || match &layer.content {
        Content::Painted(cells) => cells
            .get(&channel)
            .is_some_and(|cell| !matches!(cell.coverage.tile(at), Tile::Uniform(0))),
        Content::Solid(values) => values.contains_key(&channel),
        Content::Group { children, .. } => children.iter().any(|child| may_touch(child, reading)),
    };
    layer.factor(channel) > 0.0
        && content()
        && layer
            .masks(channel)
            .iter()
            .all(|mask| !matches!(mask.uniform(at, fields), Ok(Some(0.0))))
}
