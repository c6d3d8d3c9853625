//! The fast compositor itself: tiles shared over the threads of the pool that it is called in.

use std::sync::{Mutex, PoisonError};

use raster::TileAt;
use rayon::prelude::*;

use super::display::DisplayTile;
use super::plan::Plan;
use super::walk::Walker;
use crate::{ChannelId, Composition, LayersError};

/// Composites tiles for display.
#[derive(Debug, Default)]
pub struct FastCompositor {
    /// Memory of walks that are done, for those to come.
    walkers: Mutex<Vec<Walker>>,
}

impl FastCompositor {
    /// A compositor that knows nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Composites tiles of some channels, and hands each to `sink`: on the threads of the rayon pool
    /// that this is called in, in any order. Channels that the composition doesn't have are passed over.
    ///
    /// # Errors
    /// As [`crate::composite`], but nothing cancels it. `sink` may have been given some tiles then.
    pub fn tiles(
        &self,
        composition: &Composition<'_>,
        channels: &[ChannelId],
        tiles: &[TileAt],
        sink: &(dyn Fn(TileAt, &DisplayTile) + Sync),
    ) -> Result<(), LayersError> {
        let plan = Plan::new(composition, channels)?;
        tiles.par_iter().try_for_each(|&at| {
            let mut walker = self.walker();
            let walked = walker.walk(&plan, at);
            if walked.is_ok() {
                sink(at, &walker.tile);
            }
            self.walkers.lock().unwrap_or_else(PoisonError::into_inner).push(walker);
            walked
        })
    }

    fn walker(&self) -> Walker {
        let free = self.walkers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        free.unwrap_or_else(Walker::new)
    }
}
