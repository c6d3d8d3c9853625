//! Which dabs touch which tile, by their numbers in the order of the stroke.

use raster::{Extent, TileAt};

/// No list.
const NONE: u32 = u32::MAX;

/// For each touched tile its dabs, ascending. Cleared and filled again, it allocates no more.
#[derive(Debug, Default)]
pub(crate) struct TileLists {
    across: u32,
    /// The list of each tile of the plane.
    slots: Vec<u32>,
    lists: Vec<(TileAt, Vec<u32>)>,
    used: usize,
}

impl TileLists {
    pub(crate) fn new(extent: Extent) -> Self {
        let mut lists = Self::default();
        lists.begin(extent);
        lists
    }

    /// Empties the lists, for a plane of this extent.
    pub(crate) fn begin(&mut self, extent: Extent) {
        let (across, down) = extent.tiles();
        for (at, list) in &mut self.lists[..self.used] {
            self.slots[(at.y * self.across + at.x) as usize] = NONE;
            list.clear();
        }
        (self.across, self.used) = (across, 0);
        self.slots.resize(across as usize * down as usize, NONE);
    }

    /// The tile's list; a new one where it has none.
    fn list(&mut self, at: TileAt) -> &mut Vec<u32> {
        let slot = &mut self.slots[(at.y * self.across + at.x) as usize];
        if *slot == NONE {
            *slot = self.used as u32;
            if self.used == self.lists.len() {
                self.lists.push((at, Vec::new()));
            }
            self.lists[self.used].0 = at;
            self.used += 1;
        }
        &mut self.lists[*slot as usize].1
    }

    /// Adds a dab to a tile's list.
    pub(crate) fn add(&mut self, at: TileAt, number: u32) {
        self.list(at).push(number);
    }

    /// Adds to tiles' lists what was on those of other tiles (from, to), and puts every list in order.
    pub(crate) fn share(&mut self, shares: &[(TileAt, TileAt)]) {
        let own: Vec<usize> = self.lists[..self.used].iter().map(|(_, list)| list.len()).collect();
        for &(from, to) in shares {
            let slot = self.slots[(from.y * self.across + from.x) as usize] as usize;
            let Some(&length) = own.get(slot) else { continue };
            let numbers = std::mem::take(&mut self.lists[slot].1);
            self.list(to).extend_from_slice(&numbers[..length]);
            self.lists[slot].1 = numbers;
        }
        for (_, list) in &mut self.lists[..self.used] {
            list.sort_unstable();
            list.dedup();
        }
    }

    /// The touched tiles and their dabs, in no order.
    pub(crate) fn tiles(&self) -> &[(TileAt, Vec<u32>)] {
        &self.lists[..self.used]
    }

    /// The dabs that touch a tile.
    pub(crate) fn of(&self, at: TileAt) -> &[u32] {
        match self.slots[(at.y * self.across + at.x) as usize] {
            NONE => &[],
            slot => &self.lists[slot as usize].1,
        }
    }
}
