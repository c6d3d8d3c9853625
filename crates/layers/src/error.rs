//! What can go wrong with layers.

use raster::{Cancelled, Extent, PageError, RasterError};
use thiserror::Error;

use crate::{BlendMode, ChannelId, ChannelKind, FieldId, LayerId};

/// Errors of this crate. Whatever fails changes nothing.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LayersError {
    /// No layer of the stack has this id.
    #[error("there is no layer {0}: name a layer that is in the stack")]
    UnknownLayer(LayerId),
    /// Two layers would have one id.
    #[error("layer {0} is in the stack already: give the new layer an id of its own")]
    DuplicateLayer(LayerId),
    /// A layer that is not a group was named as parent.
    #[error("layer {0} is not a group and can't hold layers: name a group")]
    NotAGroup(LayerId),
    /// A group was to be put into itself or into one of its own groups.
    #[error("layer {0} can't be moved into itself: choose a place outside of it")]
    MoveIntoItself(LayerId),
    /// A place beyond the end of its list.
    #[error("place {index} does not exist: give a place from 0 to {len}")]
    IndexOutOfRange {
        /// The place that was asked for.
        index: usize,
        /// How many layers the list holds; the last place allowed.
        len: usize,
    },
    /// Groups stand in groups beyond [`crate::MAX_DEPTH`].
    #[error("groups are nested deeper than {}: take some out", crate::MAX_DEPTH)]
    TooDeep,
    /// A cell of a channel that the material doesn't have.
    #[error(
        "layer {layer} has a cell of channel {channel}, which the material doesn't have: remove the cell"
    )]
    UnknownChannel {
        /// The layer.
        layer: LayerId,
        /// The channel.
        channel: ChannelId,
    },
    /// A blend mode that needs three components, on a channel of one.
    #[error(
        "layer {layer}, channel {channel}: the blend mode {} needs a colour: choose another",
        mode.key()
    )]
    BlendNotAllowed {
        /// The layer.
        layer: LayerId,
        /// The channel.
        channel: ChannelId,
        /// The mode.
        mode: BlendMode,
    },
    /// A cell's content has not as many components as its channel.
    #[error("layer {layer}, channel {channel}: the content must be {expected}")]
    WrongKind {
        /// The layer.
        layer: LayerId,
        /// The channel.
        channel: ChannelId,
        /// What the channel is.
        expected: ChannelKind,
    },
    /// A ground that has not as many components as its channel.
    #[error("the ground of channel {channel} must be {expected}")]
    WrongGround {
        /// The channel.
        channel: ChannelId,
        /// What the channel is.
        expected: ChannelKind,
    },
    /// A plane that has not the material's texture size.
    #[error(
        "layer {layer}: a plane has {} x {} texels and the material {} x {}: resample it first",
        found.width, found.height, expected.width, expected.height
    )]
    WrongExtent {
        /// The layer.
        layer: LayerId,
        /// The plane's extent.
        found: Extent,
        /// The material's extent.
        expected: Extent,
    },
    /// Levels that can't be: equal, or not numbers.
    #[error("levels from {low} to {high}: give two finite numbers that differ")]
    Levels {
        /// The field's value that gives 0.
        low: f32,
        /// The field's value that gives 1.
        high: f32,
    },
    /// Not a number from 0 to 1.
    #[error("opacity {0}: give a number from 0 to 1")]
    Opacity(f32),
    /// A mask reads a field that nobody baked.
    #[error("a mask reads the field {}, which is not baked: bake it, or switch the mask term off", .0.key())]
    FieldMissing(FieldId),
    /// Texels could not be had.
    #[error(transparent)]
    Raster(#[from] RasterError),
    /// The observer asked to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl From<PageError> for LayersError {
    fn from(error: PageError) -> Self {
        Self::Raster(error.into())
    }
}
