//! Strokes whose dabs differ in what they paint: each texel gets the stroke's value, changed as its coverage says.

use raster::{
    PageError, Plane, TILE_TEXELS, Tile, TileAt, TileRead, decode_stored, encode_stored, from_unit,
    to_unit,
};
use rayon::prelude::*;

use crate::coverage::{MIDDLE, Shades};
use crate::deposit::{CellPlanes, Mixing, mix};
use crate::{Adjustment, Coverage};

/// How a stroke's own value is changed on each texel of a tile.
struct Shading {
    read: [TileRead; 3],
    paint: Vec<u16>,
    /// The last texel's, and what came of it: neighbours are mostly alike.
    last: Option<([u16; 3], [u16; 3])>,
}

impl Shading {
    fn of(Shades(tiles): &Shades, paint: &[u16]) -> Result<Self, PageError> {
        let [hue, shade, value] = tiles;
        let read = [hue.read()?, shade.read()?, value.read()?];
        Ok(Self { read, paint: paint.to_vec(), last: None })
    }

    /// What is painted on a texel, a number a component; a scalar stands in all three.
    fn paint(&mut self, index: usize) -> [u16; 3] {
        let stored = self.read.each_ref().map(|read| read.at(index));
        if let Some((_, paint)) = self.last.filter(|(last, _)| *last == stored) {
            return paint;
        }
        let [hue, shade, value] = stored.map(differs);
        let by = |hue: f32, value: f32| Adjustment::Shift { hue, saturation: 0.0, value };
        let paint = match self.paint[..] {
            [red, green, blue] => by(180.0 * hue, shade).colour([red, green, blue]).map(from_unit),
            [scalar, ..] => [from_unit(by(0.0, value).scalar(to_unit(scalar))); 3],
            [] => [0; 3],
        };
        self.last = Some((stored, paint));
        paint
    }
}

/// -1..1.
fn differs(stored: u16) -> f32 {
    (f32::from(stored) - f32::from(MIDDLE)) / 32_767.0
}

/// Paints a cell's values; `coverage` is what the cell had before the stroke.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub(crate) fn cover_shaded(
    cell: &mut CellPlanes,
    coverage: &Plane,
    stroke: &Coverage,
) -> Result<(), PageError> {
    let CellPlanes { values, paint, mixing, .. } = cell;
    let made: Vec<(TileAt, Vec<Tile>)> = stroke
        .tiles
        .par_iter()
        .zip(&stroke.shades)
        .map(|((at, source), shades)| {
            let old: Vec<&Tile> = values.iter().map(|plane| plane.tile(*at)).collect();
            let shading = Shading::of(shades, paint)?;
            Ok((*at, mixed(&old, coverage.tile(*at), source, shading, *mixing)?))
        })
        .collect::<Result<_, PageError>>()?;
    for (at, tiles) in made {
        values.iter_mut().zip(tiles).for_each(|(plane, tile)| plane.set_tile(at, tile));
    }
    Ok(())
}

/// As [`crate::mixed_tile`], all components at once.
fn mixed(
    old: &[&Tile],
    coverage: &Tile,
    source: &Tile,
    mut shading: Shading,
    mixing: Mixing,
) -> Result<Vec<Tile>, PageError> {
    let old: Vec<TileRead> = old.iter().map(|tile| tile.read()).collect::<Result<_, _>>()?;
    let (backdrop, source) = (coverage.read()?, source.read()?);
    let mut made = vec![[0; TILE_TEXELS]; old.len()];
    for index in 0..TILE_TEXELS {
        let share = source.at(index);
        let paint = if share > 0 { shading.paint(index) } else { [0; 3] };
        let (share, below) = (to_unit(share), to_unit(backdrop.at(index)));
        for ((texels, old), paint) in made.iter_mut().zip(&old).zip(paint) {
            let old = old.at(index);
            texels[index] = match mixing {
                _ if share == 0.0 => old,
                _ if below == 0.0 => paint,
                Mixing::Stored => from_unit(mix(share, below, to_unit(paint), to_unit(old))),
                Mixing::LinearLight => {
                    encode_stored(mix(share, below, decode_stored(paint), decode_stored(old)))
                }
            };
        }
    }
    Ok(made.iter().map(Tile::of).collect())
}

/// Moves a mask towards `value`, which differs as the stroke says.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub(crate) fn cover_mask_shaded(
    mask: &mut Plane,
    stroke: &Coverage,
    value: u16,
) -> Result<(), PageError> {
    for ((at, source), shades) in stroke.tiles.iter().zip(&stroke.shades) {
        let mut shading = Shading::of(shades, &[value])?;
        let (old, source) = (mask.tile(*at).read()?, source.read()?);
        let texels = std::array::from_fn(|index| {
            let (old, share) = (old.at(index), to_unit(source.at(index)));
            let before = to_unit(old);
            let wanted = to_unit(shading.paint(index)[0]);
            if share == 0.0 { old } else { from_unit(before + (wanted - before) * share) }
        });
        mask.set_tile(*at, Tile::of(&texels));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use raster::{Extent, Hsv};

    use super::*;
    use crate::deposit::{cover_cells, cover_mask};

    const EXTENT: Extent = Extent { width: 64, height: 64 };
    const AT: TileAt = TileAt { x: 0, y: 0 };

    fn stroke(covered: u16, shades: [u16; 3]) -> Coverage {
        let tiles = vec![(AT, Tile::Uniform(covered))];
        Coverage { shades: vec![Shades(shades.map(Tile::Uniform))], ..Coverage::new(EXTENT, tiles) }
    }

    fn painted(paint: &[u16], shades: [u16; 3]) -> Vec<u16> {
        let mut cells = [CellPlanes {
            values: vec![Plane::uniform(EXTENT, 0); paint.len()],
            coverage: Plane::uniform(EXTENT, 0),
            paint: paint.to_vec(),
            mixing: Mixing::Stored,
        }];
        cover_cells(&mut cells, &stroke(65_535, shades)).unwrap();
        cells[0].values.iter().map(|plane| plane.texel(3, 3).unwrap()).collect()
    }

    /// A third of a turn takes red to green: A. R. Smith 1978, the hexcone. A scalar of 0.5 and 0.25 more is 0.75.
    #[test]
    fn a_texel_gets_the_strokes_value_changed_as_its_coverage_says() {
        let by = |part: f32| (32_768.0 + 32_767.0 * part).round() as u16;
        let red = [65_535, 0, 0];
        assert_eq!(painted(&red, [MIDDLE; 3]), red);
        let green = painted(&red, [by(120.0 / 180.0), MIDDLE, by(0.5)]);
        assert!(green[0] <= 8 && green[1] == 65_535 && green[2] <= 8, "{green:?}");
        let dark = painted(&red, [MIDDLE, by(-0.25), MIDDLE]);
        let value = Hsv::of([dark[0], dark[1], dark[2]], Hsv::default()).value;
        assert!((value - 0.75).abs() < 1e-4, "{dark:?}");
        let scalar = painted(&[32_768], [by(0.9), by(0.9), by(0.25)]);
        assert!(scalar[0].abs_diff(49_151) <= 2, "{scalar:?}");
    }

    #[test]
    fn a_mask_moves_towards_the_value_that_differs() {
        let mut mask = Plane::uniform(EXTENT, 65_535);
        cover_mask(&mut mask, &stroke(32_768, [MIDDLE, MIDDLE, 49_152]), 0).unwrap();
        assert!((to_unit(mask.texel(1, 1).unwrap()) - 0.75).abs() < 3e-5);
    }
}
