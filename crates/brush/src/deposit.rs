//! What coverage does to stored planes: composited once a stroke.
//!
//! Values are straight, coverage has a plane of its own. Painting a value `Cs` with coverage `as` over a
//! cell of value `Cb` and coverage `ab` is W3C's source over:
//! `ao = as + ab (1 - as)`, `Co = (as Cs + (1 - as) ab Cb) / ao`.

use raster::{
    Lanes, PageError, Plane, TILE_TEXELS, Texels, Tile, TileAt, TileRead, decode_stored,
    encode_stored, from_unit, to_unit,
};

use rayon::prelude::*;

use crate::Coverage;
use crate::shaded::{cover_mask_shaded, cover_shaded};

/// In which values a cell's paint mixes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mixing {
    /// As stored.
    Stored,
    /// In linear light: stored values are sRGB-encoded.
    LinearLight,
}

/// The planes of one painted cell, and what a stroke paints into it.
#[derive(Debug, Clone)]
pub struct CellPlanes {
    /// One plane a component.
    pub values: Vec<Plane>,
    /// How much of each texel is painted. Cells may share it: then they share the result too.
    pub coverage: Plane,
    /// The value to paint, one number a component.
    pub paint: Vec<u16>,
    /// In which values it mixes.
    pub mixing: Mixing,
}

/// Paints each cell's value with the coverage of a stroke.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn cover_cells(cells: &mut [CellPlanes], stroke: &Coverage) -> Result<(), PageError> {
    let before: Vec<Plane> = cells.iter().map(|cell| cell.coverage.clone()).collect();
    for (cell, old) in cells.iter_mut().zip(&before) {
        if !stroke.shades.is_empty() {
            cover_shaded(cell, old, stroke)?;
            continue;
        }
        for (plane, &paint) in cell.values.iter_mut().zip(&cell.paint) {
            let mixing = cell.mixing;
            change_tiles(plane, stroke, |values, at, source| {
                mixed_tile(values, old.tile(at), source, paint, mixing)
            })?;
        }
    }
    change_coverage(cells, &before, stroke, covered_tile)
}

/// Takes paint off each cell with the coverage of a stroke. Values stay: what comes back is what was there.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn erase_cells(cells: &mut [CellPlanes], stroke: &Coverage) -> Result<(), PageError> {
    let before: Vec<Plane> = cells.iter().map(|cell| cell.coverage.clone()).collect();
    change_coverage(cells, &before, stroke, erased_tile)
}

/// Moves a mask towards `value` by the coverage of a stroke.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn cover_mask(mask: &mut Plane, stroke: &Coverage, value: u16) -> Result<(), PageError> {
    if !stroke.shades.is_empty() {
        return cover_mask_shaded(mask, stroke, value);
    }
    change_tiles(mask, stroke, |mask, _, source| masked_tile(mask, source, value))
}

/// Puts what `change` makes of a tile of the plane and the stroke's coverage of it in that tile's place.
fn change_tiles(
    plane: &mut Plane,
    stroke: &Coverage,
    change: impl Fn(&Tile, TileAt, &Tile) -> Result<Tile, PageError> + Sync,
) -> Result<(), PageError> {
    let made = |(at, source): &(TileAt, Tile)| change(plane.tile(*at), *at, source);
    let made: Vec<Tile> = stroke.tiles.par_iter().map(made).collect::<Result<_, _>>()?;
    for ((at, _), tile) in stroke.tiles.iter().zip(made) {
        plane.set_tile(*at, tile);
    }
    Ok(())
}

/// Cells that shared a coverage plane share the new one: it is computed once.
fn change_coverage(
    cells: &mut [CellPlanes],
    before: &[Plane],
    stroke: &Coverage,
    change: impl Fn(&Tile, &Tile) -> Result<Tile, PageError> + Sync,
) -> Result<(), PageError> {
    for number in 0..cells.len() {
        if let Some(shared) = (0..number).find(|&other| before[other].same(&before[number])) {
            cells[number].coverage = cells[shared].coverage.clone();
            continue;
        }
        change_tiles(&mut cells[number].coverage, stroke, |coverage, _, source| {
            change(coverage, source)
        })?;
    }
    Ok(())
}

/// One tile of a cell's coverage, painted with a stroke's.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn covered_tile(coverage: &Tile, source: &Tile) -> Result<Tile, PageError> {
    if coverage.same(&Tile::Uniform(0)) {
        return Ok(source.clone());
    }
    combined(coverage, source, |backdrop, source| source + backdrop * (1.0 - source))
}

/// One tile of a cell's coverage, taken off by a stroke's.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn erased_tile(coverage: &Tile, source: &Tile) -> Result<Tile, PageError> {
    combined(coverage, source, |backdrop, source| backdrop * (1.0 - source))
}

/// One tile of a mask, moved towards `value` by a stroke's coverage.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn masked_tile(mask: &Tile, source: &Tile, value: u16) -> Result<Tile, PageError> {
    let value = to_unit(value);
    combined(mask, source, |before, source| before + (value - before) * source)
}

/// One tile of a cell's values, painted with `paint`; `coverage` is what the cell had before the stroke,
/// `source` the stroke's. Where nothing was painted before, a tile becomes uniform and costs nothing.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn mixed_tile(
    values: &Tile,
    coverage: &Tile,
    source: &Tile,
    paint: u16,
    mixing: Mixing,
) -> Result<Tile, PageError> {
    let unpainted = coverage.same(&Tile::Uniform(0));
    let replaced = source.same(&Tile::Uniform(u16::MAX));
    if unpainted || replaced || values.same(&Tile::Uniform(paint)) {
        return Ok(Tile::Uniform(paint));
    }
    let [old, backdrop, source] = [values.read()?, coverage.read()?, source.read()?];
    let (mut a, mut b, mut c) = ([0; TILE_TEXELS], [0; TILE_TEXELS], [0; TILE_TEXELS]);
    let (old, backdrop) = (texels(&old, &mut a), texels(&backdrop, &mut b));
    let source = texels(&source, &mut c);
    let mut mixed = [0; TILE_TEXELS];
    match mixing {
        Mixing::Stored => Lanes::widest().run(|| {
            let paint_value = to_unit(paint);
            for (index, mixed) in mixed.iter_mut().enumerate() {
                let (source, old) = (source[index], old[index]);
                let value =
                    mix(to_unit(source), to_unit(backdrop[index]), paint_value, to_unit(old));
                let value = if source == 0 { old } else { from_unit(value) };
                *mixed = if paint == old { old } else { value };
            }
        }),
        Mixing::LinearLight => {
            let paint_value = decode_stored(paint);
            for (index, mixed) in mixed.iter_mut().enumerate() {
                let (source, old) = (source[index], old[index]);
                *mixed = old;
                if source != 0 && paint != old {
                    let (source, backdrop) = (to_unit(source), to_unit(backdrop[index]));
                    let value = mix(source, backdrop, paint_value, decode_stored(old));
                    *mixed = encode_stored(value);
                }
            }
        }
    }
    Ok(Tile::of(&mixed))
}

/// W3C's source over, straight: see the module.
#[inline]
pub(crate) fn mix(source: f32, backdrop: f32, paint: f32, old: f32) -> f32 {
    let covered = source + backdrop * (1.0 - source);
    (source * paint + (1.0 - source) * backdrop * old) / covered
}

fn combined(
    backdrop: &Tile,
    source: &Tile,
    combine: impl Fn(f32, f32) -> f32,
) -> Result<Tile, PageError> {
    let (backdrop, source) = (backdrop.read()?, source.read()?);
    if let (TileRead::Uniform(backdrop), TileRead::Uniform(source)) = (&backdrop, &source) {
        return Ok(Tile::Uniform(from_unit(combine(to_unit(*backdrop), to_unit(*source)))));
    }
    let (mut a, mut b) = ([0; TILE_TEXELS], [0; TILE_TEXELS]);
    let (backdrop, source) = (texels(&backdrop, &mut a), texels(&source, &mut b));
    let mut changed = [0; TILE_TEXELS];
    Lanes::widest().run(|| {
        for (index, changed) in changed.iter_mut().enumerate() {
            *changed = from_unit(combine(to_unit(backdrop[index]), to_unit(source[index])));
        }
    });
    Ok(Tile::of(&changed))
}

/// A tile's values; those of a uniform one are written out into `spare`.
fn texels<'a>(tile: &'a TileRead, spare: &'a mut Texels) -> &'a Texels {
    match tile {
        TileRead::Texels(texels) => texels,
        TileRead::Uniform(value) => {
            spare.fill(*value);
            spare
        }
    }
}

#[cfg(test)]
mod tests {
    use raster::{Extent, decode_srgb, encode_srgb};

    use super::*;

    const EXTENT: Extent = Extent { width: 64, height: 64 };
    const AT: TileAt = TileAt { x: 0, y: 0 };

    fn coverage(value: u16) -> Coverage {
        Coverage::new(EXTENT, vec![(AT, Tile::Uniform(value))])
    }

    fn cell(paint: u16, coverage: &Plane) -> CellPlanes {
        CellPlanes {
            values: vec![Plane::uniform(EXTENT, 0)],
            coverage: coverage.clone(),
            paint: vec![paint],
            mixing: Mixing::Stored,
        }
    }

    #[test]
    fn cells_of_one_stroke_share_their_coverage() {
        let none = Plane::uniform(EXTENT, 0);
        let mut cells = [cell(100, &none), cell(60_000, &none)];
        cover_cells(&mut cells, &coverage(30_000)).unwrap();
        assert!(cells[0].coverage.same(&cells[1].coverage));
        assert_eq!(cells[0].coverage.texel(0, 0).unwrap(), 30_000);
        assert_eq!(cells[1].values[0].texel(0, 0).unwrap(), 60_000);
    }

    /// W3C Compositing and Blending Level 1, source over: 0.8 over 0.4, both half covering, gives
    /// coverage 0.75 and value (0.5 x 0.8 + 0.5 x 0.5 x 0.4) / 0.75 = 0.66667.
    #[test]
    fn painting_is_source_over() {
        let half = 32_768;
        let mut cells = [cell(26_214, &Plane::uniform(EXTENT, 0))];
        cover_cells(&mut cells, &coverage(half)).unwrap();
        cells[0].paint = vec![52_428];
        cover_cells(&mut cells, &coverage(half)).unwrap();
        assert!((to_unit(cells[0].coverage.texel(3, 3).unwrap()) - 0.75).abs() < 2e-5);
        assert!((to_unit(cells[0].values[0].texel(3, 3).unwrap()) - 0.666_67).abs() < 2e-5);
    }

    #[test]
    fn erasing_all_leaves_nothing_covered_and_keeps_values() {
        let mut cells = [cell(500, &Plane::uniform(EXTENT, 65_535))];
        cover_cells(&mut cells, &coverage(65_535)).unwrap();
        erase_cells(&mut cells, &coverage(65_535)).unwrap();
        assert_eq!(cells[0].coverage.texel(0, 0).unwrap(), 0);
        assert_eq!(cells[0].values[0].texel(0, 0).unwrap(), 500);
    }

    /// The formula of the module, texel by texel in f32, in the same order of operations.
    #[test]
    fn every_texel_of_a_tile_is_mixed_by_the_formula() {
        let ramp = |step: usize| Tile::of(&std::array::from_fn(|index| (index * step) as u16));
        let tiles = [ramp(16), ramp(7), ramp(331), Tile::Uniform(0), Tile::Uniform(40_000)];
        for (values, coverage, source) in (0..125).map(|n| (n % 5, n / 5 % 5, n / 25)) {
            let [values, coverage, source] = [values, coverage, source].map(|n| &tiles[n]);
            for mixing in [Mixing::Stored, Mixing::LinearLight] {
                let mixed = mixed_tile(values, coverage, source, 900, mixing).unwrap();
                let read = [values, coverage, source, &mixed].map(|tile| tile.read().unwrap());
                for index in 0..TILE_TEXELS {
                    let [old, backdrop, source, got] = read.each_ref().map(|tile| tile.at(index));
                    let (s, b) = (to_unit(source), to_unit(backdrop));
                    if s + b == 0.0 {
                        continue;
                    }
                    let (paint, before) = (to_unit(900), to_unit(old));
                    let over = |paint: f32, before: f32| {
                        (s * paint + (1.0 - s) * b * before) / (s + b * (1.0 - s))
                    };
                    let expected = match mixing {
                        _ if source == 0 || old == 900 => old,
                        Mixing::Stored => from_unit(over(paint, before)),
                        Mixing::LinearLight => {
                            let linear = over(decode_srgb(paint), decode_srgb(before));
                            from_unit(encode_srgb(linear))
                        }
                    };
                    let all_new = matches!(read[1], TileRead::Uniform(0));
                    assert_eq!(got, if all_new { 900 } else { expected }, "texel {index}");
                }
            }
        }
    }

    #[test]
    fn a_mask_moves_towards_its_value() {
        let mut mask = Plane::uniform(EXTENT, 65_535);
        cover_mask(&mut mask, &coverage(32_768), 0).unwrap();
        assert!((to_unit(mask.texel(1, 1).unwrap()) - 0.5).abs() < 2e-5);
    }
}
