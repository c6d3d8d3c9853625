//! Strokes that change values instead of replacing them: lighter, darker, shifted. Coverage stays what it was.

use raster::{
    Hsv, Lanes, PageError, Plane, TILE_TEXELS, Tile, TileAt, TileRead, from_unit, to_unit,
};
use rayon::prelude::*;

use crate::deposit::CellPlanes;
use crate::{BrushError, Coverage};

/// How values change, as they are stored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Adjustment {
    /// By this share of what is missing to 1, 0..1.
    Lighten(f32),
    /// By this share of what there is, 0..1.
    Darken(f32),
    /// By as much everywhere.
    Shift {
        /// Added to a colour's hue, in degrees, -180..180.
        hue: f32,
        /// Added to a colour's saturation, -1..1.
        saturation: f32,
        /// Added to a colour's value, or to a scalar, -1..1.
        value: f32,
    },
}

impl Adjustment {
    /// # Errors
    /// [`BrushError::Setting`] naming the first number outside of its range.
    pub fn check(&self) -> Result<(), BrushError> {
        let wanted = match *self {
            Self::Lighten(by) => [("share to lighten by", by, 0.0, 1.0, "0 to 1"); 3],
            Self::Darken(by) => [("share to darken by", by, 0.0, 1.0, "0 to 1"); 3],
            Self::Shift { hue, saturation, value } => [
                ("shift of hue", hue, -180.0, 180.0, "-180 to 180 degrees"),
                ("shift of saturation", saturation, -1.0, 1.0, "-1 to 1"),
                ("shift of value", value, -1.0, 1.0, "-1 to 1"),
            ],
        };
        for (what, value, low, high, range) in wanted {
            if !(low..=high).contains(&value) {
                return Err(BrushError::Setting { what, value: f64::from(value), range });
            }
        }
        Ok(())
    }

    /// A scalar of 0..1 after it.
    pub(crate) fn scalar(&self, old: f32) -> f32 {
        match *self {
            Self::Lighten(by) => old + (1.0 - old) * by,
            Self::Darken(by) => old * (1.0 - by),
            Self::Shift { value, .. } => (old + value).clamp(0.0, 1.0),
        }
    }

    /// A stored colour after it, as components of 0..1.
    pub(crate) fn colour(&self, old: [u16; 3]) -> [f32; 3] {
        let Self::Shift { hue, saturation, value } = *self else {
            return old.map(|component| self.scalar(to_unit(component)));
        };
        let at = Hsv::of(old, Hsv::default());
        let shifted = Hsv {
            hue: at.hue + f64::from(hue),
            saturation: (at.saturation + f64::from(saturation)).clamp(0.0, 1.0),
            value: (at.value + f64::from(value)).clamp(0.0, 1.0),
        };
        // Grey has no hue to be brought out.
        let shifted =
            if at.saturation == 0.0 { Hsv { saturation: 0.0, ..shifted } } else { shifted };
        shifted.components().map(|component| component as f32)
    }
}

/// Changes the values of cells by the coverage of a stroke, where they are painted.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn adjust_cells(
    cells: &mut [CellPlanes],
    stroke: &Coverage,
    by: &Adjustment,
) -> Result<(), PageError> {
    for cell in cells {
        let made = |(at, source): &(TileAt, Tile)| {
            if cell.coverage.tile(*at).same(&Tile::Uniform(0)) {
                return Ok(None);
            }
            let old: Vec<Tile> = cell.values.iter().map(|plane| plane.tile(*at).clone()).collect();
            adjusted(&old, source, by).map(Some)
        };
        let made: Vec<Option<Vec<Tile>>> =
            stroke.tiles.par_iter().map(made).collect::<Result<_, PageError>>()?;
        for ((at, _), tiles) in stroke.tiles.iter().zip(made) {
            for (plane, tile) in cell.values.iter_mut().zip(tiles.into_iter().flatten()) {
                plane.set_tile(*at, tile);
            }
        }
    }
    Ok(())
}

/// Changes a mask by the coverage of a stroke.
///
/// # Errors
/// [`PageError`] when a tile can't be read.
pub fn adjust_mask(mask: &mut Plane, stroke: &Coverage, by: &Adjustment) -> Result<(), PageError> {
    for (at, source) in &stroke.tiles {
        for tile in adjusted(&[mask.tile(*at).clone()], source, by)? {
            mask.set_tile(*at, tile);
        }
    }
    Ok(())
}

/// One tile of each component of a cell after it.
fn adjusted(old: &[Tile], source: &Tile, by: &Adjustment) -> Result<Vec<Tile>, PageError> {
    let read: Vec<TileRead> = old.iter().map(Tile::read).collect::<Result<_, _>>()?;
    let source = source.read()?;
    let mut made = vec![[0; TILE_TEXELS]; old.len()];
    if let [red, green, blue] = &read[..] {
        for index in 0..TILE_TEXELS {
            let before = [red.at(index), green.at(index), blue.at(index)];
            let share = to_unit(source.at(index));
            let after = if share > 0.0 { by.colour(before) } else { [0.0; 3] };
            for ((texels, old), new) in made.iter_mut().zip(before).zip(after) {
                texels[index] = moved(old, new, share);
            }
        }
    } else {
        for (texels, read) in made.iter_mut().zip(&read) {
            Lanes::widest().run(|| {
                for (index, texel) in texels.iter_mut().enumerate() {
                    let old = read.at(index);
                    *texel = moved(old, by.scalar(to_unit(old)), to_unit(source.at(index)));
                }
            });
        }
    }
    Ok(made.iter().map(Tile::of).collect())
}

/// A stored value, moved towards another one by a share.
fn moved(old: u16, new: f32, share: f32) -> u16 {
    if share == 0.0 {
        return old;
    }
    let before = to_unit(old);
    from_unit(before + (new - before) * share)
}

#[cfg(test)]
mod tests {
    use raster::Extent;

    use super::*;
    use crate::deposit::Mixing;

    const AT: TileAt = TileAt { x: 0, y: 0 };
    const EXTENT: Extent = Extent { width: 64, height: 64 };

    fn cell(values: &[u16]) -> CellPlanes {
        CellPlanes {
            values: values.iter().map(|value| Plane::uniform(EXTENT, *value)).collect(),
            coverage: Plane::uniform(EXTENT, 65_535),
            paint: Vec::new(),
            mixing: Mixing::Stored,
        }
    }

    fn after(values: &[u16], share: u16, by: Adjustment) -> Vec<u16> {
        let mut cells = [cell(values)];
        let stroke = Coverage::new(EXTENT, vec![(AT, Tile::Uniform(share))]);
        adjust_cells(&mut cells, &stroke, &by).unwrap();
        cells[0].values.iter().map(|plane| plane.texel(5, 9).unwrap()).collect()
    }

    /// By hand: half of 0.5 on the way to 1 at half coverage is 0.25 of 0.5 more.
    #[test]
    fn lighten_and_darken_go_their_share_of_the_way() {
        assert_eq!(after(&[32_768], 65_535, Adjustment::Lighten(0.5)), [49_152]);
        assert_eq!(after(&[32_768], 32_768, Adjustment::Lighten(0.5)), [40_960]);
        assert_eq!(after(&[32_768], 65_535, Adjustment::Darken(0.25)), [24_576]);
        assert_eq!(after(&[65_535], 65_535, Adjustment::Lighten(1.0)), [65_535]);
        assert_eq!(after(&[777], 0, Adjustment::Lighten(1.0)), [777]);
    }

    /// A third of a turn takes red to green and green to blue: A. R. Smith 1978, the hexcone.
    #[test]
    fn a_shift_turns_hues_and_leaves_grey_alone() {
        let turn = Adjustment::Shift { hue: 120.0, saturation: 0.0, value: 0.0 };
        assert_eq!(after(&[65_535, 0, 0], 65_535, turn), [0, 65_535, 0]);
        assert_eq!(after(&[0, 40_000, 0], 65_535, turn), [0, 0, 40_000]);
        let vivid = Adjustment::Shift { hue: 50.0, saturation: 0.8, value: 0.0 };
        assert_eq!(after(&[30_000; 3], 65_535, vivid), [30_000; 3]);
        let duller = Adjustment::Shift { hue: 0.0, saturation: -1.0, value: 0.0 };
        assert_eq!(after(&[60_000, 100, 7], 65_535, duller), [60_000; 3]);
    }

    #[test]
    fn what_is_not_painted_is_not_adjusted() {
        let mut cells = [CellPlanes { coverage: Plane::uniform(EXTENT, 0), ..cell(&[9_000]) }];
        let before = cells[0].values[0].clone();
        let stroke = Coverage::new(EXTENT, vec![(AT, Tile::Uniform(65_535))]);
        adjust_cells(&mut cells, &stroke, &Adjustment::Darken(1.0)).unwrap();
        assert!(cells[0].values[0].same(&before));
    }

    #[test]
    fn numbers_out_of_range_are_told() {
        for wrong in [Adjustment::Lighten(1.5), Adjustment::Darken(f32::NAN)] {
            assert!(wrong.check().is_err());
        }
        let wrong = Adjustment::Shift { hue: 0.0, saturation: 0.0, value: -1.5 };
        assert_eq!(wrong.check().unwrap_err().to_string(), "shift of value is -1.5: give -1 to 1");
    }
}
