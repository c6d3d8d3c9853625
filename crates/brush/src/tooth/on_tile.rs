//! A tooth over one tile: worked out once a stroke, and only for the blocks that it touches.

use glam::Vec3;
use raster::{TILE_TEXELS, Work};
use surface::{BLOCK_TEXELS, DecodedTile, Surface, TexelBlock};

use super::{Tooth, ToothPoint};
use crate::kernel::Lane;

type Blocks = [Lane; TILE_TEXELS / BLOCK_TEXELS];

/// The shares of a dab that the texels of a tile take.
#[derive(Debug, Clone)]
pub(crate) struct ToothOnTile {
    /// By position of the block.
    blocks: Option<Box<Blocks>>,
    /// Those that were worked out: a bit a position.
    ready: u64,
}

impl ToothOnTile {
    pub(crate) const NOTHING: Self = Self { blocks: None, ready: 0 };

    /// The shares of the block at a position.
    pub(crate) fn block(
        &mut self,
        tooth: &Tooth,
        surface: &Surface,
        decoded: &DecodedTile,
        position: usize,
    ) -> &Lane {
        let blocks = self.blocks.get_or_insert_with(|| Box::new([[1.0; BLOCK_TEXELS]; _]));
        if self.ready >> position & 1 == 0 {
            self.ready |= 1 << position;
            let block = &decoded.blocks[position];
            raster::Lanes::widest().run(Shares {
                tooth,
                surface,
                decoded,
                block,
                into: &mut blocks[position],
            });
        }
        &blocks[position]
    }
}

/// Works out a block.
struct Shares<'a> {
    tooth: &'a Tooth,
    surface: &'a Surface,
    decoded: &'a DecodedTile,
    block: &'a TexelBlock,
    into: &'a mut Lane,
}

impl Work for Shares<'_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) {
        let Self { tooth, surface, decoded, block, into } = self;
        let parts = surface.mesh().parts();
        let follows = tooth.along_axis && tooth.pattern.has_direction();
        let axis = |number: usize| {
            let triangle = decoded.frames[block.frame[number] as usize].triangle;
            parts.get(surface.part_of(triangle).0 as usize).map(|part| part.axis)
        };
        for number in 0..BLOCK_TEXELS {
            let at =
                |lane: &[Lane; 3]| Vec3::new(lane[0][number], lane[1][number], lane[2][number]);
            let position = (decoded.origin + at(&block.offset).as_dvec3()).as_vec3();
            let normal = at(&block.normal);
            let axis = if follows { axis(number) } else { None };
            into[number] = tooth.at(&ToothPoint { position, normal, axis });
        }
    }
}
