//! What coverage does to stored planes: composited once a stroke.
//!
//! Values are straight, coverage has a plane of its own. Painting a value `Cs` with coverage `as` over a
//! cell of value `Cb` and coverage `ab` is W3C's source over:
//! `ao = as + ab (1 - as)`, `Co = (as Cs + (1 - as) ab Cb) / ao`.

use raster::{
    PageError, Plane, TILE_TEXELS, Texels, Tile, TileRead, decode_srgb, encode_srgb, from_unit,
    to_unit,
};

use crate::Coverage;

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
        for (at, source) in &stroke.tiles {
            let (source, backdrop) = (source.read()?, old.tile(*at).read()?);
            for (plane, &paint) in cell.values.iter_mut().zip(&cell.paint) {
                let tile = mixed(plane.tile(*at), &source, &backdrop, paint, cell.mixing)?;
                plane.set_tile(*at, tile);
            }
        }
    }
    change_coverage(cells, &before, stroke, |source, backdrop| source + backdrop * (1.0 - source))
}

/// Takes paint off each cell with the coverage of a stroke. Values stay: what comes back is what was there.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn erase_cells(cells: &mut [CellPlanes], stroke: &Coverage) -> Result<(), PageError> {
    let before: Vec<Plane> = cells.iter().map(|cell| cell.coverage.clone()).collect();
    change_coverage(cells, &before, stroke, |source, backdrop| backdrop * (1.0 - source))
}

/// Moves a mask towards `value` by the coverage of a stroke.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn cover_mask(mask: &mut Plane, stroke: &Coverage, value: u16) -> Result<(), PageError> {
    for (at, source) in &stroke.tiles {
        let (source, before) = (source.read()?, mask.tile(*at).read()?);
        let tile = combined(&source, &before, |source, before| {
            from_unit(before + (to_unit(value) - before) * source)
        });
        mask.set_tile(*at, tile);
    }
    Ok(())
}

/// Cells that shared a coverage plane share the new one: it is computed once.
fn change_coverage(
    cells: &mut [CellPlanes],
    before: &[Plane],
    stroke: &Coverage,
    change: impl Fn(f32, f32) -> f32,
) -> Result<(), PageError> {
    for number in 0..cells.len() {
        if let Some(shared) = (0..number).find(|&other| before[other].same(&before[number])) {
            cells[number].coverage = cells[shared].coverage.clone();
            continue;
        }
        for (at, source) in &stroke.tiles {
            let (source, backdrop) = (source.read()?, before[number].tile(*at).read()?);
            let tile = combined(&source, &backdrop, |s, b| from_unit(change(s, b)));
            cells[number].coverage.set_tile(*at, tile);
        }
    }
    Ok(())
}

fn combined(source: &TileRead, backdrop: &TileRead, combine: impl Fn(f32, f32) -> u16) -> Tile {
    let one = |index| combine(to_unit(source.at(index)), to_unit(backdrop.at(index)));
    match (source, backdrop) {
        (TileRead::Uniform(_), TileRead::Uniform(_)) => Tile::Uniform(one(0)),
        _ => Tile::of(&std::array::from_fn::<u16, TILE_TEXELS, _>(one)),
    }
}

/// The new values of one tile. Where nothing was painted before, a tile becomes uniform and costs nothing.
fn mixed(
    values: &Tile,
    source: &TileRead,
    backdrop: &TileRead,
    paint: u16,
    mixing: Mixing,
) -> Result<Tile, PageError> {
    let unpainted = matches!(backdrop, TileRead::Uniform(0));
    let replaced = matches!(source, TileRead::Uniform(u16::MAX));
    if unpainted || replaced || values.same(&Tile::Uniform(paint)) {
        return Ok(Tile::Uniform(paint));
    }
    let old = values.read()?;
    let texels: Texels = std::array::from_fn(|index| {
        let (a, b) = (to_unit(source.at(index)), to_unit(backdrop.at(index)));
        mixed_value(a, b, paint, old.at(index), mixing)
    });
    Ok(Tile::of(&texels))
}

fn mixed_value(source: f32, backdrop: f32, paint: u16, old: u16, mixing: Mixing) -> u16 {
    if source == 0.0 || paint == old {
        return old;
    }
    let covered = source + backdrop * (1.0 - source);
    let mix = |paint: f32, old: f32| (source * paint + (1.0 - source) * backdrop * old) / covered;
    match mixing {
        Mixing::Stored => from_unit(mix(to_unit(paint), to_unit(old))),
        Mixing::LinearLight => {
            from_unit(encode_srgb(mix(decode_srgb(to_unit(paint)), decode_srgb(to_unit(old)))))
        }
    }
}

#[cfg(test)]
mod tests {
    use raster::{Extent, TileAt};

    use super::*;

    const EXTENT: Extent = Extent { width: 64, height: 64 };
    const AT: TileAt = TileAt { x: 0, y: 0 };

    fn coverage(value: u16) -> Coverage {
        Coverage { extent: EXTENT, tiles: vec![(AT, Tile::Uniform(value))] }
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

    #[test]
    fn a_mask_moves_towards_its_value() {
        let mut mask = Plane::uniform(EXTENT, 65_535);
        cover_mask(&mut mask, &coverage(32_768), 0).unwrap();
        assert!((to_unit(mask.texel(1, 1).unwrap()) - 0.5).abs() < 2e-5);
    }
}
