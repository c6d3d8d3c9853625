//! A set of tiles of one plane.

use crate::{Extent, TileAt};

/// Which tiles of a plane: a bit a tile.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TileSet {
    across: u32,
    down: u32,
    bits: Vec<u64>,
}

impl TileSet {
    /// No tile of a plane of this extent.
    pub fn none(extent: Extent) -> Self {
        let (across, down) = extent.tiles();
        Self { across, down, bits: vec![0; (across as usize * down as usize).div_ceil(64)] }
    }

    /// Every tile of a plane of this extent.
    pub fn all(extent: Extent) -> Self {
        let mut set = Self::none(extent);
        for at in extent.tile_places() {
            set.insert(at);
        }
        set
    }

    fn index(&self, at: TileAt) -> usize {
        at.y as usize * self.across as usize + at.x as usize
    }

    /// Adds a tile; places outside of the plane are passed over.
    pub fn insert(&mut self, at: TileAt) {
        if at.x < self.across && at.y < self.down {
            let index = self.index(at);
            self.bits[index / 64] |= 1 << (index % 64);
        }
    }

    /// True when the set holds the tile.
    pub fn contains(&self, at: TileAt) -> bool {
        let index = self.index(at);
        at.x < self.across && at.y < self.down && self.bits[index / 64] >> (index % 64) & 1 == 1
    }

    /// Adds every tile of `other`, which must be of a plane of the same extent.
    pub fn union(&mut self, other: &Self) {
        debug_assert_eq!((self.across, self.down), (other.across, other.down));
        for (bits, more) in self.bits.iter_mut().zip(&other.bits) {
            *bits |= more;
        }
    }

    /// True when no tile is in the set.
    pub fn is_empty(&self) -> bool {
        self.bits.iter().all(|&bits| bits == 0)
    }

    /// How many tiles are in the set.
    pub fn len(&self) -> usize {
        self.bits.iter().map(|bits| bits.count_ones() as usize).sum()
    }

    /// The tiles, row by row. Sixty-four places without one are passed over at a time.
    pub fn iter(&self) -> impl Iterator<Item = TileAt> + '_ {
        let across = self.across;
        self.bits.iter().zip((0..).step_by(64)).flat_map(move |(&word, first)| {
            let mut left = word;
            std::iter::from_fn(move || {
                let index: u32 = first + (left != 0).then(|| left.trailing_zeros())?;
                left &= left - 1;
                Some(TileAt { x: index % across, y: index / across })
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_gives_back_what_was_put_in_row_by_row() {
        let mut set = TileSet::none(Extent { width: 200, height: 100 });
        set.insert(TileAt { x: 1, y: 1 });
        set.insert(TileAt { x: 3, y: 0 });
        set.insert(TileAt { x: 4, y: 0 });
        let places: Vec<_> = set.iter().map(|at| (at.x, at.y)).collect();
        assert_eq!(places, [(3, 0), (1, 1)]);
        assert_eq!(set.len(), 2);
        assert!(!set.contains(TileAt { x: 4, y: 0 }));
    }

    #[test]
    fn all_counts_every_tile() {
        assert_eq!(TileSet::all(Extent { width: 4096, height: 4096 }).len(), 4096);
    }
}
