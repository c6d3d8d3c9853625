//! Tells whether a thumbnail would come out as before, without making it.

use std::collections::BTreeMap;
use std::sync::Arc;

use document::Document;
use layers::{BlendSpace, ChannelId, Content, FieldId, Layer, Mask, PaintedCell, Value, give_same};
use raster::{Plane, TextureSize};

use crate::thumbnail::{layer_of, mask_of};
use crate::{EditorError, ThumbnailOf};

/// All that a thumbnail shows, by identity. Two are equal only if both give the same picture. It holds what
/// it compares, so that no address can come back as something else: let go of it with its picture.
#[derive(Debug, Clone)]
pub struct ThumbnailKey {
    size: TextureSize,
    shown: Shown,
}

#[derive(Debug, Clone)]
enum Shown {
    Nothing,
    Solid(Value),
    Painted(PaintedCell),
    Mask(Mask, Fields),
    Layers {
        channel: ChannelId,
        layers: Vec<Arc<Layer>>,
        ground: Option<Value>,
        space: BlendSpace,
        fields: Fields,
    },
}

type Fields = BTreeMap<FieldId, Plane>;

impl ThumbnailKey {
    /// What a thumbnail made now would show. Costs a few references.
    ///
    /// # Errors
    /// [`EditorError::Document`] or [`EditorError::Layers`] where there is nothing of the kind.
    pub fn of(document: &Document, of: &ThumbnailOf) -> Result<Self, EditorError> {
        let material = document.material(of.material())?;
        let fields = || material.fields.clone();
        let layers = |channel, layers: &[Arc<Layer>], ground| Shown::Layers {
            channel,
            layers: layers.to_vec(),
            ground,
            space: material.blend_space,
            fields: fields(),
        };
        let shown = match *of {
            ThumbnailOf::Cell { layer, channel, .. } => {
                let layer = layer_of(document, of.material(), layer)?;
                let found = match &layer.content {
                    Content::Painted(cells) => cells.get(&channel).cloned().map(Shown::Painted),
                    Content::Solid(values) => values.get(&channel).copied().map(Shown::Solid),
                    Content::Group { children, .. } => Some(layers(channel, children, None)),
                };
                found.unwrap_or(Shown::Nothing)
            }
            ThumbnailOf::Mask { layer, owner, .. } => {
                let mask = mask_of(layer_of(document, of.material(), layer)?, owner);
                Shown::Mask(mask.clone(), fields())
            }
            ThumbnailOf::Channel { channel, .. } => {
                let ground = material.ground.get(&channel).copied();
                layers(channel, &material.stack.layers, ground)
            }
        };
        Ok(Self { size: material.size, shown })
    }
}

impl PartialEq for ThumbnailKey {
    fn eq(&self, other: &Self) -> bool {
        let shown = match (&self.shown, &other.shown) {
            (Shown::Nothing, Shown::Nothing) => true,
            (Shown::Solid(a), Shown::Solid(b)) => a == b,
            (Shown::Painted(a), Shown::Painted(b)) => a.same(b),
            (Shown::Mask(a, fields), Shown::Mask(b, others)) => {
                a.same(b) && same_fields(fields, others)
            }
            (
                Shown::Layers { channel, layers, ground, space, fields },
                Shown::Layers {
                    channel: other_channel,
                    layers: other_layers,
                    ground: other_ground,
                    space: other_space,
                    fields: other_fields,
                },
            ) => {
                (channel, ground, space) == (other_channel, other_ground, other_space)
                    && give_same(layers, other_layers, *channel)
                    && same_fields(fields, other_fields)
            }
            _ => false,
        };
        shown && self.size == other.size
    }
}

fn same_fields(a: &Fields, b: &Fields) -> bool {
    a.len() == b.len()
        && a.iter().zip(b).all(|((a, plane), (b, other))| a == b && plane.same(other))
}
