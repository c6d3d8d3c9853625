//! The levels of a texture above those that its tiles own: one texel for each tile, and smaller.

use raster::TileAt;

/// Averages of tiles, in full precision, and all levels above them down to one texel.
#[derive(Debug)]
pub(crate) struct UpperLevels<T> {
    /// The first has a value for each tile.
    levels: Vec<Vec<T>>,
    across: usize,
}

/// A rectangle of texels of one level, with what to write there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Patch {
    /// 1 for the first level above those that tiles own.
    pub(crate) above: u32,
    pub(crate) left: u32,
    pub(crate) top: u32,
    pub(crate) width: u32,
    pub(crate) bytes: Vec<u8>,
}

impl<T: Copy> UpperLevels<T> {
    /// For so many tiles in a row, a power of two, all alike.
    pub(crate) fn new(across: u32, value: T) -> Self {
        let mut edge = across as usize;
        let mut levels = vec![vec![value; edge * edge]];
        while edge > 1 {
            edge /= 2;
            levels.push(vec![value; edge * edge]);
        }
        Self { levels, across: across as usize }
    }

    /// Takes new averages of tiles and gives, for each level above, the rectangle that changed.
    pub(crate) fn update<const N: usize>(
        &mut self,
        tiles: &[(TileAt, T)],
        average: impl Fn([T; 4]) -> T,
        stored: impl Fn(T) -> [u8; N],
    ) -> Vec<Patch> {
        for (at, value) in tiles {
            let index = at.y as usize * self.across + at.x as usize;
            self.levels[0][index] = *value;
        }
        let mut places: Vec<(usize, usize)> =
            tiles.iter().map(|(at, _)| (at.x as usize, at.y as usize)).collect();
        let mut patches = Vec::new();
        for level in 1..self.levels.len() {
            for place in &mut places {
                *place = (place.0 / 2, place.1 / 2);
            }
            places.sort_unstable_by_key(|&(x, y)| (y, x));
            places.dedup();
            let edge = self.across >> level;
            let (below, above) = self.levels.split_at_mut(level);
            let (below, above) = (&below[level - 1], &mut above[0]);
            for &(x, y) in &places {
                let first = y * 4 * edge + x * 2;
                let next = first + 2 * edge;
                above[y * edge + x] =
                    average([below[first], below[first + 1], below[next], below[next + 1]]);
            }
            patches.extend(patch(above, edge, &places, level as u32, &stored));
        }
        patches
    }

    /// Bytes of memory that this takes.
    pub(crate) fn bytes(&self) -> usize {
        self.levels.iter().map(|level| size_of_val(&**level)).sum()
    }
}

fn patch<T: Copy, const N: usize>(
    level: &[T],
    edge: usize,
    places: &[(usize, usize)],
    above: u32,
    stored: impl Fn(T) -> [u8; N],
) -> Option<Patch> {
    let left = places.iter().map(|place| place.0).min()?;
    let right = places.iter().map(|place| place.0).max()?;
    let (top, bottom) = (places.first()?.1, places.last()?.1);
    let rows = (top..=bottom).flat_map(|y| &level[y * edge + left..=y * edge + right]);
    Some(Patch {
        above,
        left: left as u32,
        top: top as u32,
        width: (right - left + 1) as u32,
        bytes: rows.flat_map(|&value| stored(value)).collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_lies_above_a_changed_tile_is_given() {
        let mut upper = UpperLevels::new(8, 0.0f32);
        let mean = |four: [f32; 4]| four.iter().sum::<f32>() / 4.0;
        let patches = upper.update(
            &[(TileAt { x: 5, y: 2 }, 64.0), (TileAt { x: 4, y: 3 }, 64.0)],
            mean,
            |value| [value as u8],
        );
        let expected = [(1, 2, 1, 32), (2, 1, 0, 8), (3, 0, 0, 2)];
        for (patch, (above, left, top, value)) in patches.iter().zip(expected) {
            let wanted = Patch { above, left, top, width: 1, bytes: vec![value] };
            assert_eq!(*patch, wanted);
        }
        assert_eq!(patches.len(), 3);
    }

    #[test]
    fn a_texture_of_one_tile_has_no_levels_above_it() {
        let mut upper = UpperLevels::new(1, 0u16);
        let at = TileAt { x: 0, y: 0 };
        assert!(upper.update(&[(at, 7)], |four| four[0], |value| [value as u8]).is_empty());
    }
}
