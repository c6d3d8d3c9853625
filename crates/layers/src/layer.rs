//! A layer: one row of the stack, with a cell for each channel.
//!
//! Layers are values. They are shared by `Arc`, so that what changed is what is not pointer-equal.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use raster::{Extent, Plane, TextureSize, TileSet};

use crate::{
    BlendMode, ChannelDescriptor, ChannelId, ChannelKind, LayersError, Mask, MaskSource, Opacity,
    Value,
};

/// Groups may stand in groups this deep; a layer at the root has depth 1.
pub const MAX_DEPTH: usize = 64;

/// Names a layer within its stack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LayerId(pub u32);

impl fmt::Display for LayerId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// One row of the stack.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Its name for the machine, one within the stack.
    pub id: LayerId,
    /// Its name for the person.
    pub name: String,
    /// A layer that is not visible gives nothing to any channel.
    pub visible: bool,
    /// Multiplies the coverage of every cell.
    pub opacity: Opacity,
    /// Multiplies the coverage of every cell.
    pub mask: Mask,
    /// The settings of the cells that differ from the default.
    pub cells: BTreeMap<ChannelId, CellSettings>,
    /// What the layer gives.
    pub content: Content,
}

/// How one channel of a layer joins what is below.
#[derive(Debug, Clone)]
pub struct CellSettings {
    /// A cell that is off gives nothing.
    pub on: bool,
    /// A pass-through group has no use for its own: its children blend with what is below.
    pub blend: BlendMode,
    /// Multiplies the cell's coverage.
    pub opacity: Opacity,
    /// Multiplies the cell's coverage.
    pub mask: Mask,
}

impl CellSettings {
    /// On, normal, full, no mask.
    pub const DEFAULT: Self = Self {
        on: true,
        blend: BlendMode::Normal,
        opacity: Opacity::FULL,
        mask: Mask { terms: Vec::new() },
    };
}

impl Default for CellSettings {
    fn default() -> Self {
        Self::DEFAULT
    }
}

/// What a layer gives.
#[derive(Debug, Clone)]
pub enum Content {
    /// Texels, for the channels that are painted.
    Painted(BTreeMap<ChannelId, PaintedCell>),
    /// One value everywhere, for the channels that have one.
    Solid(BTreeMap<ChannelId, Value>),
    /// Layers.
    Group {
        /// What the children blend with.
        isolation: Isolation,
        /// Bottom first.
        children: Vec<Arc<Layer>>,
    },
}

/// What the layers of a group blend with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Isolation {
    /// Only with each other, from nothing; their result is then blended as one layer.
    Isolated,
    /// With what is below the group.
    PassThrough,
}

/// The texels of one channel of a painted layer.
#[derive(Debug, Clone)]
pub struct PaintedCell {
    /// A plane for each component of the channel; straight, encoded as the channel is.
    pub values: Vec<Plane>,
    /// How much of each texel the paint covers. Cells of one stroke may share it.
    pub coverage: Plane,
}

impl PaintedCell {
    /// Nothing painted yet; costs nothing.
    pub fn empty(kind: ChannelKind, extent: Extent) -> Self {
        let nothing = Plane::uniform(extent, 0);
        Self { values: vec![nothing.clone(); kind.components()], coverage: nothing }
    }
}

static DEFAULT_CELL: CellSettings = CellSettings::DEFAULT;

impl Layer {
    /// A visible layer of full opacity without masks, its cells as they are by default.
    pub fn new(id: LayerId, name: impl Into<String>, content: Content) -> Self {
        Self {
            id,
            name: name.into(),
            visible: true,
            opacity: Opacity::FULL,
            mask: Mask::default(),
            cells: BTreeMap::new(),
            content,
        }
    }

    /// The settings of a channel's cell.
    pub fn cell(&self, channel: ChannelId) -> &CellSettings {
        self.cells.get(&channel).unwrap_or(&DEFAULT_CELL)
    }

    /// What multiplies the coverage of a channel's cell, masks apart; 0 when the layer gives it nothing.
    pub(crate) fn factor(&self, channel: ChannelId) -> f32 {
        let cell = self.cell(channel);
        if self.visible && cell.on { cell.opacity.get() * self.opacity.get() } else { 0.0 }
    }

    /// The masks of a channel's cell: the layer's and its own.
    pub(crate) fn masks(&self, channel: ChannelId) -> [&Mask; 2] {
        [&self.mask, &self.cell(channel).mask]
    }

    /// The layers that a group holds, bottom first; none for other layers.
    pub fn children(&self) -> &[Arc<Self>] {
        match &self.content {
            Content::Group { children, .. } => children,
            Content::Painted(_) | Content::Solid(_) => &[],
        }
    }

    /// Which tiles of this layer's result may change where the tiles of `tiles` change below it.
    /// Today's layers look at one texel to give one texel; one that looks at its neighbours gives more.
    pub fn spread(&self, tiles: &TileSet) -> TileSet {
        let mut spread = tiles.clone();
        if let Content::Group { isolation: Isolation::PassThrough, children } = &self.content {
            for child in children {
                spread.union(&child.spread(&spread));
            }
        }
        spread
    }

    /// Looks whether the layer, and what it holds, can be composited: planes have the texture's
    /// extent, contents the components of their channels, modes fit, levels are levels.
    ///
    /// # Errors
    /// The first fault found: [`LayersError::WrongExtent`], [`LayersError::WrongKind`],
    /// [`LayersError::UnknownChannel`], [`LayersError::BlendNotAllowed`], [`LayersError::Levels`] or
    /// [`LayersError::TooDeep`].
    pub fn check(
        &self,
        channels: &[ChannelDescriptor],
        size: TextureSize,
    ) -> Result<(), LayersError> {
        self.check_depth(1)?;
        self.check_known(channels)?;
        self.check_for(channels, size)
    }

    /// As [`Layer::check`], but cells of channels that are not listed are passed over.
    pub(crate) fn check_for(
        &self,
        channels: &[ChannelDescriptor],
        size: TextureSize,
    ) -> Result<(), LayersError> {
        self.check_mask(&self.mask, size)?;
        for channel in channels {
            self.check_cell(channel, size)?;
        }
        self.children().iter().try_for_each(|child| child.check_for(channels, size))
    }

    /// Refuses groups in groups beyond [`MAX_DEPTH`]; `depth` is this layer's own.
    pub(crate) fn check_depth(&self, depth: usize) -> Result<(), LayersError> {
        if depth > MAX_DEPTH {
            return Err(LayersError::TooDeep);
        }
        self.children().iter().try_for_each(|child| child.check_depth(depth + 1))
    }

    fn check_known(&self, channels: &[ChannelDescriptor]) -> Result<(), LayersError> {
        let unknown = |id: &&ChannelId| channels.iter().all(|channel| channel.id != **id);
        let stray = match &self.content {
            Content::Painted(cells) => cells.keys().find(unknown),
            Content::Solid(values) => values.keys().find(unknown),
            Content::Group { .. } => None,
        };
        if let Some(&channel) = stray.or_else(|| self.cells.keys().find(unknown)) {
            return Err(LayersError::UnknownChannel { layer: self.id, channel });
        }
        self.children().iter().try_for_each(|child| child.check_known(channels))
    }

    fn check_cell(
        &self,
        channel: &ChannelDescriptor,
        size: TextureSize,
    ) -> Result<(), LayersError> {
        let cell = self.cell(channel.id);
        self.check_mask(&cell.mask, size)?;
        if !cell.blend.allowed_for(channel.kind) {
            let mode = cell.blend;
            return Err(LayersError::BlendNotAllowed { layer: self.id, channel: channel.id, mode });
        }
        let components = match &self.content {
            Content::Painted(cells) => {
                let Some(painted) = cells.get(&channel.id) else { return Ok(()) };
                self.check_extent(&painted.coverage, size)?;
                painted.values.iter().try_for_each(|plane| self.check_extent(plane, size))?;
                painted.values.len()
            }
            Content::Solid(values) => {
                let Some(value) = values.get(&channel.id) else { return Ok(()) };
                value.components().len()
            }
            Content::Group { .. } => return Ok(()),
        };
        if components == channel.kind.components() {
            Ok(())
        } else {
            let expected = channel.kind;
            Err(LayersError::WrongKind { layer: self.id, channel: channel.id, expected })
        }
    }

    fn check_mask(&self, mask: &Mask, size: TextureSize) -> Result<(), LayersError> {
        mask.terms.iter().try_for_each(|term| match &term.source {
            MaskSource::Painted(plane) => self.check_extent(plane, size),
            MaskSource::Field(expr) => expr.check(),
        })
    }

    fn check_extent(&self, plane: &Plane, size: TextureSize) -> Result<(), LayersError> {
        let (found, expected) = (plane.extent(), size.extent());
        if found == expected {
            Ok(())
        } else {
            Err(LayersError::WrongExtent { layer: self.id, found, expected })
        }
    }
}
