//! A sparse scalar plane of tiles, shared at each level: plane, row of tiles, tile.

use std::sync::{Arc, Weak};

use crate::{
    PageError, RasterError, TILE_EDGE, TILE_TEXELS, Texels, Tile, TileAt, TileSet, texel_index,
};

/// Width and height in texels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Extent {
    /// Texels across.
    pub width: u32,
    /// Texels down.
    pub height: u32,
}

impl Extent {
    /// How many tiles cover this extent, across and down.
    pub const fn tiles(self) -> (u32, u32) {
        (self.width.div_ceil(TILE_EDGE as u32), self.height.div_ceil(TILE_EDGE as u32))
    }

    /// Every tile's place, row by row.
    pub fn tile_places(self) -> impl Iterator<Item = TileAt> {
        let (across, down) = self.tiles();
        (0..down).flat_map(move |y| (0..across).map(move |x| TileAt { x, y }))
    }

    /// How many texels there are.
    pub const fn texels(self) -> usize {
        self.width as usize * self.height as usize
    }
}

/// The edge of a material's square textures: a power of two from 64 to 8192 texels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TextureSize(u32);

impl TextureSize {
    /// 64 texels.
    pub const SMALLEST: Self = Self(64);

    /// # Errors
    /// [`RasterError::TextureSize`] for anything but a power of two from 64 to 8192.
    pub const fn new(edge: u32) -> Result<Self, RasterError> {
        if edge.is_power_of_two() && edge >= 64 && edge <= 8192 {
            Ok(Self(edge))
        } else {
            Err(RasterError::TextureSize(edge))
        }
    }

    /// Texels along an edge.
    pub const fn edge(self) -> u32 {
        self.0
    }

    /// The square's extent.
    pub const fn extent(self) -> Extent {
        Extent { width: self.0, height: self.0 }
    }
}

type Row = Arc<Vec<Tile>>;

/// A scalar for each texel. Cloning costs one reference; a write copies the row list, one row of
/// tiles and one tile, and only where somebody else still holds them.
#[derive(Debug, Clone)]
pub struct Plane {
    extent: Extent,
    rows: Arc<Vec<Row>>,
}

/// Names a plane without keeping its tiles alive.
#[derive(Debug, Clone)]
pub struct PlaneMark {
    extent: Extent,
    rows: Weak<Vec<Row>>,
}

impl PlaneMark {
    /// The plane, while somebody holds it.
    pub fn plane(&self) -> Option<Plane> {
        Some(Plane { extent: self.extent, rows: self.rows.upgrade()? })
    }

    /// True while somebody holds the plane.
    pub fn is_held(&self) -> bool {
        self.rows.strong_count() > 0
    }
}

impl Plane {
    /// One value everywhere.
    pub fn uniform(extent: Extent, value: u16) -> Self {
        let (across, down) = extent.tiles();
        let row = Arc::new(vec![Tile::Uniform(value); across as usize]);
        Self { extent, rows: Arc::new(vec![row; down as usize]) }
    }

    /// The value that `texel(x, y)` gives for each texel. Texels of the last tiles that lie beyond the
    /// extent repeat the nearest inside, so that they never keep a tile from being uniform.
    pub fn from_fn(extent: Extent, mut texel: impl FnMut(u32, u32) -> u16) -> Self {
        let mut plane = Self::uniform(extent, 0);
        for at in extent.tile_places() {
            let (left, top) = at.first_texel();
            let mut texels = [0; TILE_TEXELS];
            for (index, value) in texels.iter_mut().enumerate() {
                let x = (left + (index % TILE_EDGE) as u32).min(extent.width - 1);
                let y = (top + (index / TILE_EDGE) as u32).min(extent.height - 1);
                *value = texel(x, y);
            }
            plane.set_tile(at, Tile::of(&texels));
        }
        plane
    }

    /// Width and height.
    pub fn extent(&self) -> Extent {
        self.extent
    }

    /// The tile at `at`, which must lie inside the plane.
    pub fn tile(&self, at: TileAt) -> &Tile {
        &self.rows[at.y as usize][at.x as usize]
    }

    /// Puts `tile` at `at`, which must lie inside the plane.
    pub fn set_tile(&mut self, at: TileAt, tile: Tile) {
        if !self.tile(at).same(&tile) {
            let row = &mut Arc::make_mut(&mut self.rows)[at.y as usize];
            Arc::make_mut(row)[at.x as usize] = tile;
        }
    }

    /// The texels of the tile at `at` for writing; copied first where somebody else holds them.
    ///
    /// # Errors
    /// [`PageError`] when the tile's body can't be had.
    pub fn write_tile(&mut self, at: TileAt) -> Result<&mut Texels, PageError> {
        let row = &mut Arc::make_mut(&mut self.rows)[at.y as usize];
        Arc::make_mut(row)[at.x as usize].write()
    }

    /// The value of one texel, which must lie inside the plane.
    ///
    /// # Errors
    /// [`PageError`] when the tile's body can't be had.
    pub fn texel(&self, x: u32, y: u32) -> Result<u16, PageError> {
        Ok(self.tile(TileAt::of_texel(x, y)).read()?.at(texel_index(x, y)))
    }

    /// True when both planes are one value by identity: no tile needs to be looked at.
    pub fn same(&self, other: &Self) -> bool {
        self.extent == other.extent && Arc::ptr_eq(&self.rows, &other.rows)
    }

    /// A number that is one for each plane that is not [`Plane::same`], while it or a mark of it lives.
    pub fn address(&self) -> usize {
        Arc::as_ptr(&self.rows).addr()
    }

    /// Keeps the plane's address from being given to another one.
    pub fn mark(&self) -> PlaneMark {
        PlaneMark { extent: self.extent, rows: Arc::downgrade(&self.rows) }
    }

    /// The tiles whose identity differs from `before`; all of them when the extents differ.
    pub fn changed_tiles(&self, before: &Self) -> TileSet {
        if self.extent != before.extent {
            return TileSet::all(self.extent);
        }
        let mut changed = TileSet::none(self.extent);
        if self.same(before) {
            return changed;
        }
        for (y, (row, old)) in self.rows.iter().zip(before.rows.iter()).enumerate() {
            if Arc::ptr_eq(row, old) {
                continue;
            }
            for (x, (tile, old)) in row.iter().zip(old.iter()).enumerate() {
                if !tile.same(old) {
                    changed.insert(TileAt { x: x as u32, y: y as u32 });
                }
            }
        }
        changed
    }

    /// The tiles that are not `value` everywhere.
    pub fn tiles_other_than(&self, value: u16) -> TileSet {
        let mut set = TileSet::none(self.extent);
        for at in self.extent.tile_places() {
            if !matches!(self.tile(at), Tile::Uniform(uniform) if *uniform == value) {
                set.insert(at);
            }
        }
        set
    }

    /// Every tile, row by row.
    pub fn tiles(&self) -> impl Iterator<Item = &Tile> {
        self.rows.iter().flat_map(|row| row.iter())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXTENT: Extent = Extent { width: 200, height: 130 };

    #[test]
    fn a_write_changes_one_tile_and_shares_the_rest() {
        let before = Plane::from_fn(EXTENT, |x, y| (x * 7 + y) as u16);
        let mut after = before.clone();
        assert!(after.same(&before));
        after.write_tile(TileAt { x: 2, y: 1 }).unwrap()[0] = 65_535;
        let changed: Vec<_> = after.changed_tiles(&before).iter().collect();
        assert_eq!(changed, [TileAt { x: 2, y: 1 }]);
        assert_eq!(before.texel(128, 64).unwrap(), 128 * 7 + 64);
        assert_eq!(after.texel(128, 64).unwrap(), 65_535);
    }

    #[test]
    fn putting_the_same_tile_back_is_no_change() {
        let before = Plane::uniform(EXTENT, 3);
        let mut after = before.clone();
        after.set_tile(TileAt { x: 0, y: 0 }, Tile::Uniform(3));
        assert!(after.same(&before));
    }

    #[test]
    fn a_plane_that_is_written_gives_up_the_address_by_which_it_was_marked() {
        let mut plane = Plane::from_fn(EXTENT, |x, y| (x * 7 + y) as u16);
        let (address, mark) = (plane.address(), plane.mark());
        assert_eq!(plane.clone().address(), address);
        assert!(mark.is_held() && mark.plane().is_some_and(|held| held.same(&plane)));
        plane.write_tile(TileAt { x: 1, y: 1 }).unwrap()[0] = 1;
        assert_ne!(plane.address(), address);
        assert!(!mark.is_held() && mark.plane().is_none());
    }

    #[test]
    fn a_plane_of_one_value_is_uniform_to_its_ragged_edge() {
        let plane = Plane::from_fn(EXTENT, |_, _| 9);
        assert!(plane.tiles_other_than(9).is_empty());
    }

    #[test]
    fn texture_sizes_are_powers_of_two_within_bounds() {
        assert_eq!(TextureSize::new(4096).unwrap().edge(), 4096);
        for wrong in [0, 1, 32, 100, 4095, 16_384] {
            assert_eq!(TextureSize::new(wrong), Err(RasterError::TextureSize(wrong)));
        }
    }
}
