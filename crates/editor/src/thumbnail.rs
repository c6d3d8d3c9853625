//! Small pictures of what a layer holds for a channel, of a mask, and of a channel as a whole.
//!
//! Each is made from a document alone, so that the background can do it while painting goes on. A pixel
//! is the mean of at most 8 x 8 texels, spread over what it shows: a picture of a 4096 x 4096
//! texture looks at one texel in thirty. Tiles in which nothing is painted are passed over.

use document::{Document, MaskOwner, MaterialId};
use layers::{
    ChannelDescriptor, ChannelId, ChannelKind, Layer, LayerId, LayersError, Mask, Samples,
    TileSource,
};
use raster::{
    Extent, Observer, TILE_EDGE, TextureSize, TileAt, decode_stored, encode_srgb, from_unit,
};

use crate::EditorError;

/// Texels along an edge of what a pixel shows that are looked at, where there are as many.
const SAMPLES: u32 = 8;

/// What a thumbnail is of: always the whole square of a material's textures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ThumbnailOf {
    /// What a layer holds for a channel: its texels or its value; of a group what its layers come to by
    /// themselves. Opacity and masks of the layer and the cell, and whether they are on, are left out.
    Cell {
        /// The material.
        material: MaterialId,
        /// The layer.
        layer: LayerId,
        /// The channel.
        channel: ChannelId,
    },
    /// A mask: all of its terms.
    Mask {
        /// The material.
        material: MaterialId,
        /// The layer.
        layer: LayerId,
        /// Whose mask.
        owner: MaskOwner,
    },
    /// A channel as all layers give it.
    Channel {
        /// The material.
        material: MaterialId,
        /// The channel.
        channel: ChannelId,
    },
}

impl ThumbnailOf {
    /// The material.
    pub fn material(&self) -> MaterialId {
        match *self {
            Self::Cell { material, .. }
            | Self::Mask { material, .. }
            | Self::Channel { material, .. } => material,
        }
    }
}

/// A small picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Thumbnail {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Red, green, blue and alpha, row by row from the top left. Colours are sRGB-encoded and straight.
    /// Scalars and masks are grey, their values as an 8-bit map of them has them.
    pub rgba: Vec<u8>,
}

impl Thumbnail {
    /// The one colour of all pixels, where they have one: for a swatch. Its alpha is 0 where nothing is
    /// painted.
    pub fn uniform(&self) -> Option<[u8; 4]> {
        let pixels = self.rgba.as_chunks::<4>().0;
        let first = *pixels.first()?;
        pixels.iter().all(|pixel| *pixel == first).then_some(first)
    }
}

/// Makes a thumbnail of `edge` pixels, or of as many as the texture has where that is less.
///
/// # Errors
/// [`EditorError::Document`] without such a material or channel, [`EditorError::Layers`] without such a layer
/// or where a field is not baked or a tile can't be read, [`EditorError::Cancelled`] when the observer asks.
pub fn thumbnail(
    document: &Document,
    of: &ThumbnailOf,
    edge: u32,
    observer: &dyn Observer,
) -> Result<Thumbnail, EditorError> {
    let composition = document.composition(of.material())?;
    let mut picture = Picture::new(composition.size, edge);
    match *of {
        ThumbnailOf::Cell { material, layer, channel } => {
            let channel = document.channel(channel)?;
            let layer = layer_of(document, material, layer)?;
            let tile = |at| composition.cell_tile(layer, channel, at);
            picture.draw(channel.kind, observer, &tile)?;
            Ok(picture.finish(channel.kind))
        }
        ThumbnailOf::Mask { material, layer, owner } => {
            let mask = mask_of(layer_of(document, material, layer)?, owner);
            let tile = |at| composition.mask_tile(mask, at).map(Some);
            picture.draw(ChannelKind::Scalar, observer, &tile)?;
            Ok(picture.finish(ChannelKind::Scalar))
        }
        ThumbnailOf::Channel { channel, .. } => {
            composition.check()?;
            let channel: &ChannelDescriptor = document.channel(channel)?;
            let tile = |at| composition.channel_tile(channel, at).map(Some);
            picture.draw(channel.kind, observer, &tile)?;
            Ok(picture.finish(channel.kind))
        }
    }
}

/// A layer of a material.
pub(crate) fn layer_of(
    document: &Document,
    material: MaterialId,
    layer: LayerId,
) -> Result<&Layer, EditorError> {
    let found = document.material(material)?.stack.find(layer);
    Ok(found.ok_or(LayersError::UnknownLayer(layer))?)
}

/// A mask of a layer.
pub(crate) fn mask_of(layer: &Layer, owner: MaskOwner) -> &Mask {
    match owner {
        MaskOwner::Layer => &layer.mask,
        MaskOwner::Cell(channel) => &layer.cell(channel).mask,
    }
}

/// A thumbnail on the way.
struct Picture {
    extent: Extent,
    edge: u32,
    /// By tile along an edge: a texel's place in its tile, and the pixel that it counts for.
    axis: Vec<Vec<(u16, u32)>>,
    /// Texels that count for a pixel along an edge.
    each: u32,
    /// Sums for each pixel: values times coverage, colours in linear light; and coverage.
    sums: Vec<[f32; 4]>,
}

impl Picture {
    fn new(size: TextureSize, edge: u32) -> Self {
        let edge = edge.clamp(1, size.edge());
        let each = size.edge().div_ceil(edge).min(SAMPLES);
        let tile = TILE_EDGE as u32;
        let mut axis = vec![Vec::new(); (size.edge() / tile) as usize];
        for sample in 0..edge * each {
            // Each somewhere else in its stretch, by steps of the golden ratio: at even distances a fine
            // pattern would come out as one of its colours.
            let (whole, share) = (u64::from(sample) << 16, u64::from(sample * 40_503 & 0xffff));
            let along = (whole + share) * u64::from(size.edge()) / u64::from(edge * each);
            let texel = (along >> 16) as u32;
            axis[(texel / tile) as usize].push(((texel % tile) as u16, sample / each));
        }
        let sums = vec![[0.0; 4]; (edge * edge) as usize];
        Self { extent: size.extent(), edge, axis, each, sums }
    }

    fn draw<'a>(
        &mut self,
        kind: ChannelKind,
        observer: &dyn Observer,
        tile: &dyn Fn(TileAt) -> Result<Option<TileSource<'a>>, LayersError>,
    ) -> Result<(), EditorError> {
        let down = u64::from(self.extent.tiles().1);
        let (mut indices, mut pixels) = (Vec::new(), Vec::new());
        let mut samples = Samples::default();
        for at in self.extent.tile_places() {
            if at.x == 0 {
                observer.check()?;
                observer.progress(u64::from(at.y), down);
            }
            let Some(source) = tile(at)? else { continue };
            self.samples_of(at, &mut indices, &mut pixels);
            self.add(&source, kind, (&indices, &pixels), &mut samples);
        }
        Ok(())
    }

    /// The texels of a tile that are looked at, and the pixels that they count for.
    fn samples_of(&self, at: TileAt, indices: &mut Vec<u16>, pixels: &mut Vec<u32>) {
        indices.clear();
        pixels.clear();
        for &(y, row) in &self.axis[at.y as usize] {
            for &(x, column) in &self.axis[at.x as usize] {
                indices.push(y * TILE_EDGE as u16 + x);
                pixels.push(row * self.edge + column);
            }
        }
    }

    fn add(
        &mut self,
        source: &TileSource<'_>,
        kind: ChannelKind,
        (indices, pixels): (&[u16], &[u32]),
        samples: &mut Samples,
    ) {
        let decodes = kind == ChannelKind::Colour && !source.is_linear();
        let one = source.is_uniform();
        let looked_at = if one { &indices[..indices.len().min(1)] } else { indices };
        let first = looked_at.chunks(Samples::MOST).zip(pixels.chunks(Samples::MOST));
        for (indices, near) in first {
            source.sample(indices, samples);
            let weighed = |number: usize| {
                let coverage = samples.coverage()[number];
                let mut sum = [0.0, 0.0, 0.0, coverage];
                for (component, sum) in sum.iter_mut().enumerate().take(source.components()) {
                    let value = samples.component(component)[number];
                    let value = if decodes { decode_stored(from_unit(value)) } else { value };
                    *sum = value * coverage;
                }
                sum
            };
            if one {
                let sum = weighed(0);
                pixels.iter().for_each(|&pixel| add(&mut self.sums[pixel as usize], sum));
            } else {
                for (number, &pixel) in near[..indices.len()].iter().enumerate() {
                    add(&mut self.sums[pixel as usize], weighed(number));
                }
            }
        }
    }

    fn finish(self, kind: ChannelKind) -> Thumbnail {
        let count = (self.each * self.each) as f32;
        let eight_bits = |value: f32| (value.clamp(0.0, 1.0) * 255.0 + 0.5) as u8;
        let mut rgba = Vec::with_capacity(4 * self.sums.len());
        for [red, green, blue, coverage] in self.sums {
            let alpha = eight_bits(coverage / count);
            if alpha == 0 {
                rgba.extend([0; 4]);
                continue;
            }
            let straight = |sum: f32| sum / coverage;
            rgba.extend(match kind {
                ChannelKind::Colour => {
                    [red, green, blue].map(|sum| eight_bits(encode_srgb(straight(sum))))
                }
                ChannelKind::Scalar => [eight_bits(straight(red)); 3],
            });
            rgba.push(alpha);
        }
        Thumbnail { width: self.edge, height: self.edge, rgba }
    }
}

fn add(to: &mut [f32; 4], more: [f32; 4]) {
    for (to, more) in to.iter_mut().zip(more) {
        *to += more;
    }
}
