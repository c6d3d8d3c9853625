//! One change to a document, as data. Everything that changes a document is an edit.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{
    BlendMode, BlendSpace, ChannelId, Combine, FieldExpr, FieldId, Isolation, LayerId, Opacity,
    Place, TermId, Value,
};
use raster::{Plane, TextureSize};

use crate::{ContentHash, MaskAt, MaskOwner, MaterialId, Model, RegionFill, SelectEdit, Step};

/// A change to a document.
#[derive(Debug, Clone)]
pub enum Edit {
    /// Brings a model into an empty document.
    Import {
        /// The model.
        model: Arc<Model>,
        /// The edge of each material's textures.
        size: TextureSize,
    },
    /// A change to one material.
    Material(MaterialId, MaterialEdit),
}

/// A change to one material.
#[derive(Debug, Clone)]
pub enum MaterialEdit {
    /// Another texture size: layers are painted again from their recipes.
    TextureSize(TextureSize),
    /// Another ground value.
    Ground(ChannelId, Value),
    /// In which values colours blend.
    BlendSpace(BlendSpace),
    /// A baked field.
    Field(Baked),
    /// A new layer.
    AddLayer {
        /// Its id; not used yet in this material.
        layer: LayerId,
        /// Its name.
        name: String,
        /// What it is.
        content: NewContent,
        /// Where it goes.
        place: Place,
    },
    /// Takes a layer, and what a group holds, away.
    RemoveLayer(LayerId),
    /// Puts a layer elsewhere.
    MoveLayer(LayerId, Place),
    /// A copy of a layer right above it. What a copied group holds gets the lowest ids that are free.
    DuplicateLayer {
        /// The layer to copy.
        layer: LayerId,
        /// The copy's id; not used yet in this material.
        copy: LayerId,
    },
    /// Merges a layer into the one right below it, as texels. Refused where that would look otherwise.
    MergeDown(LayerId),
    /// What may be painted.
    Select(SelectEdit),
    /// A change to one layer.
    Layer(LayerId, LayerEdit),
}

/// What a long bake gave, and what it read.
#[derive(Debug, Clone)]
pub struct Baked {
    /// The field.
    pub field: FieldId,
    /// Its values, at the size of the material's textures.
    pub plane: Plane,
    /// The model that it was baked from.
    pub made_from: ContentHash,
}

/// What a new layer is.
#[derive(Debug, Clone, PartialEq)]
pub enum NewContent {
    /// Nothing painted yet.
    Painted,
    /// One value a channel.
    Solid(BTreeMap<ChannelId, Value>),
    /// Nothing in it yet.
    Group(Isolation),
}

/// A change to one layer.
#[derive(Debug, Clone)]
pub enum LayerEdit {
    /// Another name.
    Rename(String),
    /// Shown or not.
    Visible(bool),
    /// Opacity of the whole layer.
    Opacity(Opacity),
    /// How a group meets what is below it.
    Isolation(Isolation),
    /// A change to some of its cells.
    Cells(Vec<ChannelId>, CellEdit),
    /// A solid layer's value in a channel; none takes the channel out of the layer.
    Solid(ChannelId, Option<Value>),
    /// A new mask term, the last in its list.
    AddMaskTerm(MaskOwner, NewTerm),
    /// Takes a mask term away.
    RemoveMaskTerm(MaskAt),
    /// A change to a mask term.
    MaskTerm(MaskAt, MaskTermEdit),
    /// Puts a mask term at another place in its list.
    MoveMaskTerm(MaskAt, usize),
    /// A stroke, a fill, a gradient, or the clearing of cells.
    Paint(Arc<Step>),
    /// Another step in the place of one that was painted before, or none; the layer is painted again.
    Repaint {
        /// Which, counted from 0.
        step: usize,
        /// What is painted instead.
        with: Option<Arc<Step>>,
    },
    /// A fill of a region that is found when the edit is made.
    FillRegion(Arc<RegionFill>),
}

/// A change to a cell.
#[derive(Debug, Clone, PartialEq)]
pub enum CellEdit {
    /// Counted or not.
    On(bool),
    /// How it blends.
    Blend(BlendMode),
    /// How much of it counts.
    Opacity(Opacity),
}

/// A new mask term.
#[derive(Debug, Clone, PartialEq)]
pub struct NewTerm {
    /// Its id; not used yet in this mask.
    pub id: TermId,
    /// How it meets the terms before it.
    pub combine: Combine,
    /// Where its values come from.
    pub source: NewTermSource,
}

/// Where a new mask term's values come from.
#[derive(Debug, Clone, PartialEq)]
pub enum NewTermSource {
    /// It is painted, and starts with one value (0..1 as stored) everywhere.
    Painted(u16),
    /// It is computed from a field.
    Field(FieldExpr),
}

/// A change to a mask term.
#[derive(Debug, Clone, PartialEq)]
pub enum MaskTermEdit {
    /// Counted or not.
    On(bool),
    /// Turned round or not.
    Invert(bool),
    /// How much of it counts.
    Strength(Opacity),
    /// How it meets the terms before it.
    Combine(Combine),
    /// Other levels for a term that is computed from a field.
    Field(FieldExpr),
}
