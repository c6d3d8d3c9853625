//! The shares of a dab that the texels of one tile take: worked out once a stroke, and only for the blocks that it
//! touches.

use raster::TILE_TEXELS;
use surface::BLOCK_TEXELS;

use crate::kernel::Lane;

type Blocks = [Lane; TILE_TEXELS / BLOCK_TEXELS];

/// See the module.
#[derive(Debug, Clone)]
pub(crate) struct SharesOnTile {
    /// By position of the block.
    blocks: Option<Box<Blocks>>,
    /// Those that were worked out: a bit a position.
    ready: u64,
}

impl SharesOnTile {
    pub(crate) const NOTHING: Self = Self { blocks: None, ready: 0 };

    /// True where nothing was worked out yet.
    pub(crate) fn is_nothing(&self) -> bool {
        self.ready == 0
    }

    /// Bytes of memory that it takes.
    pub(crate) fn bytes(&self) -> usize {
        self.blocks.as_ref().map_or(0, |_| size_of::<Blocks>())
    }

    /// The shares of the block at a position.
    pub(crate) fn block(&mut self, position: usize, shares: impl FnOnce() -> Lane) -> &Lane {
        let blocks = self.blocks.get_or_insert_with(|| Box::new([[1.0; BLOCK_TEXELS]; _]));
        if self.ready >> position & 1 == 0 {
            self.ready |= 1 << position;
            blocks[position] = shares();
        }
        &blocks[position]
    }
}
