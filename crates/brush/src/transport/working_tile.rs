//! A tile that is worked on: what is stored of each cell, as numbers that can be added.

use raster::{
    PageError, Plane, TILE_EDGE, TILE_TEXELS, Texels, Tile, TileAt, TileRead, decode_stored,
    encode_stored, from_unit, to_unit,
};
use surface::{BLOCK_EDGE, DecodedTile, DecodedTiles};

use super::MovedTile;
use crate::LeftOut;
use crate::built_up::{Shown, shown_of};
use crate::deposit::{CellPlanes, Mixing};
use crate::kernel::Lane;
use crate::stamp::TileFacts;

/// A number for each texel of a tile.
pub(crate) type Sheet = Box<[f32; TILE_TEXELS]>;

/// The planes that a stroke moves: the components of each cell, then the coverages, each once.
#[derive(Debug)]
pub(crate) struct Sheets {
    cells: Vec<CellPlanes>,
    /// Which of the coverages is each cell's.
    coverage: Vec<usize>,
    coverages: Vec<Plane>,
    components: usize,
}

impl Sheets {
    pub(crate) fn of(cells: Vec<CellPlanes>) -> Self {
        let mut coverages: Vec<Plane> = Vec::new();
        let mut coverage = Vec::with_capacity(cells.len());
        for cell in &cells {
            let known = coverages.iter().position(|plane| plane.same(&cell.coverage));
            coverage.push(known.unwrap_or_else(|| {
                coverages.push(cell.coverage.clone());
                coverages.len() - 1
            }));
        }
        let components = cells.iter().map(|cell| cell.values.len()).sum();
        Self { cells, coverage, coverages, components }
    }

    /// How many there are.
    pub(crate) fn count(&self) -> usize {
        self.components + self.coverages.len()
    }

    /// The planes, in the order of the sheets.
    fn planes(&self) -> impl Iterator<Item = &Plane> {
        self.cells.iter().flat_map(|cell| &cell.values).chain(&self.coverages)
    }

    /// What is stored of a tile: values multiplied by their coverage, then the coverages.
    pub(crate) fn read(&self, at: TileAt) -> Result<Vec<Sheet>, PageError> {
        let mut coverages = Vec::with_capacity(self.coverages.len());
        for plane in &self.coverages {
            coverages.push(sheet_of(&plane.tile(at).read()?, to_unit));
        }
        let mut sheets = Vec::with_capacity(self.count());
        for (cell, &coverage) in self.cells.iter().zip(&self.coverage) {
            for plane in &cell.values {
                let read = plane.tile(at).read()?;
                let mut sheet = match cell.mixing {
                    Mixing::Stored => sheet_of(&read, to_unit),
                    Mixing::LinearLight => sheet_of(&read, decode_stored),
                };
                for (value, coverage) in sheet.iter_mut().zip(&*coverages[coverage]) {
                    *value *= coverage;
                }
                sheets.push(sheet);
            }
        }
        sheets.append(&mut coverages);
        Ok(sheets)
    }
}

fn sheet_of(read: &TileRead, value: impl Fn(u16) -> f32) -> Sheet {
    let mut sheet = Box::new([0.0; TILE_TEXELS]);
    match read {
        TileRead::Uniform(stored) => sheet.fill(value(*stored)),
        TileRead::Texels(texels) => {
            for (number, &stored) in sheet.iter_mut().zip(texels.iter()) {
                *number = value(stored);
            }
        }
    }
    sheet
}

/// See the module.
#[derive(Debug)]
pub(crate) struct WorkingTile {
    pub(crate) at: TileAt,
    pub(crate) facts: TileFacts,
    /// Those that may be painted.
    pub(crate) shown: Box<Shown>,
    pub(crate) sheets: Vec<Sheet>,
    /// The texels that were written: by place of the block, a bit a texel.
    pub(crate) written: Box<Shown>,
    /// The blocks in which any was since the tile was handed out: a bit a place.
    pub(crate) dirty: u64,
    /// The tiles as they were handed out last, in the order of the sheets.
    handed: Vec<Tile>,
}

impl WorkingTile {
    pub(crate) fn read(
        at: TileAt,
        sheets: &Sheets,
        decoded: &DecodedTile,
        (tiles, left_out): (&DecodedTiles, &LeftOut),
    ) -> Result<Self, PageError> {
        Ok(Self {
            at,
            facts: TileFacts::NOTHING,
            shown: Box::new(shown_of(decoded, tiles.surface(), left_out)),
            sheets: sheets.read(at)?,
            written: Box::new([0; _]),
            dirty: 0,
            handed: sheets.planes().map(|plane| plane.tile(at).clone()).collect(),
        })
    }

    /// The texels of a block that a dab covers anything of.
    pub(crate) fn texels_under(&self, left: &Lane, place: u8) -> u64 {
        let bit = |(number, &left): (usize, &f32)| u64::from(left < 1.0) << number;
        let under = left.iter().enumerate().map(bit).fold(0, |all, bit| all | bit);
        under & self.shown[place as usize]
    }

    /// The tile as it is stored now, made anew where it was written since it was handed out.
    pub(crate) fn stored(&mut self, sheets: &Sheets) -> Result<MovedTile, PageError> {
        let (dirty, components) = (std::mem::take(&mut self.dirty), sheets.components);
        let written = &self.written;
        for (plane, tile) in self.handed.iter_mut().enumerate().skip(components) {
            let sheet = &self.sheets[plane];
            renew(tile, (dirty, written), |index| from_unit(sheet[index].min(1.0)))?;
        }
        let mut cells = Vec::with_capacity(sheets.cells.len());
        let mut number = 0;
        for (cell, &coverage) in sheets.cells.iter().zip(&sheets.coverage) {
            let covered = &self.sheets[components + coverage];
            let first = number;
            for plane in &cell.values {
                let (sheet, before) = (&self.sheets[number], plane.tile(self.at).read()?);
                renew(&mut self.handed[number], (dirty, written), |index| {
                    if from_unit(covered[index]) == 0 {
                        return before.at(index);
                    }
                    let value = (sheet[index] / covered[index]).clamp(0.0, 1.0);
                    match cell.mixing {
                        Mixing::Stored => from_unit(value),
                        Mixing::LinearLight => encode_stored(value),
                    }
                })?;
                number += 1;
            }
            let values = self.handed[first..number].to_vec();
            cells.push((values, self.handed[components + coverage].clone()));
        }
        Ok(MovedTile { at: self.at, cells })
    }

    pub(crate) fn bytes(&self) -> usize {
        self.sheets.len() * size_of::<[f32; TILE_TEXELS]>()
            + size_of::<Self>()
            + 2 * size_of::<Shown>()
    }
}

/// Gives the written texels of some blocks other values.
fn renew(
    tile: &mut Tile,
    (mut blocks, written): (u64, &Shown),
    value: impl Fn(usize) -> u16,
) -> Result<(), PageError> {
    let read = tile.read()?;
    let mut made: Option<Box<Texels>> = None;
    while blocks != 0 {
        let place = blocks.trailing_zeros() as usize;
        blocks &= blocks - 1;
        let mut left = written[place];
        while left != 0 {
            let number = left.trailing_zeros() as usize;
            left &= left - 1;
            let index = texel_of(place, number);
            let (old, new) = (read.at(index), value(index));
            if old != new {
                made.get_or_insert_with(|| Box::new(std::array::from_fn(|n| read.at(n))))[index] =
                    new;
            }
        }
    }
    if let Some(made) = made {
        *tile = Tile::of(&made);
    }
    Ok(())
}

/// Where a texel of a block stands in its tile.
fn texel_of(place: usize, number: usize) -> usize {
    let across = TILE_EDGE / BLOCK_EDGE;
    let (x, y) = (place % across * BLOCK_EDGE, place / across * BLOCK_EDGE);
    (y + number / BLOCK_EDGE) * TILE_EDGE + x + number % BLOCK_EDGE
}
