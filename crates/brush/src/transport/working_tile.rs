//! A tile that is worked on: what is stored of each cell, as numbers that can be added.

use raster::{
    PageError, Plane, TILE_TEXELS, Tile, TileAt, TileRead, decode_stored, encode_stored, from_unit,
    to_unit,
};
use surface::{DecodedTile, DecodedTiles};

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
    /// True where any was since the tile was handed out.
    pub(crate) changed: bool,
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
            changed: false,
        })
    }

    /// The texels of a block that a dab covers anything of.
    pub(crate) fn texels_under(&self, left: &Lane, place: u8) -> u64 {
        let bit = |(number, &left): (usize, &f32)| u64::from(left < 1.0) << number;
        let under = left.iter().enumerate().map(bit).fold(0, |all, bit| all | bit);
        under & self.shown[place as usize]
    }

    /// The tile as it is stored now.
    pub(crate) fn stored(&self, sheets: &Sheets) -> Result<MovedTile, PageError> {
        let coverages: Vec<Tile> = (sheets.coverages.iter().zip(&self.sheets[sheets.components..]))
            .map(|(plane, sheet)| {
                self.written_over(plane, |index, _| from_unit(sheet[index].min(1.0)))
            })
            .collect::<Result<_, PageError>>()?;
        let (mut cells, mut next) = (Vec::with_capacity(sheets.cells.len()), 0);
        for (cell, &coverage) in sheets.cells.iter().zip(&sheets.coverage) {
            let covered = &self.sheets[sheets.components + coverage];
            let mut values = Vec::with_capacity(cell.values.len());
            for plane in &cell.values {
                let sheet = &self.sheets[next];
                next += 1;
                values.push(self.written_over(plane, |index, old| {
                    if from_unit(covered[index]) == 0 {
                        return old;
                    }
                    let value = (sheet[index] / covered[index]).clamp(0.0, 1.0);
                    match cell.mixing {
                        Mixing::Stored => from_unit(value),
                        Mixing::LinearLight => encode_stored(value),
                    }
                })?);
            }
            cells.push((values, coverages[coverage].clone()));
        }
        Ok(MovedTile { at: self.at, cells })
    }

    /// The tile of a plane with other values where anything was written.
    fn written_over(
        &self,
        plane: &Plane,
        value: impl Fn(usize, u16) -> u16,
    ) -> Result<Tile, PageError> {
        let old = plane.tile(self.at);
        let read = old.read()?;
        let (mut texels, mut same) = ([0; TILE_TEXELS], true);
        for (index, texel) in texels.iter_mut().enumerate() {
            let before = read.at(index);
            *texel = if self.is_written(index) { value(index, before) } else { before };
            same &= *texel == before;
        }
        Ok(if same { old.clone() } else { Tile::of(&texels) })
    }

    fn is_written(&self, index: usize) -> bool {
        let (x, y) = (index % raster::TILE_EDGE, index / raster::TILE_EDGE);
        let edge = surface::BLOCK_EDGE;
        let place = y / edge * (raster::TILE_EDGE / edge) + x / edge;
        self.written[place] >> (y % edge * edge + x % edge) & 1 == 1
    }

    pub(crate) fn bytes(&self) -> usize {
        self.sheets.len() * size_of::<[f32; TILE_TEXELS]>()
            + size_of::<Self>()
            + 2 * size_of::<Shown>()
    }
}
