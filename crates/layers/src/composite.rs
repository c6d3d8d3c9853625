//! The exact compositor: for edits, exports, checks and hashes.
//!
//! The same bytes on every processor and for any number of threads: tiles are computed apart from each
//! other, each in a fixed order of operations.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::atomic::{AtomicU64, Ordering};

use raster::{Extent, Observer, Plane, TextureSize, TileAt, TileSet};
use rayon::prelude::*;

use crate::node::Reading;
use crate::paint::{PaintedTile, paint_tile};
use crate::{
    ChannelDescriptor, ChannelId, ChannelKind, Fields, Ground, LayersError, Stack, Value,
    changed_tiles,
};

/// Where colours are blended. Scalars are always blended as stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum BlendSpace {
    /// On sRGB-encoded values, as W3C Compositing and Blending has it.
    #[default]
    Encoded,
    /// In linear light: decoded first, encoded at the end.
    Linear,
}

/// All that a composite depends on.
#[derive(Clone, Copy)]
pub struct Composition<'a> {
    /// The layers.
    pub stack: &'a Stack,
    /// What lies under them.
    pub ground: &'a Ground,
    /// The channels to composite; cells of others are passed over.
    pub channels: &'a [ChannelDescriptor],
    /// Where colours are blended.
    pub blend_space: BlendSpace,
    /// The extent of every plane.
    pub size: TextureSize,
    /// What masks read.
    pub fields: &'a dyn Fields,
}

impl fmt::Debug for Composition<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Composition")
            .field("stack", &self.stack)
            .field("ground", &self.ground)
            .field("channels", &self.channels)
            .field("blend_space", &self.blend_space)
            .field("size", &self.size)
            .finish_non_exhaustive()
    }
}

/// One channel of a composite.
#[derive(Debug, Clone)]
pub struct ChannelComposite {
    /// A plane for each component; opaque, encoded as the channel is.
    pub values: Vec<Plane>,
    /// How much was painted apart from the ground: 1 - the product of (1 - coverage) over all layers.
    pub painted: Plane,
}

/// What a stack looks like, channel by channel.
#[derive(Debug, Clone, Default)]
pub struct Composite {
    /// The channels that were asked for.
    pub channels: BTreeMap<ChannelId, ChannelComposite>,
}

/// Composites every tile of every channel.
///
/// # Errors
/// What [`Composition::check`] finds, [`LayersError::FieldMissing`], [`LayersError::Raster`] where a
/// tile can't be read, and [`LayersError::Cancelled`].
pub fn composite(
    composition: &Composition<'_>,
    observer: &dyn Observer,
) -> Result<Composite, LayersError> {
    composition.check()?;
    let extent = composition.size.extent();
    let starts = composition.channels.iter().map(|channel| from_nothing(channel, extent));
    composition.compute(starts.collect(), observer)
}

/// Composites what changed since `before`, which is the composite of `before_of`. The result equals
/// [`composite`]'s bit for bit, and tiles that did not change keep their identity.
///
/// # Errors
/// As [`composite`].
pub fn recomposite(
    before: &Composite,
    before_of: &Composition<'_>,
    now: &Composition<'_>,
    observer: &dyn Observer,
) -> Result<Composite, LayersError> {
    now.check()?;
    let extent = now.size.extent();
    let starts = now.channels.iter().map(|channel| {
        let known = before.channels.get(&channel.id).filter(|known| {
            known.values.len() == channel.kind.components()
                && known.painted.extent() == extent
                && known.values.iter().all(|plane| plane.extent() == extent)
        });
        known.map_or_else(
            || from_nothing(channel, extent),
            |known| (channel, known.clone(), changed_tiles(before_of, now, channel.id)),
        )
    });
    now.compute(starts.collect(), observer)
}

/// A channel, what is known of its composite, and the tiles of it that must be computed.
type Start<'a> = (&'a ChannelDescriptor, ChannelComposite, TileSet);

fn from_nothing(channel: &ChannelDescriptor, extent: Extent) -> Start<'_> {
    let nothing = Plane::uniform(extent, 0);
    let values = vec![nothing.clone(); channel.kind.components()];
    (channel, ChannelComposite { values, painted: nothing }, TileSet::all(extent))
}

impl Composition<'_> {
    /// Looks whether the stack can be composited; reads no texel.
    ///
    /// # Errors
    /// [`LayersError::WrongGround`], or what [`Stack::check`] finds; but cells of channels that are
    /// not listed are passed over.
    pub fn check(&self) -> Result<(), LayersError> {
        self.stack.check_tree()?;
        for channel in self.channels {
            if self.ground_of(channel).kind() != channel.kind {
                let expected = channel.kind;
                return Err(LayersError::WrongGround { channel: channel.id, expected });
            }
        }
        self.stack.layers.iter().try_for_each(|layer| layer.check_for(self.channels, self.size))
    }

    /// The ground under a channel.
    pub fn ground_of<'c>(&'c self, channel: &'c ChannelDescriptor) -> &'c Value {
        self.ground.get(&channel.id).unwrap_or(&channel.ground)
    }

    /// True where the channel's values are decoded before they are blended.
    pub(crate) fn decodes(&self, channel: &ChannelDescriptor) -> bool {
        channel.kind == ChannelKind::Colour && self.blend_space == BlendSpace::Linear
    }

    fn compute(
        &self,
        mut starts: Vec<Start<'_>>,
        observer: &dyn Observer,
    ) -> Result<Composite, LayersError> {
        let jobs: Vec<(usize, TileAt)> = starts
            .iter()
            .enumerate()
            .flat_map(|(start, (_, _, tiles))| tiles.iter().map(move |at| (start, at)))
            .collect();
        let done = AtomicU64::new(0);
        let results: Vec<Result<PaintedTile, LayersError>> = jobs
            .par_iter()
            .map(|&(start, at)| {
                observer.check()?;
                let tile = self.tile(starts[start].0, at)?;
                observer.progress(done.fetch_add(1, Ordering::Relaxed) + 1, jobs.len() as u64);
                Ok(tile)
            })
            .collect();
        for ((start, at), result) in jobs.into_iter().zip(results) {
            let channel = &mut starts[start].1;
            let tile = result?;
            for (plane, tile) in channel.values.iter_mut().zip(tile.values) {
                plane.set_tile(at, tile);
            }
            channel.painted.set_tile(at, tile.painted);
        }
        let channels = starts.into_iter().map(|(channel, composite, _)| (channel.id, composite));
        Ok(Composite { channels: channels.collect() })
    }

    fn tile(&self, channel: &ChannelDescriptor, at: TileAt) -> Result<PaintedTile, LayersError> {
        let reading = Reading { channel: channel.id, at, fields: self.fields };
        let nodes = reading.nodes(&self.stack.layers)?;
        Ok(paint_tile(&nodes, self.ground_of(channel).components(), self.decodes(channel)))
    }
}
