//! Where a clone stroke takes its paint from: the texels as they were at pen down.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use raster::{PageError, TileAt};
use surface::{BLOCK_TEXELS, DecodedTiles, TexelBlock};

use super::carried::Carried;
use super::frame::{Framed, Source};
use super::working_tile::{Sheet, Sheets};
use crate::kernel::Lane;

/// Texels that turn further from the source's normal than 80 degrees lie on another side.
const FACING: f32 = 0.17;

/// The tiles that were read.
#[derive(Debug, Default)]
pub(crate) struct Sources {
    read: HashMap<TileAt, Vec<Sheet>>,
}

impl Sources {
    /// Gathers what lies within the frame of a source, in tiles that may hold any of it.
    pub(crate) fn gather<D: Framed>(
        &mut self,
        source: &Source<D>,
        places: &[TileAt],
        (sheets, tiles): (&Sheets, &DecodedTiles),
        carried: &mut Carried,
    ) -> Result<(), PageError> {
        carried.begin_gathering();
        for &at in places {
            let decoded = tiles.tile(at);
            let in_frame = source.frame.on(D::origin(&decoded));
            for block in &decoded.blocks {
                let lies = in_frame.of(D::points(block));
                let wanted = within(&lies) & facing(source, block) & block.shown & !block.padding;
                if wanted == 0 {
                    continue;
                }
                let read = match self.read.entry(at) {
                    Entry::Occupied(held) => held.into_mut(),
                    Entry::Vacant(free) => free.insert(sheets.read(at)?),
                };
                carried.gather(wanted, &lies, (block, read));
            }
        }
        Ok(())
    }

    pub(crate) fn bytes(&self) -> usize {
        self.read.values().flatten().map(|sheet| size_of_val(&**sheet)).sum()
    }
}

/// The texels that lie in the square around the frame's circle.
fn within([right, down]: &[Lane; 2]) -> u64 {
    let mut within = 0;
    for n in 0..BLOCK_TEXELS {
        within |= u64::from(right[n].abs() <= 1.0 && down[n].abs() <= 1.0) << n;
    }
    within
}

fn facing<D>(source: &Source<D>, block: &TexelBlock) -> u64 {
    let Some(normal) = source.normal else { return u64::MAX };
    let faces = |n: usize| u64::from(block.normal_of(n).dot(normal) > FACING) << n;
    (0..BLOCK_TEXELS).map(faces).fold(0, |all, bit| all | bit)
}
