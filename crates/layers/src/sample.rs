//! What a stack, a cell or a mask comes to at some texels of a tile, without the rest of the tile: for
//! values under the pointer, for thumbnails, for a mask on show. The arithmetic is the exact compositor's.

use raster::{Lanes, Observer, TILE_TEXELS, Tile, TileAt, texel_index};
use rayon::prelude::*;

use crate::node::{MaskRead, Node, NodeContent, Reading, is_uniform};
use crate::paint::{RUN, Rows, Run, Which, store, stored};
use crate::{
    ChannelDescriptor, ChannelId, ChannelKind, Composition, Layer, LayersError, Mask, PaintedCell,
    Value,
};

/// One tile of something that texels can be taken of.
#[derive(Debug)]
pub struct TileSource<'a> {
    content: Sampled<'a>,
    components: usize,
    linear: bool,
}

#[derive(Debug)]
enum Sampled<'a> {
    Stack { nodes: Vec<Node<'a>>, ground: &'a [u16] },
    Cell(NodeContent<'a>),
    Mask(MaskRead<'a>),
}

/// The values of some texels: a row for each component, and one for coverage.
#[derive(Debug)]
pub struct Samples {
    rows: Rows,
    len: usize,
}

impl Samples {
    /// No more texels than this are looked at together.
    pub const MOST: usize = RUN;

    /// One component, 0..1, straight; see [`TileSource::is_linear`]. Of a mask there is one.
    pub fn component(&self, component: usize) -> &[f32] {
        &self.rows.colour[component][..self.len]
    }

    /// How much is covered, 0..1: of a stack or a mask, all.
    pub fn coverage(&self) -> &[f32] {
        &self.rows.coverage[..self.len]
    }
}

impl Default for Samples {
    fn default() -> Self {
        Self { rows: Rows::NOTHING, len: 0 }
    }
}

impl TileSource<'_> {
    /// True when all texels of the tile are alike.
    pub fn is_uniform(&self) -> bool {
        match &self.content {
            Sampled::Stack { nodes, .. } => nodes.iter().all(Node::is_uniform),
            Sampled::Cell(content) => content.is_uniform(),
            Sampled::Mask(terms) => is_uniform(terms),
        }
    }

    /// True where values are in linear light, as they are when colours are averaged or blended there;
    /// else they are as the channel stores them.
    pub fn is_linear(&self) -> bool {
        self.linear
    }

    /// How many components there are.
    pub fn components(&self) -> usize {
        self.components
    }

    /// Looks at the texels with these indices ([`raster::texel_index`]); no more than
    /// [`Samples::MOST`] of them count.
    pub fn sample(&self, indices: &[u16], samples: &mut Samples) {
        samples.len = indices.len().min(RUN);
        self.run(Which::At(&indices[..samples.len]), samples.len, &mut samples.rows);
    }

    /// Writes the first component of the whole tile as 8 bits a texel, row by row, each value rounded to the
    /// nearest.
    pub fn write_bytes(&self, bytes: &mut [u8; TILE_TEXELS]) {
        let mut rows = Rows::NOTHING;
        if self.is_uniform() {
            self.run(Which::From(0), 1, &mut rows);
            bytes.fill(eight_bits(rows.colour[0][0]));
            return;
        }
        for (first, bytes) in (0..).step_by(RUN).zip(bytes.chunks_exact_mut(RUN)) {
            self.run(Which::From(first), RUN, &mut rows);
            for (byte, &value) in bytes.iter_mut().zip(&rows.colour[0]) {
                *byte = eight_bits(value);
            }
        }
    }

    /// All of it, as stored: a tile for each component, and one for coverage.
    fn tiles(&self) -> (Vec<Tile>, Tile) {
        let mut rows = Rows::NOTHING;
        if self.is_uniform() {
            self.run(Which::From(0), 1, &mut rows);
            let values = rows.colour[..self.components].iter();
            let values = values.map(|row| Tile::Uniform(stored(row[0], self.linear))).collect();
            return (values, Tile::Uniform(stored(rows.coverage[0], false)));
        }
        let mut values = vec![[0; TILE_TEXELS]; self.components];
        let mut coverage = [0; TILE_TEXELS];
        for first in (0..TILE_TEXELS).step_by(RUN) {
            self.run(Which::From(first), RUN, &mut rows);
            for (texels, row) in values.iter_mut().zip(&rows.colour) {
                store(row, self.linear, &mut texels[first..][..RUN]);
            }
            store(&rows.coverage, false, &mut coverage[first..][..RUN]);
        }
        (values.iter().map(Tile::of).collect(), Tile::of(&coverage))
    }

    fn run(&self, which: Which<'_>, len: usize, rows: &mut Rows) {
        let Self { components, linear, .. } = *self;
        let run = Run { components, linear, which, len, lanes: Lanes::widest() };
        match &self.content {
            Sampled::Stack { nodes, ground } => {
                *rows = run.over_ground(nodes, ground);
                rows.coverage[..len].fill(1.0);
            }
            Sampled::Cell(content) => run.isolated(content, rows),
            Sampled::Mask(terms) => {
                rows.colour[0] = run.mask(terms);
                rows.coverage[..len].fill(1.0);
            }
        }
    }
}

fn eight_bits(value: f32) -> u8 {
    (value.clamp(0.0, 1.0) * 255.0 + 0.5) as u8
}

impl<'a> Composition<'a> {
    /// The values of one texel, channel by channel: exactly what [`crate::composite`] gives there. The texel
    /// must lie inside. Takes time by the number of layers, not of texels.
    ///
    /// # Errors
    /// As [`crate::composite`], but nothing cancels it.
    pub fn texel(&self, x: u32, y: u32) -> Result<Vec<(ChannelId, Value)>, LayersError> {
        self.check()?;
        let at = TileAt::of_texel(x, y);
        let index = [texel_index(x, y) as u16];
        let mut samples = Samples::default();
        let channels = self.channels.iter().map(|channel| {
            let source = self.channel_tile(channel, at)?;
            source.sample(&index, &mut samples);
            let value = |component| stored(samples.component(component)[0], source.linear);
            let value = match channel.kind {
                ChannelKind::Colour => Value::Colour([0, 1, 2].map(value)),
                ChannelKind::Scalar => Value::Scalar(value(0)),
            };
            Ok((channel.id, value))
        });
        channels.collect()
    }

    /// A tile of a channel as all layers give it.
    ///
    /// # Errors
    /// [`LayersError::FieldMissing`], or [`LayersError::Raster`] where a tile can't be read.
    pub fn channel_tile(
        &self,
        channel: &'a ChannelDescriptor,
        at: TileAt,
    ) -> Result<TileSource<'a>, LayersError> {
        let nodes = self.reading(channel.id, at).nodes(&self.stack.layers)?;
        let ground = self.ground.get(&channel.id).unwrap_or(&channel.ground).components();
        Ok(TileSource {
            components: ground.len(),
            linear: self.decodes(channel),
            content: Sampled::Stack { nodes, ground },
        })
    }

    /// A tile of what one layer holds for a channel: its texels, its value, or of a group what its layers
    /// come to by themselves. The layer's own opacities and masks, and whether it is on, are left out.
    /// `None` where it gives nothing.
    ///
    /// # Errors
    /// As [`Composition::channel_tile`].
    pub fn cell_tile<'l>(
        &self,
        layer: &'l Layer,
        channel: &ChannelDescriptor,
        at: TileAt,
    ) -> Result<Option<TileSource<'l>>, LayersError> {
        let content = self.reading(channel.id, at).content(layer)?;
        Ok(content.map(|content| {
            // Nothing blends in a single content: its colours may as well be ready to be averaged.
            let alone = matches!(content, NodeContent::Texels { .. });
            TileSource {
                components: channel.kind.components(),
                linear: self.decodes(channel) || (alone && channel.kind == ChannelKind::Colour),
                content: Sampled::Cell(content),
            }
        }))
    }

    /// What one layer holds for a channel as texels of its own: see [`Composition::cell_tile`]. `None`
    /// where it gives nothing at all.
    ///
    /// # Errors
    /// As [`Composition::channel_tile`]; [`LayersError::Cancelled`].
    pub fn flattened(
        &self,
        layer: &Layer,
        channel: &ChannelDescriptor,
        observer: &dyn Observer,
    ) -> Result<Option<PaintedCell>, LayersError> {
        let extent = self.size.extent();
        let places: Vec<TileAt> = extent.tile_places().collect();
        let tiles: Vec<Option<(Vec<Tile>, Tile)>> = places
            .par_iter()
            .map(|&at| {
                observer.check()?;
                Ok(self.cell_tile(layer, channel, at)?.map(|source| source.tiles()))
            })
            .collect::<Result<_, LayersError>>()?;
        let mut cell = PaintedCell::empty(channel.kind, extent);
        let mut any = false;
        for (at, tile) in places.into_iter().zip(tiles) {
            let Some((values, coverage)) = tile else { continue };
            any = true;
            for (plane, tile) in cell.values.iter_mut().zip(values) {
                plane.set_tile(at, tile);
            }
            cell.coverage.set_tile(at, coverage);
        }
        Ok(any.then_some(cell))
    }

    /// A tile of a mask.
    ///
    /// # Errors
    /// As [`Composition::channel_tile`].
    pub fn mask_tile<'m>(&self, mask: &'m Mask, at: TileAt) -> Result<TileSource<'m>, LayersError> {
        let terms = self.reading(ChannelId(0), at).mask(mask)?;
        Ok(TileSource { content: Sampled::Mask(terms), components: 1, linear: false })
    }

    fn reading(&self, channel: ChannelId, at: TileAt) -> Reading<'a> {
        Reading { channel, at, fields: self.fields }
    }
}
