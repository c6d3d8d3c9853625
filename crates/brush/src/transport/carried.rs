//! What a brush carries: a square picture in the dab's own frame, with coarser ones of half the edge each.
//!
//! It holds differences from the first texel that was gathered: of a field that is the same everywhere they are all
//! 0, so that however often it is smudged, it stays what it was.

use glam::Vec4;
use raster::{Lanes, Work};
use rayon::prelude::*;
use surface::BLOCK_TEXELS;

use super::drawing::Drawing;
use super::picture::{Picture, gaussian};
use super::tile_values::TileValues;
use super::under::{Lying, Under};
use crate::kernel::{Lane, counted};

/// The least edge of the finest picture.
const LEAST: usize = 8;
/// Rows of cells that are gathered together, in one order however many work at it.
const BAND: usize = 32;

/// See the module.
#[derive(Debug)]
pub(crate) struct Carried {
    /// The most cells that an edge may have.
    most: usize,
    /// Sheets, in fours.
    fours: usize,
    /// What differences are taken from, a number a sheet; nothing before anything was gathered.
    base: Vec<Vec4>,
    /// The finest first, as far as one was asked for.
    pictures: Vec<Picture>,
    /// What was gathered in the finest picture's cells: band by band, in each for each four sheets all of its cells.
    sums: Vec<Vec4>,
    /// How many texels that were.
    counts: Vec<f32>,
    /// The picture that was softened, and one that was softened one way.
    soft: [Picture; 2],
    lanes: Lanes,
}

/// How it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Drawn {
    /// From the finest picture, or one that suits larger texels.
    AsItIs,
    /// Softened.
    Softened,
}

impl Carried {
    pub(crate) fn new(sheets: usize, most: usize) -> Self {
        Self {
            most,
            fours: sheets.div_ceil(4),
            base: Vec::new(),
            pictures: Vec::new(),
            sums: Vec::new(),
            counts: Vec::new(),
            soft: Default::default(),
            lanes: Lanes::widest(),
        }
    }

    /// The cells along an edge that are as wide as the texels of a dab whose radius is that many.
    fn edge_for(&self, radius_texels: f32) -> usize {
        let wanted = (2.0 * radius_texels).clamp(LEAST as f32, self.most as f32) as usize;
        // It must do to be halved a few times.
        wanted.next_multiple_of(if wanted > BAND { BAND } else { LEAST })
    }

    /// Carries the same in finer cells, where those of a dab are a good deal finer.
    pub(crate) fn refine(&mut self, radius_texels: f32) {
        let edge = self.edge_for(radius_texels);
        if edge * 4 > self.edge() * 5 {
            let mut finer = Picture::default();
            finer.empty(edge, self.fours);
            finer.resample(&self.pictures[0]);
            self.pictures[0] = finer;
        }
    }

    /// Carries nothing, in cells for a dab whose radius is so many texels.
    pub(crate) fn empty(&mut self, radius_texels: f32) {
        let edge = self.edge_for(radius_texels);
        self.base.clear();
        self.pictures.truncate(1);
        if self.pictures.is_empty() {
            self.pictures.push(Picture::default());
        }
        self.pictures[0].empty(edge, self.fours);
    }

    fn edge(&self) -> usize {
        self.pictures[0].edge
    }

    /// Takes up what lies under a dab, and keeps a share of what it carried before; with no share, nothing of it.
    /// Then there are pictures down to that level.
    pub(crate) fn take_up<'a>(
        &mut self,
        lying: &(impl Iterator<Item = Lying<'a>> + Clone + Sync),
        kept: f32,
        level: usize,
    ) {
        // Where no cell has any paint there is nothing to carry.
        if self.fours == 0 {
            return;
        }
        if self.base.is_empty() {
            self.base.extend(first_of(lying.clone()).into_iter().flatten());
        }
        self.gather(lying);
        self.mix(kept);
        self.make_coarser(level);
    }

    fn gather<'a>(&mut self, lying: &(impl Iterator<Item = Lying<'a>> + Clone + Sync)) {
        let edge = self.edge();
        let (cells, bands) = (BAND * edge, edge.div_ceil(BAND));
        self.sums.resize(bands * cells * self.fours, Vec4::ZERO);
        self.counts.resize(bands * cells, 0.0);
        let (base, lanes) = (&self.base, self.lanes);
        let sums = self.sums.par_chunks_mut(cells * self.fours);
        sums.zip(self.counts.par_chunks_mut(cells)).enumerate().for_each(|(number, band)| {
            let (sums, counts) = band;
            sums.fill(Vec4::ZERO);
            counts.fill(0.0);
            // The first and the last row at which any texel of it may lie.
            let row = |number: usize| (number * BAND) as f32 / (0.5 * edge as f32) - 1.0;
            let [top, bottom] = [
                if number == 0 { f32::MIN } else { row(number) - 1e-4 },
                if number + 1 == bands { f32::MAX } else { row(number + 1) + 1e-4 },
            ];
            for Lying { values, blocks } in lying.clone() {
                for under in blocks.iter().filter(|u| u.rows[0] <= bottom && u.rows[1] >= top) {
                    let InBand { at, mut inside } =
                        lanes.run(CellsOf { under, edge, first: number * cells, cells });
                    inside &= under.wanted;
                    add(inside, &at, (counts, &mut *sums), (values, under.place, base));
                }
            }
        });
    }

    fn mix(&mut self, kept: f32) {
        let cells = BAND * self.edge();
        let (sums, counts, fours) = (&self.sums, &self.counts, self.fours);
        let Picture { fours: pictures, there, .. } = &mut self.pictures[0];
        for (four, picture) in pictures.iter_mut().enumerate() {
            picture.par_chunks_mut(cells).enumerate().for_each(|(band, picture)| {
                let first = band * cells;
                let sums = &sums[(band * fours + four) * cells..];
                for (n, (carried, sum)) in picture.iter_mut().zip(sums).enumerate() {
                    let count = counts[first + n];
                    if count > 0.0 {
                        let gathered = *sum / count;
                        *carried = gathered + (*carried - gathered) * (kept * there[first + n]);
                    }
                }
            });
        }
        for (there, &count) in there.iter_mut().zip(counts) {
            let before = if kept > 0.0 { *there } else { 0.0 };
            *there = if count > 0.0 { 1.0 } else { before };
        }
    }

    fn make_coarser(&mut self, level: usize) {
        let edge = self.edge();
        self.pictures.resize_with(level.max(self.pictures.len() - 1) + 1, Picture::default);
        for number in 1..=level {
            let (finer, coarser) = self.pictures.split_at_mut(number);
            coarser[0].empty(edge >> number, self.fours);
            coarser[0].halve(&finer[number - 1]);
        }
    }

    /// The level in which texels of this width, in radii, are as wide as a cell or narrower.
    pub(crate) fn level_of(&self, texel: f32) -> usize {
        self.level(texel * self.edge() as f32 * 0.5, 1.5).0
    }

    /// The level to be softened, in which `reach` radii are two to four cells, and how many they are.
    pub(crate) fn level_to_soften(&self, reach: f32) -> (usize, f32) {
        self.level(reach * self.edge() as f32 * 0.5, 4.0)
    }

    /// The first level in which so many cells of the finest are no more than `most`, or the coarsest.
    fn level(&self, mut cells: f32, most: f32) -> (usize, f32) {
        let (edge, mut level) = (self.edge(), 0);
        while cells > most && (edge >> level).is_multiple_of(2) && edge >> level > 4 {
            (cells, level) = (cells * 0.5, level + 1);
        }
        (level, cells)
    }

    /// Softens the picture of a level, by so many of its cells.
    pub(crate) fn soften(&mut self, (level, cells): (usize, f32)) {
        if self.base.is_empty() {
            return;
        }
        let [soft, between] = &mut self.soft;
        // A Gaussian's deviation is half of its reach.
        soft.soften(&self.pictures[level], between, &gaussian(f64::from(cells) * 0.5));
    }

    /// Moves the wanted texels of a block towards what is carried there, by their weights; those of a tile are so wide,
    /// in radii. Gives those that it has written.
    pub(crate) fn draw(
        &self,
        (drawn, level): (Drawn, usize),
        (wanted, weights): (u64, &Lane),
        under: &Under,
        values: &mut TileValues,
    ) -> u64 {
        if self.base.is_empty() {
            return 0;
        }
        let picture = match drawn {
            Drawn::AsItIs => &self.pictures[level],
            Drawn::Softened => &self.soft[0],
        };
        self.lanes.run(Drawing { picture, base: &self.base, wanted, weights, under, values })
    }

    pub(crate) fn bytes(&self) -> usize {
        let pictures = self.pictures.iter().chain(&self.soft).map(Picture::bytes).sum::<usize>();
        pictures
            + self.sums.capacity() * size_of::<Vec4>()
            + self.counts.capacity() * size_of::<f32>()
    }
}

/// The numbers of the first texel that is gathered.
fn first_of<'a>(lying: impl Iterator<Item = Lying<'a>>) -> Option<impl Iterator<Item = Vec4>> {
    let mut all =
        lying.flat_map(|Lying { values, blocks }| blocks.iter().map(move |u| (values, u)));
    let (values, under) = all.find(|(_, under)| under.wanted != 0)?;
    let n = under.wanted.trailing_zeros() as usize;
    Some(values.blocks(under.place).map(move |block| block[n]))
}

/// Adds texels of a block, a bit each, to the cells that they lie in.
fn add(
    inside: u64,
    at: &[u32; BLOCK_TEXELS],
    (counts, sums): (&mut [f32], &mut [Vec4]),
    (values, place, base): (&TileValues, u8, &[Vec4]),
) {
    let mut left = inside;
    while left != 0 {
        counts[at[left.trailing_zeros() as usize] as usize] += 1.0;
        left &= left - 1;
    }
    let each = sums.chunks_exact_mut(counts.len()).zip(base);
    for ((sums, base), block) in each.zip(values.blocks(place)) {
        let mut left = inside;
        while left != 0 {
            let n = left.trailing_zeros() as usize;
            left &= left - 1;
            sums[at[n] as usize] += block[n] - *base;
        }
    }
}

/// Finds the cells of a band that a block's texels lie in.
struct CellsOf<'a> {
    under: &'a Under,
    /// Of the picture.
    edge: usize,
    /// The band's first cell, and how many it has.
    first: usize,
    cells: usize,
}

struct InBand {
    /// Counted from the band's first.
    at: [u32; BLOCK_TEXELS],
    /// The texels that lie in the band.
    inside: u64,
}

impl Work for CellsOf<'_> {
    type Done = InBand;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> InBand {
        let ([right, down], edge) = (&self.under.at, self.edge as f32);
        let (first, cells) = (self.first as u32, self.cells as u32);
        let (mut at, mut inside) = ([0; BLOCK_TEXELS], 0);
        for n in 0..BLOCK_TEXELS {
            let cell = |along: f32| {
                let along = (along + 1.0) * (0.5 * edge);
                let along = if along > 0.0 { along } else { 0.0 };
                counted(if along < edge - 1.0 { along.floor() } else { edge - 1.0 })
            };
            at[n] = (cell(down[n]) * self.edge as u32 + cell(right[n])).wrapping_sub(first);
            inside |= u64::from(at[n] < cells) << n;
        }
        InBand { at, inside }
    }
}
