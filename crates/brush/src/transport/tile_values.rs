//! What is stored of a tile's texels, as numbers that can be added.

use glam::Vec4;
use raster::{TILE_EDGE, TILE_TEXELS};
use surface::{BLOCK_EDGE, BLOCK_TEXELS};

use crate::kernel::Lane;

/// Blocks in a tile.
pub(crate) const BLOCKS: usize = TILE_TEXELS / BLOCK_TEXELS;

/// For each texel a number a sheet. Sheets stand in fours, which are read and written together; texels stand block by
/// block, by place.
#[derive(Debug, Clone)]
pub(crate) struct TileValues {
    fours: Vec<Box<[[Vec4; BLOCK_TEXELS]]>>,
}

impl TileValues {
    /// All of them 0.
    pub(crate) fn new(sheets: usize) -> Self {
        let four = || vec![[Vec4::ZERO; BLOCK_TEXELS]; BLOCKS].into_boxed_slice();
        Self { fours: std::iter::repeat_with(four).take(sheets.div_ceil(4)).collect() }
    }

    /// The block at a place, for each four sheets.
    pub(crate) fn blocks(&self, place: u8) -> impl Iterator<Item = &[Vec4; BLOCK_TEXELS]> {
        self.fours.iter().map(move |four| &four[place as usize])
    }

    /// The same, for writing.
    pub(crate) fn blocks_mut(
        &mut self,
        place: u8,
    ) -> impl Iterator<Item = &mut [Vec4; BLOCK_TEXELS]> {
        self.fours.iter_mut().map(move |four| &mut four[place as usize])
    }

    /// One sheet's numbers of the block at a place.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn lane(&self, sheet: usize, place: usize) -> Lane {
        let (block, number) = (&self.fours[sheet / 4][place], sheet % 4);
        std::array::from_fn(|n| block[n][number])
    }

    /// Gives a sheet the numbers that `value` says, by the texel's index in its tile.
    pub(crate) fn set(&mut self, sheet: usize, value: impl Fn(usize) -> f32) {
        let number = sheet % 4;
        for (place, block) in self.fours[sheet / 4].iter_mut().enumerate() {
            for (n, four) in block.iter_mut().enumerate() {
                four[number] = value(texel_of(place, n));
            }
        }
    }

    pub(crate) fn bytes(&self) -> usize {
        self.fours.iter().map(|four| size_of_val(&**four)).sum()
    }
}

/// Where a texel of a block stands in its tile.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
pub(crate) fn texel_of(place: usize, number: usize) -> usize {
    let across = TILE_EDGE / BLOCK_EDGE;
    let (x, y) = (place % across * BLOCK_EDGE, place / across * BLOCK_EDGE);
    (y + number / BLOCK_EDGE) * TILE_EDGE + x + number % BLOCK_EDGE
}
