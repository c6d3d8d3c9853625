//! A tooth over one block of texels.

use glam::Vec3;
use raster::{Lanes, Work};
use surface::{DecodedTile, Surface, TexelBlock};

use super::noise::Space;
use super::{Places, Tooth};
use crate::kernel::Lane;

impl Tooth {
    /// The shares of a dab that the texels of the block at a position take.
    pub(crate) fn on_block(
        &self,
        surface: &Surface,
        decoded: &DecodedTile,
        position: usize,
    ) -> Lane {
        let block = &decoded.blocks[position];
        Lanes::widest().run(Shares { tooth: self, surface, decoded, block })
    }
}

/// Works out a block.
struct Shares<'a> {
    tooth: &'a Tooth,
    surface: &'a Surface,
    decoded: &'a DecodedTile,
    block: &'a TexelBlock,
}

impl Work for Shares<'_> {
    type Done = Lane;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> Lane {
        let Self { tooth, surface, decoded, block } = self;
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
        tooth.shares(&places)
    }
}
