//! The fast compositor itself: tiles shared over the threads of the pool that it is called in.

use std::sync::{Mutex, PoisonError};

use raster::TileAt;
use rayon::prelude::*;

use super::cache::Cache;
use super::display::DisplayTile;
use super::plan::{Memory, Plan};
use super::walk::Walker;
use crate::{ChannelId, Composition, LayerId, LayersError};

/// Composites tiles for display.
#[derive(Debug)]
pub struct FastCompositor {
    cache: Cache,
    /// Memory of walks that are done, for those to come.
    walkers: Mutex<Vec<Walker>>,
}

impl FastCompositor {
    /// A compositor that knows nothing yet, and will keep no more than so many bytes between calls.
    pub fn new(budget_bytes: usize) -> Self {
        Self { cache: Cache::new(budget_bytes), walkers: Mutex::default() }
    }

    /// Bytes that are kept between calls, to be had back by [`FastCompositor::evict_to`]. Beside them
    /// each thread's walk has about 100 KB of its own.
    pub fn bytes(&self) -> usize {
        self.cache.bytes()
    }

    /// Lets go of what was not used for longest, until no more than `bytes` are kept.
    pub fn evict_to(&self, bytes: usize) {
        self.cache.evict_to(bytes);
    }

    /// Composites tiles of some channels, and hands each to `sink`: on the threads of the rayon pool
    /// that this is called in, in any order. Channels that the composition doesn't have are passed over.
    ///
    /// `active` is the layer that is being painted: what is below it is kept for the next call with the
    /// same layers below, and what is above it likewise. So one compositor serves one stack at a time:
    /// calls with other stacks in turn give the right tiles, but find nothing kept.
    ///
    /// # Errors
    /// As [`crate::composite`], but nothing cancels it. `sink` may have been given some tiles then.
    pub fn tiles(
        &self,
        composition: &Composition<'_>,
        active: Option<LayerId>,
        channels: &[ChannelId],
        tiles: &[TileAt],
        sink: &(dyn Fn(TileAt, &DisplayTile) + Sync),
    ) -> Result<(), LayersError> {
        let mut plan = Plan::new(composition, active, channels)?;
        plan.memory = plan.active.map(|active| {
            let (cache, ticket) = (&self.cache, self.cache.open(&plan, active));
            Memory { cache, ticket, active }
        });
        let walked = tiles.par_iter().try_for_each(|&at| {
            let mut walker = self.walker();
            let walked = walker.walk(&plan, at);
            if walked.is_ok() {
                sink(at, &walker.tile);
            }
            walker.let_go();
            self.walkers.lock().unwrap_or_else(PoisonError::into_inner).push(walker);
            walked
        });
        self.cache.keep_to_budget();
        walked
    }

    fn walker(&self) -> Walker {
        let free = self.walkers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        free.unwrap_or_else(Walker::new)
    }
}
