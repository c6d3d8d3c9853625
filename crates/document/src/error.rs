//! Why an edit was refused. Nothing was changed then.

use brush::BrushError;
use layers::{BlendMode, ChannelId, LayerId, LayersError, TermId};
use raster::{Cancelled, Extent, PageError, RasterError};
use surface::SurfaceError;
use thiserror::Error;

use crate::{ContentHash, MaterialId};

/// Errors of this crate.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum DocumentError {
    /// An edit before any import.
    #[error("there is no model yet: import one first")]
    NoModel,
    /// A second import.
    #[error("the document has a model already: import into a new document")]
    HasModel,
    /// No such material.
    #[error("there is no material {}: materials count from 0 to {}", .material.0, .count.saturating_sub(1))]
    NoMaterial {
        /// The material asked for.
        material: MaterialId,
        /// How many there are.
        count: usize,
    },
    /// A channel that the document does not have.
    #[error("there is no channel {}", .0.0)]
    NoChannel(ChannelId),
    /// A value of the wrong kind: a colour for a scalar channel or the other way round.
    #[error("channel {channel} takes {takes}")]
    WrongValue {
        /// The channel's key.
        channel: String,
        /// What it takes.
        takes: &'static str,
    },
    /// A layer of another kind than the edit needs.
    #[error("layer {} is not a {needs} layer", .layer.0)]
    WrongLayer {
        /// The layer.
        layer: LayerId,
        /// What the edit needs.
        needs: &'static str,
    },
    /// A step of a layer's recipe that is not there.
    #[error("layer {} has no step {step}: {}", .layer.0, match .count {
        0 => "nothing is painted on it".to_owned(),
        count => format!("its steps count from 0 to {}", count - 1),
    })]
    NoStep {
        /// The layer.
        layer: LayerId,
        /// The step asked for.
        step: usize,
        /// How many there are.
        count: usize,
    },
    /// A step that began a mask.
    #[error("step {step} of layer {} began a mask: remove the mask term instead", .layer.0)]
    MaskBegins {
        /// The layer.
        layer: LayerId,
        /// The step.
        step: usize,
    },
    /// A layer whose recipe is not whole.
    #[error("layer {} can't be painted again: some of its strokes are lost", .0.0)]
    NotWhole(LayerId),
    /// No such mask term.
    #[error("layer {} has no mask term {} there", .layer.0, .term.0)]
    NoTerm {
        /// The layer.
        layer: LayerId,
        /// The term asked for.
        term: TermId,
    },
    /// A mask term with this id is there already.
    #[error("layer {} has a mask term {} there already: choose another id", .layer.0, .term.0)]
    TermExists {
        /// The layer.
        layer: LayerId,
        /// The term.
        term: TermId,
    },
    /// A stroke into a term that is computed from a field.
    #[error("mask term {} of layer {} is computed from a field: it can't be painted", .term.0, .layer.0)]
    TermNotPainted {
        /// The layer.
        layer: LayerId,
        /// The term.
        term: TermId,
    },
    /// A mask on a field that was not baked.
    #[error("field {0} was not baked for this material: bake it first")]
    FieldNotBaked(String),
    /// A baked result that was made from something else than what the document holds now.
    #[error(
        "this result was made from model {made_from}, but the document holds {holds}: make it again"
    )]
    Outdated {
        /// What it was made from.
        made_from: ContentHash,
        /// What the document holds.
        holds: ContentHash,
    },
    /// A baked field of another size than the material's textures.
    #[error(
        "field {field} has {} x {} texels and the material {} x {}: bake it again",
        found.width, found.height, expected.width, expected.height
    )]
    FieldExtent {
        /// The field's key.
        field: String,
        /// Its extent.
        found: Extent,
        /// The material's.
        expected: Extent,
    },
    /// A merge of the lowest layer of its list.
    #[error("layer {} has none below it to be merged with", .layer.0)]
    NothingBelow {
        /// The layer.
        layer: LayerId,
    },
    /// A merge of something that has no texels of its own.
    #[error(
        "layer {} can't be merged: it is hidden, or a group that lets what is below it through", .layer.0
    )]
    CannotMerge {
        /// The layer.
        layer: LayerId,
    },
    /// A merge that would look otherwise.
    #[error(
        "merged, layer {} would look otherwise, as its blend mode is {}: set it to normal, or group \
         the layers instead", .layer.0, mode.key()
    )]
    MergeLooks {
        /// The layer.
        layer: LayerId,
        /// Its blend mode.
        mode: BlendMode,
    },
    /// A name of no letters.
    #[error("a name can't be empty")]
    EmptyName,
    /// A part that the model does not have.
    #[error("there is no part {0}")]
    NoPart(u32),
    /// A selection of nothing.
    #[error("nothing would be selected: nothing could be painted then")]
    NothingSelected,
    /// A change of a selection where there is none.
    #[error("everything may be painted: select something first")]
    NoSelection,
    /// A stroke, a fill or a gradient that the selection lets nothing through of.
    #[error("this lies wholly outside of what is selected, so that nothing is painted")]
    OutsideSelection,
    /// A stroke that its stencil lets nothing through of.
    #[error("the stencil lets nothing through here: move it, or let go of it")]
    OutsideStencil,
    /// A selection that grows or softens by too little or too much.
    #[error("a selection can't change by {texels} texels: give 1 to {most}")]
    SelectionTexels {
        /// What was asked for.
        texels: u32,
        /// The most.
        most: u32,
    },
    /// A tolerance that is none.
    #[error("tolerance is {0}: give 0 to 1")]
    Tolerance(f32),
    /// A texel that shows nothing of the surface.
    #[error("nothing of the surface lies at {u}, {v} of the texture: pick a texel of an island")]
    NothingThere {
        /// Where.
        u: f32,
        /// Where.
        v: f32,
    },
    /// A list that must name something names nothing.
    #[error("the edit names no channel")]
    NoChannels,
    /// The layer tree refused.
    #[error(transparent)]
    Layers(#[from] LayersError),
    /// The stroke can't be made.
    #[error(transparent)]
    Brush(#[from] BrushError),
    /// The surface refused.
    #[error(transparent)]
    Surface(#[from] SurfaceError),
    /// Something of the texture side failed.
    #[error(transparent)]
    Raster(#[from] RasterError),
}

impl From<Cancelled> for DocumentError {
    fn from(cancelled: Cancelled) -> Self {
        Self::Raster(cancelled.into())
    }
}

impl From<PageError> for DocumentError {
    fn from(error: PageError) -> Self {
        Self::Raster(error.into())
    }
}
