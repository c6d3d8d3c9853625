//! A material's channels as whole images, padded for export.

use document::{Document, MaterialId, Surfaces};
use layers::{ChannelDescriptor, ChannelKind, Composite};
use raster::{Bitmap, Observer, RasterError, push_pull_colour, push_pull_scalar};

use crate::EditorError;

/// One channel of a material as an image.
#[derive(Debug, Clone)]
pub struct ChannelMap {
    /// The channel.
    pub channel: ChannelDescriptor,
    /// Three components for a colour, one for a scalar. Where no island lies, it is filled from
    /// around, so that every mip level is right.
    pub image: Bitmap<u16>,
}

/// How much of a channel shows the bare ground.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unpainted {
    /// The channel's key.
    pub channel: String,
    /// Texels of the surface that no layer covers at all.
    pub texels: usize,
    /// Texels of the surface.
    pub of: usize,
}

/// The padded images of every channel.
pub(crate) fn channel_maps(
    document: &Document,
    material: MaterialId,
    composite: &Composite,
    surfaces: &dyn Surfaces,
    observer: &dyn Observer,
) -> Result<Vec<ChannelMap>, EditorError> {
    let size = document.material(material)?.size;
    let map = surfaces.texel_map(document.model()?, material.slot(), size, observer)?;
    let shown = map.shown_texels();
    let mut maps = Vec::new();
    for (done, channel) in (0..).zip(document.channels.iter()) {
        observer.progress(done, document.channels.len() as u64);
        observer.check()?;
        let Some(made) = composite.channels.get(&channel.id) else { continue };
        let mut image = Bitmap::from_planes(&made.values.iter().collect::<Vec<_>>())?;
        match channel.kind {
            ChannelKind::Colour => push_pull_colour(&mut image, &shown),
            ChannelKind::Scalar => push_pull_scalar(&mut image, &shown),
        }
        maps.push(ChannelMap { channel: channel.clone(), image });
    }
    Ok(maps)
}

/// How much of each channel shows the bare ground.
pub(crate) fn unpainted(
    document: &Document,
    material: MaterialId,
    composite: &Composite,
    surfaces: &dyn Surfaces,
    observer: &dyn Observer,
) -> Result<Vec<Unpainted>, EditorError> {
    let size = document.material(material)?.size;
    let map = surfaces.texel_map(document.model()?, material.slot(), size, observer)?;
    let mut found = Vec::new();
    for channel in document.channels.iter() {
        let Some(made) = composite.channels.get(&channel.id) else { continue };
        let (mut texels, mut of) = (0, 0);
        for at in map.tiles() {
            let painted = made.painted.tile(at).read().map_err(RasterError::from)?;
            let (left, top) = at.first_texel();
            for y in top..top + 64 {
                for x in left..left + 64 {
                    if map.owner(x, y).is_some() {
                        of += 1;
                        texels += usize::from(painted.at(raster::texel_index(x, y)) == 0);
                    }
                }
            }
        }
        found.push(Unpainted { channel: channel.key.clone(), texels, of });
    }
    Ok(found)
}
