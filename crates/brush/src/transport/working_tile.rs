//! A tile that is worked on: what is stored of each cell, as numbers that can be added.

use raster::{
    Lanes, PageError, Plane, Tile, TileAt, TileRead, Work, decode_stored, encode_stored, from_unit,
    to_unit,
};
use surface::{BLOCK_EDGE, BLOCK_TEXELS, DecodedTile, DecodedTiles};

use super::MovedTile;
use super::tile_values::{BLOCKS, TileValues, texel_of};
use crate::LeftOut;
use crate::built_up::{BuiltUp, Shown, put_block, shown_of};
use crate::deposit::{CellPlanes, Mixing};
use crate::kernel::Lane;
use crate::stamp::TileFacts;

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
    pub(crate) fn read(&self, at: TileAt) -> Result<TileValues, PageError> {
        let mut values = TileValues::new(self.count());
        let coverages = self.coverages.iter().map(|plane| plane.tile(at).read());
        let coverages: Vec<TileRead> = coverages.collect::<Result<_, _>>()?;
        for (sheet, read) in (self.components..).zip(&coverages) {
            values.set(sheet, |index| to_unit(read.at(index)));
        }
        let mut sheet = 0;
        for (cell, &coverage) in self.cells.iter().zip(&self.coverage) {
            let value = match cell.mixing {
                Mixing::Stored => to_unit,
                Mixing::LinearLight => decode_stored,
            };
            for plane in &cell.values {
                let (read, covered) = (plane.tile(at).read()?, &coverages[coverage]);
                values.set(sheet, |index| value(read.at(index)) * to_unit(covered.at(index)));
                sheet += 1;
            }
        }
        Ok(values)
    }
}

/// See the module.
#[derive(Debug)]
pub(crate) struct WorkingTile {
    pub(crate) at: TileAt,
    pub(crate) facts: TileFacts,
    /// What the stroke has covered so far, where no overlap may exceed its opacity.
    pub(crate) built: Option<BuiltUp>,
    /// Those that may be painted.
    pub(crate) shown: Box<Shown>,
    pub(crate) values: TileValues,
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
            built: None,
            shown: Box::new(shown_of(decoded, tiles.surface(), left_out)),
            values: sheets.read(at)?,
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
        let Self { at, written, values, handed, .. } = self;
        let (which, components) = (std::mem::take(&mut self.dirty), sheets.components);
        for (sheet, tile) in handed.iter_mut().enumerate().skip(components) {
            renew(tile, (which, written), Covers { values, sheet })?;
        }
        let mut cells = Vec::with_capacity(sheets.cells.len());
        let mut sheet = 0;
        for (cell, &coverage) in sheets.cells.iter().zip(&sheets.coverage) {
            let (first, covers) = (sheet, components + coverage);
            for plane in &cell.values {
                let (before, mixing) = (&plane.tile(*at).read()?, cell.mixing);
                let stored = Straight { values, sheet, covers, before, mixing };
                renew(&mut handed[sheet], (which, written), stored)?;
                sheet += 1;
            }
            cells.push((handed[first..sheet].to_vec(), handed[covers].clone()));
        }
        Ok(MovedTile { at: *at, cells })
    }

    pub(crate) fn bytes(&self) -> usize {
        let built = self.built.as_ref().map_or(0, |_| size_of::<[Lane; BLOCKS]>());
        let handed = self.handed.len() * size_of::<raster::Texels>();
        self.values.bytes() + size_of::<Self>() + 2 * size_of::<Shown>() + built + handed
    }
}

/// What is stored of the texels of a block, by its place.
trait Stored {
    fn of(&self, place: usize) -> [u16; BLOCK_TEXELS];
}

/// A coverage.
struct Covers<'a> {
    values: &'a TileValues,
    sheet: usize,
}

impl Stored for Covers<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn of(&self, place: usize) -> [u16; BLOCK_TEXELS] {
        let covers = self.values.lane(self.sheet, place);
        let mut stored = [0; BLOCK_TEXELS];
        for n in 0..BLOCK_TEXELS {
            stored[n] = from_unit(covers[n]);
        }
        stored
    }
}

/// A value, no longer multiplied by its coverage.
struct Straight<'a> {
    values: &'a TileValues,
    sheet: usize,
    covers: usize,
    /// What stays where nothing is covered.
    before: &'a TileRead,
    mixing: Mixing,
}

impl Stored for Straight<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn of(&self, place: usize) -> [u16; BLOCK_TEXELS] {
        let covers = self.values.lane(self.covers, place);
        let mut value = self.values.lane(self.sheet, place);
        for n in 0..BLOCK_TEXELS {
            value[n] /= covers[n];
        }
        let (mut stored, mut covered) = ([0; BLOCK_TEXELS], [0; BLOCK_TEXELS]);
        for n in 0..BLOCK_TEXELS {
            covered[n] = from_unit(covers[n]);
        }
        match self.mixing {
            Mixing::Stored => {
                for n in 0..BLOCK_TEXELS {
                    stored[n] = from_unit(value[n]);
                }
            }
            Mixing::LinearLight => stored = value.map(encode_stored),
        }
        if covered.contains(&0) {
            let before = block_of(self.before, place);
            for n in 0..BLOCK_TEXELS {
                stored[n] = if covered[n] == 0 { before[n] } else { stored[n] };
            }
        }
        stored
    }
}

/// Gives the written texels of some blocks, a bit a place, what is stored of them. A tile in which that changes nothing
/// stays the same one.
fn renew(
    tile: &mut Tile,
    (which, written): (u64, &Shown),
    stored: impl Stored,
) -> Result<(), PageError> {
    let read = tile.read()?;
    let mut made = [[0; BLOCK_TEXELS]; BLOCKS];
    let renewed = Renewed { read: &read, which, written, stored, made: &mut made };
    let mut left = Lanes::widest().run(renewed);
    drop(read);
    if left == 0 {
        return Ok(());
    }
    let texels = tile.write()?;
    while left != 0 {
        let place = left.trailing_zeros() as u8;
        left &= left - 1;
        put_block(&made[place as usize], place, texels);
    }
    Ok(())
}

/// Finds the blocks that differ from a tile.
struct Renewed<'a, S> {
    read: &'a TileRead,
    which: u64,
    written: &'a Shown,
    stored: S,
    made: &'a mut [[u16; BLOCK_TEXELS]; BLOCKS],
}

impl<S: Stored> Work for Renewed<'_, S> {
    type Done = u64;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> u64 {
        let (mut differ, mut left) = (0, self.which);
        while left != 0 {
            let place = left.trailing_zeros() as usize;
            left &= left - 1;
            let (written, before) = (self.written[place], block_of(self.read, place));
            let mut new = self.stored.of(place);
            for n in 0..BLOCK_TEXELS {
                new[n] = if written >> n & 1 == 1 { new[n] } else { before[n] };
            }
            differ |= u64::from(new != before) << place;
            self.made[place] = new;
        }
        differ
    }
}

/// The block at a place of a tile.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn block_of(tile: &TileRead, place: usize) -> [u16; BLOCK_TEXELS] {
    match tile {
        TileRead::Uniform(value) => [*value; BLOCK_TEXELS],
        TileRead::Texels(texels) => {
            let mut block = [0; BLOCK_TEXELS];
            for (row, values) in block.as_chunks_mut::<BLOCK_EDGE>().0.iter_mut().enumerate() {
                let first = texel_of(place, row * BLOCK_EDGE);
                values.copy_from_slice(&texels[first..first + BLOCK_EDGE]);
            }
            block
        }
    }
}
