//! What takes memory, and what is let go of when it is too much.
//!
//! One budget holds for all of it, and this is the order in which things go: texel maps that are not in
//! use; composites for export; undo is packed, then layers that are not painted; the oldest steps of undo
//! go while there are more than a few dozen; what is kept under the brush and on show shrinks to what a
//! stroke needs; the last steps of undo go. The document that is shown, its model and their surface stay.

use std::sync::Arc;

use document::{Document, MaterialId};
use layers::LayerId;
use raster::{Observer, Texels, Tile, TileBody, Unobserved};
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
    job: Option<Job<Packed>>,
    /// What the job is thought to save: half of what it was given.
    expected_bytes: usize,
    /// The tiles' bytes when the layers that are not painted had nothing left to pack.
    nothing_left_at: Option<usize>,
}

/// Tiles to be packed.
enum Work {
    /// Those that only steps of undo hold.
    Undo(Vec<Arc<TileBody>>),
    /// Those of layers other than the one that is painted.
    Layers(Document, Option<(MaterialId, LayerId)>),
}

/// What packing did.
#[derive(Debug, Clone, Copy)]
struct Packed {
    saved_bytes: usize,
    of_layers: bool,
}

impl Editor {
    /// What memory is used for.
    pub fn ledger(&self) -> Ledger {
        let holding = |what, bytes, when_short| Holding { what, bytes, when_short };
        let model = self.document().model.as_ref().map_or(0, |model| model.bytes());
        let again = "made again when needed";
        let outside = self.outside_bytes.iter().map(|(what, bytes)| holding(what, *bytes, "stays"));
        Ledger {
            budget_bytes: self.memory_bytes,
            holdings: [
                holding("texel maps", self.derived.map_bytes(), again),
                holding("exact composites", self.composites.bytes(), again),
                holding("composites on show", self.displays.bytes(), again),
                holding("texels under the brush", self.derived.decoded_bytes(), again),
                holding(
                    "tiles, undo's too",
                    self.history.tile_bytes(),
                    "packed, then undo's dropped",
                ),
                holding("the brush's buffers", self.pen.bytes(), "stays"),
                holding("recipes", self.history.step_bytes(), "stays"),
                holding("surface", self.derived.surface_bytes(), "stays"),
                holding("model", model, "stays"),
            ]
            .into_iter()
            .chain(outside)
            .collect(),
        }
    }

    /// Says how many bytes someone else holds for this document: textures of the graphics card, reference
    /// images. They count against the budget; whoever holds them lets go of them. 0 takes them out.
    pub fn set_outside_bytes(&mut self, what: &'static str, bytes: usize) {
        if bytes == 0 {
            self.outside_bytes.remove(what);
        } else {
            self.outside_bytes.insert(what, bytes);
        }
    }

    /// Takes another budget of memory, in bytes: kept to from the next [`Editor::settle`] on.
    pub fn set_memory_bytes(&mut self, bytes: usize) {
        self.memory_bytes = bytes;
    }

    /// Lets go of what is beyond the budget. Returns soon: packing goes on in the background, and is
    /// taken up again at the next call. Call it after each edit, and when nothing else is to do.
    ///
    /// # Errors
    /// [`EditorError::JobFailed`] where packing broke; nothing is lost then.
    pub fn settle(&mut self) -> Result<(), EditorError> {
        if let Some(made) = self.packing.job.as_ref().and_then(Job::take) {
            self.packing.job = None;
            self.note_packed(made?);
        }
        // Work in the background starts early, so that it is seldom needed at once.
        let early = self.memory_bytes / 8 * 7;
        while self.ledger().bytes() > early + self.packing.expected_bytes
            && (self.let_go_of_derived() || self.start_packing())
        {}
        while self.ledger().over() > 0 && (self.pack_at_once()? || self.let_go()) {}
        Ok(())
    }

    /// As [`Editor::settle`], and does at once all that can be done.
    ///
    /// # Errors
    /// As [`Editor::settle`].
    pub fn settle_and_wait(&mut self) -> Result<(), EditorError> {
        while self.ledger().over() > 0 && self.pack_at_once()? {}
        self.settle()?;
        self.finish_packing().map(|_| ())
    }

    /// Waits for the packing that goes on; false where none does.
    fn finish_packing(&mut self) -> Result<bool, EditorError> {
        let Some(job) = self.packing.job.take() else { return Ok(false) };
        let packed = job.wait()?;
        self.note_packed(packed);
        Ok(true)
    }

    fn note_packed(&mut self, packed: Packed) {
        self.packing.expected_bytes = 0;
        self.history.note_packed(packed.saved_bytes);
        if packed.of_layers && packed.saved_bytes == 0 {
            self.packing.nothing_left_at = Some(self.history.tile_bytes());
        }
    }

    /// What can be made again: false when there is nothing of it.
    fn let_go_of_derived(&mut self) -> bool {
        self.derived.drop_idle_maps() || self.composites.clear()
    }

    /// One step: false when there is nothing left to do.
    fn let_go(&mut self) -> bool {
        self.let_go_of_derived()
            || (self.history.entries().0.len() > FEW_STEPS && self.history.drop_oldest())
            || self.displays.halve()
            || self.derived.halve_decoded()
            || self.history.drop_oldest()
    }

    fn start_packing(&mut self) -> bool {
        if self.packing.job.is_some() {
            return false;
        }
        let Some(work) = self.next_work() else { return false };
        self.packing.expected_bytes = work.tiles() * size_of::<Texels>() / 2;
        self.packing.job = Some(self.pools.start(move |observer| Ok(work.pack(observer))));
        true
    }

    /// What is being packed is waited for, as that is sooner done than anything else.
    fn pack_at_once(&mut self) -> Result<bool, EditorError> {
        if self.finish_packing()? {
            return Ok(true);
        }
        let Some(work) = self.next_work() else { return Ok(false) };
        let packed = self.pools.interactive(|| work.pack(&Unobserved));
        self.note_packed(packed);
        Ok(true)
    }

    /// Steps of undo first; then layers that are not painted, once what they take has grown since there
    /// was nothing left.
    fn next_work(&mut self) -> Option<Work> {
        if let Some(mut bodies) = self.history.next_to_pack() {
            while bodies.len() < TILES_A_JOB
                && let Some(more) = self.history.next_to_pack()
            {
                bodies.extend(more);
            }
            return Some(Work::Undo(bodies));
        }
        let grown = |since: usize| self.history.tile_bytes() > since + self.memory_bytes / 16;
        let worth = self.packing.nothing_left_at.is_none_or(grown);
        worth.then(|| Work::Layers(self.document().clone(), self.active))
    }
}

impl Work {
    /// How many tiles it may be.
    fn tiles(&self) -> usize {
        match self {
            Self::Undo(bodies) => bodies.len(),
            Self::Layers(..) => TILES_A_JOB,
        }
    }

    fn pack(&self, observer: &dyn Observer) -> Packed {
        let pack = |bodies: &[Arc<TileBody>]| -> usize {
            let saved = bodies.par_iter();
            saved.map(|body| if observer.stopped() { 0 } else { body.let_go() }).sum()
        };
        match self {
            Self::Undo(bodies) => Packed { saved_bytes: pack(bodies), of_layers: false },
            Self::Layers(document, painted) => {
                let saved_bytes = pack(&idle_bodies(document, *painted));
                Packed { saved_bytes, of_layers: true }
            }
        }
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
