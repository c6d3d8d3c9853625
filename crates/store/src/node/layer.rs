//! A layer as it is stored: planes and the layers of a group stand apart.

use std::collections::BTreeMap;

use layers::{
    BlendMode, ChannelId, Combine, FieldExpr, Isolation, LayerId, Opacity, TermId, Value,
};

use super::Node;
use crate::Hash;
use crate::hash::Kind;
use crate::written::{Input, Malformed, Written, record};

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LayerNode {
    pub(crate) id: LayerId,
    pub(crate) name: String,
    pub(crate) visible: bool,
    pub(crate) opacity: Opacity,
    pub(crate) mask: MaskNode,
    pub(crate) cells: BTreeMap<ChannelId, CellNode>,
    pub(crate) content: ContentNode,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct CellNode {
    pub(crate) on: bool,
    pub(crate) blend: BlendMode,
    pub(crate) opacity: Opacity,
    pub(crate) mask: MaskNode,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct MaskNode {
    pub(crate) terms: Vec<TermNode>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct TermNode {
    pub(crate) id: TermId,
    pub(crate) on: bool,
    pub(crate) invert: bool,
    pub(crate) strength: Opacity,
    pub(crate) combine: Combine,
    pub(crate) source: SourceNode,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum SourceNode {
    /// A plane.
    Painted(Hash),
    Field(FieldExpr),
}

/// Planes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PaintedNode {
    pub(crate) values: Vec<Hash>,
    pub(crate) coverage: Hash,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum ContentNode {
    Painted(BTreeMap<ChannelId, PaintedNode>),
    Solid(BTreeMap<ChannelId, Value>),
    Group {
        isolation: Isolation,
        /// Layers, bottom first.
        children: Vec<Hash>,
    },
}

record!(LayerNode { id, name, visible, opacity, mask, cells, content });
record!(CellNode { on, blend, opacity, mask });
record!(MaskNode { terms });
record!(TermNode { id, on, invert, strength, combine, source });
record!(PaintedNode { values, coverage });

impl Written for SourceNode {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Painted(plane) => (0_u8, *plane).write(out),
            Self::Field(expr) => {
                1_u8.write(out);
                expr.write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Painted(Written::read(input)?)),
            1 => Ok(Self::Field(Written::read(input)?)),
            _ => Err(Malformed::Content),
        }
    }
}

impl Written for ContentNode {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Painted(cells) => {
                0_u8.write(out);
                cells.write(out);
            }
            Self::Solid(values) => {
                1_u8.write(out);
                values.write(out);
            }
            Self::Group { isolation, children } => {
                (2_u8, *isolation).write(out);
                children.write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Painted(Written::read(input)?)),
            1 => Ok(Self::Solid(Written::read(input)?)),
            2 => Ok(Self::Group {
                isolation: Written::read(input)?,
                children: Written::read(input)?,
            }),
            _ => Err(Malformed::Content),
        }
    }
}

impl MaskNode {
    fn planes(&self) -> impl Iterator<Item = Hash> {
        self.terms.iter().filter_map(|term| match term.source {
            SourceNode::Painted(plane) => Some(plane),
            SourceNode::Field(_) => None,
        })
    }
}

impl PaintedNode {
    pub(crate) fn planes(&self) -> impl Iterator<Item = Hash> {
        self.values.iter().copied().chain([self.coverage])
    }
}

impl Node for LayerNode {
    const KIND: Kind = Kind::Layer;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        let masks = std::iter::once(&self.mask).chain(self.cells.values().map(|cell| &cell.mask));
        masks.flat_map(MaskNode::planes).for_each(|plane| visit(Kind::Plane, plane));
        match &self.content {
            ContentNode::Painted(cells) => {
                let planes = cells.values().flat_map(PaintedNode::planes);
                planes.for_each(|plane| visit(Kind::Plane, plane));
            }
            ContentNode::Solid(_) => {}
            ContentNode::Group { children, .. } => {
                for child in children {
                    visit(Kind::Layer, *child);
                }
            }
        }
    }
}
