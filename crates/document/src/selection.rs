//! Selections: how much of each texel of a material may be painted, and the edits that change it.
//!
//! Selections combine as fuzzy sets do (Zadeh, 1965): the higher value, the lower, what is left of 1. A material
//! without one may be painted everywhere, and pays nothing for it.

use std::sync::Arc;

use brush::{Coverage, FillScope, Lasso, LeftOut, Tooth};
use glam::Vec2;
use layers::ChannelId;
use raster::{Extent, PageError, Plane, RasterError, TILE_TEXELS, Tile, resample_scalar};

use crate::Deposit;

/// How much of each texel may be painted, 0..1 as stored. Never everything, which is no selection at all.
#[derive(Debug, Clone)]
pub struct Selection {
    plane: Plane,
}

impl Selection {
    /// From a plane of the size of the material's textures.
    pub const fn new(plane: Plane) -> Self {
        Self { plane }
    }

    /// Its texels.
    pub const fn plane(&self) -> &Plane {
        &self.plane
    }

    /// True where some of what is covered may be painted.
    ///
    /// # Errors
    /// [`PageError`] when a tile can't be read.
    pub fn meets(&self, coverage: &Coverage) -> Result<bool, PageError> {
        for (at, covered) in &coverage.tiles {
            let limit = self.plane.tile(*at);
            if limit.same(&Tile::Uniform(0)) || covered.same(&Tile::Uniform(0)) {
                continue;
            }
            let (limit, covered) = (limit.read()?, covered.read()?);
            if (0..TILE_TEXELS).any(|index| limit.at(index) > 0 && covered.at(index) > 0) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// The selection at another size.
    ///
    /// # Errors
    /// [`RasterError`] when a tile can't be read.
    pub(crate) fn resampled(self: &Arc<Self>, extent: Extent) -> Result<Arc<Self>, RasterError> {
        if self.plane.extent() == extent {
            return Ok(Arc::clone(self));
        }
        Ok(Arc::new(Self { plane: resample_scalar(&self.plane, extent)? }))
    }
}

/// A change of what is selected.
#[derive(Debug, Clone, PartialEq)]
pub enum SelectEdit {
    /// Everything may be painted: there is no selection.
    Everything,
    /// What is told by a region.
    Region {
        /// What is looked for.
        region: Region,
        /// How it meets what was selected.
        mode: SelectMode,
        /// Parts of which nothing is looked for.
        left_out: LeftOut,
    },
    /// What was not selected.
    Invert,
    /// More all around by some texels; less where negative.
    Grow(i32),
    /// Soft edges that reach some texels to either side.
    Soften(u32),
}

/// How what is selected newly meets what was selected before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum SelectMode {
    /// In its place.
    #[default]
    Replace,
    /// Both.
    Add,
    /// What was selected before, without it.
    TakeAway,
    /// What is selected by both.
    Intersect,
}

/// A part of the surface.
#[derive(Debug, Clone, PartialEq)]
pub enum Region {
    /// What a fill may cover.
    Scope(FillScope),
    /// What lies in a line drawn round it.
    Lasso(Lasso),
    /// What looks like a texel.
    Alike(Alike),
}

/// Texels of one channel, as all layers give it, that are like one of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alike {
    /// The channel that is looked at.
    pub channel: ChannelId,
    /// Where the texel is, 0..1; it must show something of the surface.
    pub uv: Vec2,
    /// By how much each component may differ from the texel's as stored, 0..1.
    pub tolerance: f32,
    /// Only what hangs together with the texel, across seams too.
    pub connected: bool,
}

/// A fill of a region, within what is selected. What is selected stays.
#[derive(Debug, Clone, PartialEq)]
pub struct RegionFill {
    /// What is deposited.
    pub deposit: Deposit,
    /// Where.
    pub region: Region,
    /// How much, 0..1.
    pub opacity: f32,
    /// Parts that are not filled.
    pub left_out: LeftOut,
    /// What takes it; all alike where none.
    pub tooth: Option<Tooth>,
}
