//! A tooth over one tile: worked out once a stroke, and only for the blocks that it touches.

use glam::Vec3;
use raster::{TILE_TEXELS, Work};
use surface::{BLOCK_TEXELS, DecodedTile, Surface, TexelBlock};

use super::noise::Space;
use super::{Places, Tooth};
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

    /// True where nothing was worked out yet.
    pub(crate) fn is_nothing(&self) -> bool {
        self.ready == 0
    }

    /// Bytes of memory that it takes.
    pub(crate) fn bytes(&self) -> usize {
        self.blocks.as_ref().map_or(0, |_| size_of::<Blocks>())
    }

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
        let axis = |number: usize| {
            let triangle = decoded.frames[block.frame[number] as usize].triangle;
            let part = parts.get(surface.part_of(triangle).0 as usize);
            part.map_or(Vec3::Y, |part| part.axis)
        };
        let follows = tooth.along_axis && tooth.relief.has_direction();
        let of = |lane: &[Lane; 3]| Space { x: lane[0], y: lane[1], z: lane[2] };
        let origin = decoded.origin;
        let places = Places {
            position: of(&block.offset).map(|offset| (origin + offset.as_dvec3()).as_vec3()),
            normal: of(&block.normal),
            axis: follows.then(|| Space::of(axis)),
        };
        *into = tooth.shares(&places);
    }
}
