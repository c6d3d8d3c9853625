//! Where a clone stroke takes its paint from: the texels as they were at pen down.

use std::collections::HashMap;

use raster::{PageError, TileAt};
use rayon::prelude::*;
use surface::{BLOCK_TEXELS, DecodedTile, DecodedTiles, Surface, TexelBlock, TexelFrame};

use super::frame::{Framed, Source};
use super::tile_values::TileValues;
use super::under::{Lying, Under};
use super::working_tile::Sheets;
use crate::LeftOut;
use crate::kernel::Lane;

/// Texels that turn further from the source's normal than 80 degrees lie on another side.
const FACING: f32 = 0.17;

/// The tiles that were read.
#[derive(Debug, Default)]
pub(crate) struct Sources {
    read: HashMap<TileAt, TileValues>,
    /// What the last dab takes from each tile; then lists that may be filled again.
    lists: Vec<(TileAt, Vec<Under>)>,
    used: usize,
}

impl Sources {
    /// Finds what lies within the frame of a source, in tiles that may hold any of it.
    pub(crate) fn look<D: Framed>(
        &mut self,
        source: &Source<D>,
        places: &[TileAt],
        sheets: &Sheets,
        (tiles, left_out): (&DecodedTiles, &LeftOut),
    ) -> Result<(), PageError> {
        self.used = places.len();
        if self.lists.len() < self.used {
            self.lists.resize_with(self.used, || (places[0], Vec::new()));
        }
        let read = &self.read;
        let lists = self.lists.par_iter_mut().zip(places);
        let new = lists.map(|((at, list), &place)| {
            *at = place;
            let decoded = tiles.tile(place);
            let frame = &source.frame.on(D::origin(&decoded));
            let hidden = hidden_frames(&decoded, tiles.surface(), left_out);
            let wanted = |block: &TexelBlock, under: &Under| {
                let lies = within(&under.at) & block.shown & !block.padding;
                if lies == 0 {
                    return 0;
                }
                let depth = frame.depth(D::points(block));
                lies & facing(source, block) & at_most_1(&depth) & !showing(block, &hidden)
            };
            Under::list::<D>(list, (&decoded, frame), |_| true, wanted);
            list.retain(|under| under.wanted != 0);
            let is_new = !list.is_empty() && !read.contains_key(&place);
            is_new.then(|| Ok((place, sheets.read(place)?))).transpose()
        });
        let new: Vec<Option<(TileAt, TileValues)>> = new.collect::<Result<_, PageError>>()?;
        self.read.extend(new.into_iter().flatten());
        Ok(())
    }

    /// What was found.
    pub(crate) fn lying(&self) -> impl Iterator<Item = Lying<'_>> + Clone + Sync {
        self.lists[..self.used].iter().filter_map(|(at, blocks)| {
            let values = self.read.get(at)?;
            Some(Lying { values, blocks })
        })
    }

    pub(crate) fn bytes(&self) -> usize {
        let lists = self.lists.iter().map(|(_, list)| list.capacity() * size_of::<Under>());
        lists.sum::<usize>() + self.read.values().map(TileValues::bytes).sum::<usize>()
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

fn at_most_1(lane: &Lane) -> u64 {
    (0..BLOCK_TEXELS).map(|n| u64::from(lane[n] <= 1.0) << n).fold(0, |all, bit| all | bit)
}

/// For each frame of a tile whether its part is as if it were not there; nothing where none is.
fn hidden_frames(decoded: &DecodedTile, surface: &Surface, left_out: &LeftOut) -> Vec<bool> {
    if left_out.hidden().is_empty() {
        return Vec::new();
    }
    let hides = |frame: &TexelFrame| left_out.hides(surface.part_of(frame.triangle));
    decoded.frames.iter().map(hides).collect()
}

/// The texels of a block that show one of these frames.
fn showing(block: &TexelBlock, frames: &[bool]) -> u64 {
    if frames.is_empty() {
        return 0;
    }
    let mut showing = 0;
    for (n, &frame) in block.frame.iter().enumerate() {
        showing |= u64::from(frames[frame as usize]) << n;
    }
    showing
}

fn facing<D>(source: &Source<D>, block: &TexelBlock) -> u64 {
    let Some(normal) = source.normal else { return u64::MAX };
    let faces = |n: usize| u64::from(block.normal_of(n).dot(normal) > FACING) << n;
    (0..BLOCK_TEXELS).map(faces).fold(0, |all, bit| all | bit)
}
