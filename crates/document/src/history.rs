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
    /// Counts the entries as they are made: later ones have higher numbers, and none is given twice.
    pub number: u64,
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
    next_number: u64,
    tile_bytes: usize,
    step_bytes: usize,
    /// What was counted for the first document, in tiles and in steps.
    oldest_bytes: (usize, usize),
}

impl History {
    /// A history that starts with `document`.
    pub fn new(document: Document) -> Self {
        Self::starting_with(document, "Start".to_owned(), 1)
    }

    fn starting_with(document: Document, label: String, number: u64) -> Self {
        let nothing = Document::default();
        let tile_bytes = unshared_tile_bytes(&document, &nothing);
        let step_bytes = unshared_step_bytes(&document, &nothing);
        let entry = Entry { number, document, label, packed: false };
        let entries = VecDeque::from([entry]);
        let oldest_bytes = (tile_bytes, step_bytes);
        Self { entries, present: 0, next_number: number + 1, tile_bytes, step_bytes, oldest_bytes }
    }

    /// A history as it was when it was kept: entries (number, document, label), oldest first, and which
    /// of them is shown. `None` without entries, where numbers don't rise, or where there is no such entry.
    pub fn restored(
        entries: impl IntoIterator<Item = (u64, Document, String)>,
        present: usize,
    ) -> Option<Self> {
        let mut entries = entries.into_iter();
        let (number, document, label) = entries.next()?;
        let mut history = Self::starting_with(document, label, number);
        for (number, document, label) in entries {
            if number < history.next_number {
                return None;
            }
            history.next_number = number;
            history.push(document, label);
        }
        (present < history.entries.len()).then_some(())?;
        history.present = present;
        Some(history)
    }

    /// Puts entries before the oldest: those of a file from which only the last ones were read at first. They
    /// are a history whose last entry is this one's oldest; false, and nothing is done, where it is not.
    pub fn put_before(&mut self, earlier: Self) -> bool {
        let number = |entry: Option<&Entry>| entry.map(|entry| entry.number);
        if number(earlier.entries.back()) != number(self.entries.front()) {
            return false;
        }
        let mut entries = earlier.entries;
        entries.pop_back();
        self.present += entries.len();
        entries.append(&mut self.entries);
        self.entries = entries;
        let (tiles, steps) = self.oldest_bytes;
        self.tile_bytes = earlier.tile_bytes + self.tile_bytes.saturating_sub(tiles);
        self.step_bytes = earlier.step_bytes + self.step_bytes.saturating_sub(steps);
        self.oldest_bytes = earlier.oldest_bytes;
        true
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
        let (number, label) = (self.next_number, label.into());
        self.entries.push_back(Entry { number, document, label, packed: false });
        self.next_number += 1;
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

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(history: &History) -> Vec<u64> {
        history.entries().0.map(|entry| entry.number).collect()
    }

    #[test]
    fn no_number_is_given_twice_and_a_restored_history_goes_on_with_the_next() {
        let mut history = History::new(Document::default());
        history.push(Document::default(), "a");
        history.push(Document::default(), "b");
        history.undo();
        history.push(Document::default(), "c");
        assert_eq!(numbers(&history), [1, 2, 4]);
        history.undo();

        let kept = history.entries().0.map(|e| (e.number, e.document.clone(), e.label.clone()));
        let mut restored = History::restored(kept, 1).unwrap();
        assert_eq!((numbers(&restored), restored.entries().1), (vec![1, 2, 4], 1));
        let labels: Vec<_> = restored.entries().0.map(|entry| entry.label.clone()).collect();
        assert_eq!(labels, ["Start", "a", "c"]);
        restored.push(Document::default(), "d");
        assert_eq!(numbers(&restored), [1, 2, 5]);
    }

    #[test]
    fn entries_that_are_read_later_stand_before_those_that_are_there() {
        let mut history = History::restored([(5, Document::default(), "e".to_owned())], 0).unwrap();
        history.push(Document::default(), "f");
        history.push(Document::default(), "g");
        history.undo();
        let read = |numbers: &[u64]| {
            let entries = numbers.iter().map(|n| (*n, Document::default(), String::new()));
            History::restored(entries, 0).unwrap()
        };
        assert!(!history.put_before(read(&[2, 3])));
        assert!(history.put_before(read(&[2, 3, 5])));
        assert_eq!((numbers(&history), history.entries().1), (vec![2, 3, 5, 6, 7], 3));
        assert!(history.go_to(0) && history.redo());
        history.push(Document::default(), "h");
        assert_eq!(numbers(&history), [2, 3, 8]);
    }

    #[test]
    fn a_history_that_can_not_have_been_is_not_restored() {
        let entry = |number| (number, Document::default(), String::new());
        assert!(History::restored([], 0).is_none());
        assert!(History::restored([entry(1)], 1).is_none());
        assert!(History::restored([entry(2), entry(2)], 0).is_none());
        assert!(History::restored([entry(2), entry(3)], 1).is_some());
    }
}
