//! Small scenes that can be worked out by hand.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{
    BlendSpace, ChannelDescriptor, ChannelId, Combine, Composite, Composition, Content, Fields,
    Ground, Layer, LayerId, LayersError, MaskSource, MaskTerm, NoFields, Opacity, Stack, TermId,
    Value, composite, standard_channels,
};
use raster::{Extent, Plane, TextureSize, Unobserved};

pub(crate) const HALF: u16 = 32_768;

/// Stacks of 128 texels on the standard channels and their own grounds.
pub(crate) struct Bench {
    pub(crate) stack: Stack,
    pub(crate) ground: Ground,
    pub(crate) channels: Vec<ChannelDescriptor>,
    pub(crate) blend_space: BlendSpace,
}

impl Bench {
    pub(crate) fn new(layers: Vec<Layer>) -> Self {
        Self {
            stack: Stack { layers: layers.into_iter().map(Arc::new).collect() },
            ground: Ground::new(),
            channels: standard_channels(),
            blend_space: BlendSpace::Encoded,
        }
    }

    pub(crate) fn composition<'a>(&'a self, fields: &'a dyn Fields) -> Composition<'a> {
        Composition {
            stack: &self.stack,
            ground: &self.ground,
            channels: &self.channels,
            blend_space: self.blend_space,
            size: TextureSize::new(128).unwrap(),
            fields,
        }
    }

    pub(crate) fn composite(&self) -> Result<Composite, LayersError> {
        composite(&self.composition(&NoFields), &Unobserved)
    }

    /// Roughness at the top left, and how much was painted there.
    pub(crate) fn roughness(&self) -> (u16, u16) {
        let composite = self.composite().unwrap();
        let channel = &composite.channels[&ChannelId::ROUGHNESS];
        (channel.values[0].texel(0, 0).unwrap(), channel.painted.texel(0, 0).unwrap())
    }
}

pub(crate) const fn extent() -> Extent {
    Extent { width: 128, height: 128 }
}

pub(crate) fn rough(id: u32, value: u16) -> Layer {
    let content = Content::Solid(BTreeMap::from([(ChannelId::ROUGHNESS, Value::Scalar(value))]));
    Layer::new(LayerId(id), format!("rough {id}"), content)
}

pub(crate) fn half() -> Opacity {
    Opacity::new(0.5).unwrap()
}

pub(crate) fn term(combine: Combine, source: MaskSource) -> MaskTerm {
    MaskTerm { id: TermId(0), on: true, invert: false, strength: Opacity::FULL, combine, source }
}

pub(crate) fn painted_term(combine: Combine, value: u16) -> MaskTerm {
    term(combine, MaskSource::Painted(Plane::uniform(extent(), value)))
}
