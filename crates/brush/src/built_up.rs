//! What has built up on one tile, and how it is stored.

use raster::{Lanes, TILE_EDGE, TILE_TEXELS, Texels, Tile, Work, from_unit};
use surface::{BLOCK_EDGE, BLOCK_TEXELS, DecodedTile, TexelBlock};

use crate::kernel::Lane;

type Blocks = [Lane; TILE_TEXELS / BLOCK_TEXELS];

/// What is still bare of one tile, as a share, by place of the block: 1 less coverage before the stroke's
/// opacity. So a dab is one product. In `f32`, whose step here is a 900th of that of 16 bits, which would
/// stall at low flow. What it holds for texels that show nothing means nothing.
#[derive(Debug, Clone)]
pub(crate) struct BuiltUp(Box<Blocks>);

impl Default for BuiltUp {
    fn default() -> Self {
        Self(Box::new([[1.0; BLOCK_TEXELS]; TILE_TEXELS / BLOCK_TEXELS]))
    }
}

impl BuiltUp {
    pub(crate) fn clear(&mut self) {
        self.0.fill([1.0; BLOCK_TEXELS]);
    }

    pub(crate) fn copy_from(&mut self, other: &Self) {
        *self.0 = *other.0;
    }

    pub(crate) fn block(&mut self, place: u8) -> &mut Lane {
        &mut self.0[place as usize]
    }

    /// Coverage as stored. It is rounded to the nearest value that does not exceed the opacity: a ceiling
    /// is a ceiling.
    pub(crate) fn rounded(&self, decoded: &DecodedTile, opacity: f32) -> Tile {
        let mut texels: Texels = [0; TILE_TEXELS];
        Lanes::widest().run(Round { bare: &self.0, decoded, opacity, texels: &mut texels });
        Tile::of(&texels)
    }
}

struct Round<'a> {
    bare: &'a Blocks,
    decoded: &'a DecodedTile,
    opacity: f32,
    texels: &'a mut Texels,
}

impl Work for Round<'_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) {
        for block in &self.decoded.blocks {
            round_block(&self.bare[block.place as usize], block, self.opacity, self.texels);
        }
    }
}

#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn round_block(bare: &Lane, block: &TexelBlock, opacity: f32, texels: &mut Texels) {
    let most = (opacity * 65_535.0) as u16;
    let mut rounded = [0u16; BLOCK_TEXELS];
    for number in 0..BLOCK_TEXELS {
        rounded[number] = from_unit((1.0 - bare[number]) * opacity).min(most);
    }
    if block.shown != u64::MAX {
        for (number, value) in rounded.iter_mut().enumerate() {
            *value *= (block.shown >> number & 1) as u16;
        }
    }
    let (left, top) = block.first_texel();
    for (row, values) in rounded.as_chunks::<BLOCK_EDGE>().0.iter().enumerate() {
        let first = (top + row) * TILE_EDGE + left;
        texels[first..first + BLOCK_EDGE].copy_from_slice(values);
    }
}
