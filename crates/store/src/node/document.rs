//! A material and a document as they are stored.

use std::collections::BTreeMap;

use document::MaterialId;
use layers::{BlendSpace, ChannelDescriptor, ChannelId, FieldId, LayerId, Value};

use super::{Node, content_without_end, of_content_without_end};
use crate::Hash;
use crate::hash::Kind;
use crate::written::{Malformed, record};

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct MaterialNode {
    pub(crate) id: MaterialId,
    pub(crate) name: String,
    pub(crate) size: u32,
    pub(crate) blend_space: BlendSpace,
    pub(crate) ground: BTreeMap<ChannelId, Value>,
    /// Bottom first.
    pub(crate) layers: Vec<Hash>,
    pub(crate) recipes: BTreeMap<LayerId, Hash>,
    /// Planes.
    pub(crate) fields: BTreeMap<FieldId, Hash>,
    pub(crate) pass_maps: Vec<Hash>,
    /// A plane. Without one the node is what version 1 was.
    pub(crate) selection: Option<Hash>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct DocumentNode {
    pub(crate) channels: Vec<ChannelDescriptor>,
    pub(crate) model: Option<Hash>,
    pub(crate) materials: Vec<Hash>,
}

record!(MaterialNode {
    id,
    name,
    size,
    blend_space,
    ground,
    layers,
    recipes,
    fields,
    pass_maps,
    selection
});
record!(DocumentNode { channels, model, materials });

impl Node for MaterialNode {
    const KIND: Kind = Kind::Material;
    const VERSION: u8 = 2;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        self.layers.iter().for_each(|layer| visit(Kind::Layer, *layer));
        self.recipes.values().for_each(|recipe| visit(Kind::Recipe, *recipe));
        self.fields.values().for_each(|plane| visit(Kind::Plane, *plane));
        self.pass_maps.iter().for_each(|map| visit(Kind::PassMap, *map));
        self.selection.iter().for_each(|plane| visit(Kind::Plane, *plane));
    }

    fn content(&self) -> Vec<u8> {
        content_without_end(self, &None::<Hash>, self.selection.is_none())
    }

    fn of_content(content: &[u8]) -> Result<Self, Malformed> {
        of_content_without_end(content, &None::<Hash>)
    }
}

impl Node for DocumentNode {
    const KIND: Kind = Kind::Document;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        self.model.iter().for_each(|model| visit(Kind::Model, *model));
        self.materials.iter().for_each(|material| visit(Kind::Material, *material));
    }
}
