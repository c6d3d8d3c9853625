//! What takes memory, and what is let go of when it is too much.
//!
//! One budget holds for all of it, and this is the order in which things go: texel maps that are not in
//! use; composites for export; undo is packed, then layers that are not painted; the oldest steps of undo
//! go while there are more than a few dozen; what is kept under the brush and on show shrinks to what a
//! stroke needs; the last steps of undo go. The document that is shown, its model and their surface stay.

use std::sync::Arc;

use document::{Document, MaterialId};
use layers::LayerId;
use raster::{Observer, Texels, Tile, TileBody};
use rayon::prelude::*;

use crate::{Editor, EditorError, Job};

/// Tiles that one job packs: some 32 MiB, a few tenths of a second.
const TILES_A_JOB: usize = 4096;
/// Steps of undo that are kept while anything else can go.
const FEW_STEPS: usize = 50;

/// One use of memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Holding {
    /// What it is.
    pub what: &'static str,
    /// Bytes that it takes now.
    pub bytes: usize,
    /// What happens to it when memory runs short.
    pub when_short: &'static str,
}

/// What an editor's memory is used for, in the order in which it is let go of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ledger {
    /// What all of it may take.
    pub budget_bytes: usize,
    /// What takes how much.
    pub holdings: Vec<Holding>,
}

impl Ledger {
    /// Bytes that are taken in all.
    pub fn bytes(&self) -> usize {
        self.holdings.iter().map(|holding| holding.bytes).sum()
    }

    /// Bytes beyond the budget.
    pub fn over(&self) -> usize {
        self.bytes().saturating_sub(self.budget_bytes)
    }
}

/// What the editor knows of its own packing.
#[derive(Debug, Default)]
pub(crate) struct Packing {
    /// Gives the bytes that it saved.
    job: Option<Job<usize>>,
    /// What the job is thought to save: half of what it was given.
    expected_bytes: usize,
    /// The tiles' bytes when the layers that are not painted had nothing left to pack.
    nothing_left_at: Option<usize>,
}

impl Editor {
    /// What memory is used for.
    pub fn ledger(&self) -> Ledger {
        let holding = |what, bytes, when_short| Holding { what, bytes, when_short };
        let model = self.document().model.as_ref().map_or(0, |model| model.bytes());
        let again = "made again when needed";
        Ledger {
            budget_bytes: self.memory_bytes,
            holdings: vec![
                holding("texel maps", self.derived.map_bytes(), again),
                holding("exact composites", self.composites.bytes(), again),
                holding("composites on show", self.displays.bytes(), again),
                holding("texels under the brush", self.derived.decoded_bytes(), again),
                holding(
                    "tiles, undo's too",
                    self.history.tile_bytes(),
                    "packed, then undo's dropped",
                ),
                holding("recipes", self.history.step_bytes(), "stays"),
                holding("surface", self.derived.surface_bytes(), "stays"),
                holding("model", model, "stays"),
            ],
        }
    }

    /// Lets go of what is beyond the budget. Returns soon: packing goes on in the background, and is
    /// taken up again at the next call. Call it after each edit, and when nothing else is to do.
    ///
    /// # Errors
    /// [`EditorError::JobFailed`] where packing broke; nothing is lost then.
    pub fn settle(&mut self) -> Result<(), EditorError> {
        self.collect_packed()?;
        while self.ledger().over() > self.packing.expected_bytes && self.let_go() {}
        if self.ledger().over() > self.memory_bytes / 8
            && let Some(job) = self.packing.job.take()
        {
            // Paint comes faster than it is packed: let it catch up.
            let saved = job.wait()?;
            self.note_packed(saved);
        }
        Ok(())
    }

    /// As [`Editor::settle`], and waits until all is done that can be.
    ///
    /// # Errors
    /// As [`Editor::settle`].
    pub fn settle_and_wait(&mut self) -> Result<(), EditorError> {
        loop {
            self.settle()?;
            let Some(job) = self.packing.job.take() else { return Ok(()) };
            let saved = job.wait()?;
            self.note_packed(saved);
        }
    }

    fn collect_packed(&mut self) -> Result<(), EditorError> {
        if let Some(made) = self.packing.job.as_ref().and_then(Job::take) {
            self.packing.job = None;
            self.note_packed(made?);
        }
        Ok(())
    }

    fn note_packed(&mut self, saved: usize) {
        self.packing.expected_bytes = 0;
        self.history.note_packed(saved);
        if saved == 0 {
            self.packing.nothing_left_at = Some(self.history.tile_bytes());
        }
    }

    /// One step: false when there is nothing left to do.
    fn let_go(&mut self) -> bool {
        self.derived.drop_idle_maps()
            || self.composites.clear()
            || self.start_packing()
            || (self.history.entries().0.len() > FEW_STEPS && self.history.drop_oldest())
            || self.displays.halve()
            || self.derived.halve_decoded()
            || self.history.drop_oldest()
    }

    fn start_packing(&mut self) -> bool {
        if self.packing.job.is_some() {
            return false;
        }
        self.packing.job = self.pack_undo().or_else(|| self.pack_layers());
        self.packing.job.is_some()
    }

    fn pack_undo(&mut self) -> Option<Job<usize>> {
        let mut bodies = self.history.next_to_pack()?;
        while bodies.len() < TILES_A_JOB
            && let Some(more) = self.history.next_to_pack()
        {
            bodies.extend(more);
        }
        self.packing.expected_bytes = bodies.len() * size_of::<Texels>() / 2;
        Some(self.pools.start(move |observer| Ok(pack(&bodies, observer))))
    }

    /// Layers that were not painted last, once what they take has grown since there was nothing left.
    fn pack_layers(&mut self) -> Option<Job<usize>> {
        let grown = |since: usize| self.history.tile_bytes() > since + self.memory_bytes / 16;
        if !self.packing.nothing_left_at.is_none_or(grown) {
            return None;
        }
        let (document, painted) = (self.document().clone(), self.active);
        self.packing.expected_bytes = TILES_A_JOB * size_of::<Texels>() / 2;
        Some(self.pools.start(move |observer| Ok(pack(&idle_bodies(&document, painted), observer))))
    }
}

/// Bodies of tiles that are not packed yet, in layers other than the one painted last.
fn idle_bodies(document: &Document, painted: Option<(MaterialId, LayerId)>) -> Vec<Arc<TileBody>> {
    let mut bodies = Vec::new();
    document.for_each_idle_tile(painted, &mut |tile| {
        if let Tile::Texels(body) = tile
            && body.is_resident()
            && bodies.len() < TILES_A_JOB
        {
            bodies.push(Arc::clone(body));
        }
    });
    bodies
}

fn pack(bodies: &[Arc<TileBody>], observer: &dyn Observer) -> usize {
    let saved = bodies.par_iter().map(|body| if observer.stopped() { 0 } else { body.pack() });
    saved.sum()
}
