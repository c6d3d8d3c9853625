//! Decoded tiles that are kept for the next stroke, within a budget of memory.
//!
//! A look-up is one lock and a clone of an `Arc`. Tiles that nobody asked for longest go first, and
//! their buffers are filled again where nobody holds them: in the steady state nothing is allocated.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use raster::TileAt;

use crate::{DecodedTile, Surface, TexelMap};

/// The decoded tiles of one texel map. Threads share it by reference.
#[derive(Debug)]
pub struct DecodedTiles {
    surface: Arc<Surface>,
    map: Arc<TexelMap>,
    budget: usize,
    /// What every tile that shows nothing is.
    nothing: Arc<DecodedTile>,
    held: Mutex<Held>,
}

const NONE: u32 = u32::MAX;
/// Buffers that are kept to be filled again: as many as threads may wait for at once.
const SPARE: usize = 16;

/// A place in the list from the latest asked for to the one that nobody asked for longest.
#[derive(Debug, Clone)]
struct Slot {
    tile: Option<Arc<DecodedTile>>,
    later: u32,
    earlier: u32,
}

#[derive(Debug)]
struct Held {
    /// For each tile, row by row.
    slots: Vec<Slot>,
    latest: u32,
    oldest: u32,
    bytes: usize,
    spare: Vec<Arc<DecodedTile>>,
}

impl DecodedTiles {
    /// Holds nothing yet. `map` must be built from `surface`.
    pub fn new(surface: Arc<Surface>, map: Arc<TexelMap>, budget_bytes: usize) -> Self {
        let (across, down) = map.size().extent().tiles();
        let slot = Slot { tile: None, later: NONE, earlier: NONE };
        let slots = vec![slot; (across * down) as usize];
        let spare = Vec::with_capacity(SPARE);
        let held = Held { slots, latest: NONE, oldest: NONE, bytes: 0, spare };
        let nothing = Arc::default();
        Self { surface, map, budget: budget_bytes, nothing, held: Mutex::new(held) }
    }

    /// A tile, decoded now if it is not held; an empty one where the map shows nothing.
    pub fn tile(&self, at: TileAt) -> Arc<DecodedTile> {
        if self.map.bounds(at).is_none() {
            return Arc::clone(&self.nothing);
        }
        let index = at.y * self.map.size().extent().tiles().0 + at.x;
        let mut buffer = {
            let mut held = self.lock();
            if let Some(tile) = held.find(index) {
                return tile;
            }
            held.buffer(self.budget)
        };
        // Others go on meanwhile; should one decode the same tile, the first to be done is kept.
        self.map.decode(&self.surface, at, Arc::make_mut(&mut buffer));
        let mut held = self.lock();
        if let Some(tile) = held.find(index) {
            held.keep_buffer(buffer);
            return tile;
        }
        held.insert(index, Arc::clone(&buffer));
        held.evict_to(self.budget);
        buffer
    }

    /// Bytes of memory that the held tiles take.
    pub fn bytes(&self) -> usize {
        self.lock().bytes
    }

    /// Lets go of tiles, those that nobody asked for longest first, until the held ones take no more
    /// than `bytes`, and of all spare buffers.
    pub fn evict_to(&self, bytes: usize) {
        let mut held = self.lock();
        held.evict_to(bytes);
        held.spare.clear();
    }

    /// The surface.
    pub fn surface(&self) -> &Arc<Surface> {
        &self.surface
    }

    /// The texel map.
    pub fn map(&self) -> &Arc<TexelMap> {
        &self.map
    }

    fn lock(&self) -> MutexGuard<'_, Held> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Held {
    fn find(&mut self, index: u32) -> Option<Arc<DecodedTile>> {
        let tile = self.slots[index as usize].tile.clone()?;
        if self.latest != index {
            self.unlink(index);
            self.link_latest(index);
        }
        Some(tile)
    }

    fn insert(&mut self, index: u32, tile: Arc<DecodedTile>) {
        self.bytes += tile.bytes();
        self.slots[index as usize].tile = Some(tile);
        self.link_latest(index);
    }

    /// A spare buffer, or that of the oldest tile where the budget is nearly spent, or a new one.
    fn buffer(&mut self, budget: usize) -> Arc<DecodedTile> {
        if self.spare.is_empty() && self.oldest != NONE {
            let usual = self.slots[self.oldest as usize].tile.as_ref().map_or(0, |t| t.bytes());
            if self.bytes + usual > budget {
                self.evict_oldest();
            }
        }
        self.spare.pop().unwrap_or_default()
    }

    fn evict_to(&mut self, bytes: usize) {
        while self.bytes > bytes && self.oldest != NONE {
            self.evict_oldest();
        }
    }

    fn evict_oldest(&mut self) {
        let index = self.oldest;
        self.unlink(index);
        if let Some(tile) = self.slots[index as usize].tile.take() {
            self.bytes -= tile.bytes();
            self.keep_buffer(tile);
        }
    }

    /// Not where somebody still reads it.
    fn keep_buffer(&mut self, mut buffer: Arc<DecodedTile>) {
        if self.spare.len() < SPARE && Arc::get_mut(&mut buffer).is_some() {
            self.spare.push(buffer);
        }
    }

    fn link_latest(&mut self, index: u32) {
        let before = std::mem::replace(&mut self.latest, index);
        let slot = &mut self.slots[index as usize];
        (slot.later, slot.earlier) = (NONE, before);
        match self.slots.get_mut(before as usize) {
            Some(slot) => slot.later = index,
            None => self.oldest = index,
        }
    }

    fn unlink(&mut self, index: u32) {
        let Slot { later, earlier, .. } = self.slots[index as usize];
        match self.slots.get_mut(later as usize) {
            Some(slot) => slot.earlier = earlier,
            None => self.latest = earlier,
        }
        match self.slots.get_mut(earlier as usize) {
            Some(slot) => slot.later = later,
            None => self.oldest = later,
        }
    }
}

#[cfg(test)]
mod tests {
    use raster::{TextureSize, Unobserved};
    use rayon::prelude::*;

    use super::*;
    use crate::MaterialSlot;
    use crate::testing::{prepared, six_sided_sphere};

    fn tiles(budget: usize) -> DecodedTiles {
        let surface = Arc::new(prepared(six_sided_sphere(12)));
        let size = TextureSize::new(512).unwrap();
        let map = TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved).unwrap();
        DecodedTiles::new(surface, Arc::new(map), budget)
    }

    fn decoded(held: &DecodedTiles, at: TileAt) -> DecodedTile {
        let mut tile = DecodedTile::default();
        held.map().decode(held.surface(), at, &mut tile);
        tile
    }

    fn places(held: &DecodedTiles) -> Vec<TileAt> {
        held.map().tiles().collect()
    }

    #[test]
    fn tiles_are_those_that_the_map_decodes_whatever_was_held_before() {
        let held = tiles(1_000_000);
        for round in 0..3 {
            for at in places(&held) {
                assert_eq!(*held.tile(at), decoded(&held, at), "{at:?} {round}");
            }
            assert!(held.bytes() <= 1_000_000 && held.bytes() > 300_000, "{}", held.bytes());
        }
        assert_eq!(*held.tile(TileAt { x: 8, y: 0 }), DecodedTile::default());
        assert_eq!(*held.tile(TileAt { x: 0, y: 8 }), DecodedTile::default());
    }

    #[test]
    fn a_held_tile_is_given_again_and_the_oldest_goes_first() {
        let held = tiles(usize::MAX);
        let places = places(&held);
        let first: Vec<_> = places.iter().map(|&at| held.tile(at)).collect();
        let again = |k: usize| Arc::ptr_eq(&first[k], &held.tile(places[k]));
        assert!(again(2) && again(0) && again(3));
        // In order of age: 1, 4, 5, ..., last, 2, 0, 3.
        let kept: usize = [2, 0, 3].iter().map(|&k| first[k].bytes()).sum();
        held.evict_to(kept);
        assert_eq!(held.bytes(), kept);
        assert!(again(2) && again(0) && again(3) && !again(1));
        held.evict_to(0);
        assert_eq!(held.bytes(), 0);
    }

    #[test]
    fn a_tile_that_somebody_holds_keeps_its_values_when_it_is_let_go() {
        let held = tiles(0);
        let places = places(&held);
        let all: Vec<_> = places.iter().map(|&at| held.tile(at)).collect();
        for (&at, tile) in places.iter().zip(&all) {
            assert_eq!(**tile, decoded(&held, at));
        }
        assert_eq!(held.bytes(), 0);
    }

    #[test]
    fn buffers_of_tiles_that_were_let_go_are_filled_again() {
        let held = tiles(400_000);
        let places = places(&held);
        for _ in 0..2 {
            for &at in &places {
                drop(held.tile(at));
            }
        }
        let buffer = |at| Arc::as_ptr(&held.tile(at)) as usize;
        let mut before: Vec<_> = places.iter().map(|&at| buffer(at)).collect();
        let mut after: Vec<_> = places.iter().map(|&at| buffer(at)).collect();
        for list in [&mut before, &mut after] {
            list.sort_unstable();
            list.dedup();
        }
        assert_eq!(before, after);
        assert!(before.len() < places.len(), "{} of {}", before.len(), places.len());
    }

    #[test]
    fn threads_that_share_it_see_the_same_tiles() {
        let held = tiles(500_000);
        let places = places(&held);
        let many: Vec<TileAt> = places.iter().copied().cycle().take(places.len() * 20).collect();
        many.par_iter().for_each(|&at| assert_eq!(*held.tile(at), decoded(&held, at)));
        assert!(held.bytes() <= 500_000);
    }
}
