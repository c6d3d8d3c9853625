//! Undo and redo: the documents of before and after, and what they take together.
//!
//! Documents share every tile and every step that did not change, so each is counted once, by the entry
//! that brought it. What has gone from the document that is shown can be packed; the oldest entry can be
//! let go.

use std::collections::VecDeque;
use std::sync::Arc;

use raster::{Tile, TileBody};

use crate::Document;
use crate::unshared::{unshared_step_bytes, unshared_tile_bytes, unshared_tiles};

/// One document of a history and what made it.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The document.
    pub document: Document,
    /// What the edit that made it did, in a few words, sentence case.
    pub label: String,
    /// True once the tiles that only this entry and those farther from the present one hold were handed
    /// out to be packed.
    packed: bool,
}

/// A list of documents and the one that is shown.
#[derive(Debug, Clone)]
pub struct History {
    entries: VecDeque<Entry>,
    present: usize,
    tile_bytes: usize,
    step_bytes: usize,
}

impl History {
    /// A history that starts with `document`.
    pub fn new(document: Document) -> Self {
        let nothing = Document::default();
        let tile_bytes = unshared_tile_bytes(&document, &nothing);
        let step_bytes = unshared_step_bytes(&document, &nothing);
        let entry = Entry { document, label: "Start".to_owned(), packed: false };
        Self { entries: VecDeque::from([entry]), present: 0, tile_bytes, step_bytes }
    }

    /// The document that is shown.
    pub fn present(&self) -> &Document {
        &self.entries[self.present].document
    }

    /// All entries, oldest first, and the place of the present one.
    pub fn entries(&self) -> (impl ExactSizeIterator<Item = &Entry>, usize) {
        (self.entries.iter(), self.present)
    }

    /// Puts a new document after the present one. What had been undone is gone.
    pub fn push(&mut self, document: Document, label: impl Into<String>) {
        while self.entries.len() > self.present + 1 {
            if let Some(undone) = self.entries.pop_back() {
                let before = &self.entries[self.entries.len() - 1].document;
                let gone = unshared_tile_bytes(&undone.document, before);
                self.tile_bytes = self.tile_bytes.saturating_sub(gone);
                self.step_bytes -= unshared_step_bytes(&undone.document, before);
            }
        }
        self.tile_bytes += unshared_tile_bytes(&document, self.present());
        self.step_bytes += unshared_step_bytes(&document, self.present());
        self.entries.push_back(Entry { document, label: label.into(), packed: false });
        self.present += 1;
    }

    /// Goes one document back; false when there is none.
    pub fn undo(&mut self) -> bool {
        let possible = self.present > 0;
        self.present -= usize::from(possible);
        possible
    }

    /// Goes one document forward; false when there is none.
    pub fn redo(&mut self) -> bool {
        let possible = self.present + 1 < self.entries.len();
        self.present += usize::from(possible);
        possible
    }

    /// Makes the document of the entry with this number the present one, 0 being the oldest that is kept;
    /// false when it is that already, or there is no such entry.
    pub fn go_to(&mut self, entry: usize) -> bool {
        let possible = entry < self.entries.len() && entry != self.present;
        if possible {
            self.present = entry;
        }
        possible
    }

    /// Bytes of memory that the distinct tiles of all documents take: as they were when they came, less
    /// what [`History::note_packed`] was told.
    pub fn tile_bytes(&self) -> usize {
        self.tile_bytes
    }

    /// Bytes of the distinct steps of all recipes.
    pub fn step_bytes(&self) -> usize {
        self.step_bytes
    }

    /// Tiles that only documents before or after the present one hold, to be packed: those of the next
    /// entry that was not asked for, the farthest back first. `None` when there are no more.
    pub fn next_to_pack(&mut self) -> Option<Vec<Arc<TileBody>>> {
        let back = (0..self.present).map(|entry| (entry, entry + 1));
        let ahead = (self.present + 1..self.entries.len()).rev().map(|entry| (entry, entry - 1));
        let (entry, nearer) = back.chain(ahead).find(|&(entry, _)| !self.entries[entry].packed)?;
        self.entries[entry].packed = true;
        let mut bodies = Vec::new();
        let documents = [entry, nearer].map(|place| &self.entries[place].document);
        unshared_tiles(documents[0], documents[1], &mut |tile| {
            if let Tile::Texels(body) = tile {
                bodies.push(Arc::clone(body));
            }
        });
        Some(bodies)
    }

    /// Says that tiles of this history were packed, and what that saved.
    pub fn note_packed(&mut self, saved_bytes: usize) {
        self.tile_bytes = self.tile_bytes.saturating_sub(saved_bytes);
    }

    /// Lets go of the oldest document; false when it is the present one.
    pub fn drop_oldest(&mut self) -> bool {
        if self.present == 0 {
            return false;
        }
        if let Some(oldest) = self.entries.pop_front() {
            let next = &self.entries[0].document;
            let gone = unshared_tile_bytes(&oldest.document, next);
            self.tile_bytes = self.tile_bytes.saturating_sub(gone);
            self.step_bytes -= unshared_step_bytes(&oldest.document, next);
            self.present -= 1;
        }
        true
    }
}
