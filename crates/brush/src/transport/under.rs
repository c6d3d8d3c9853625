//! The blocks of texels that lie under a dab, and where.

use surface::{DecodedTile, TexelBlock};

use super::frame::{Framed, Places};
use super::tile_values::TileValues;
use crate::kernel::Lane;

/// See the module.
#[derive(Debug, Clone)]
pub(crate) struct Under {
    /// The block's place in its tile.
    pub(crate) place: u8,
    /// The texels that are gathered, a bit each.
    pub(crate) wanted: u64,
    /// Where each of its texels lies in the dab's frame: across and down.
    pub(crate) at: [Lane; 2],
    /// The least and the most of how far down they lie.
    pub(crate) rows: [f32; 2],
}

impl Under {
    /// A block of which nothing is gathered yet.
    pub(crate) fn of(block: &TexelBlock, points: [&Lane; 3], frame: &Places) -> Self {
        let at = frame.of(points);
        let mut rows = [f32::MAX, f32::MIN];
        for &down in &at[1] {
            rows[0] = if down < rows[0] { down } else { rows[0] };
            rows[1] = if down > rows[1] { down } else { rows[1] };
        }
        Self { place: block.place, wanted: 0, at, rows }
    }

    /// Those of a tile's blocks that `wanted` gives any texel of, in place of those that were listed before.
    pub(crate) fn list<D: Framed>(
        list: &mut Vec<Self>,
        (decoded, frame): (&DecodedTile, &Places),
        which: impl Fn(&TexelBlock) -> bool,
        wanted: impl Fn(&TexelBlock, &Self) -> u64,
    ) {
        list.clear();
        for block in decoded.blocks.iter().filter(|block| which(block)) {
            let mut under = Self::of(block, D::points(block), frame);
            under.wanted = wanted(block, &under);
            list.push(under);
        }
    }
}

/// What lies under a dab in one tile.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lying<'a> {
    pub(crate) values: &'a TileValues,
    pub(crate) blocks: &'a [Under],
}
