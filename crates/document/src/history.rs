//! Undo and redo: the documents of before and after, within a budget of bytes.
//!
//! Only what differs is counted: documents share every tile that did not change.

use std::collections::BTreeSet;
use std::collections::VecDeque;

use layers::{Content, Layer, Mask, MaskSource};
use raster::{Plane, Tile};

use crate::{Document, Material};

/// One document of a history and what made it.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The document.
    pub document: Document,
    /// What the edit that made it did, in a few words.
    pub label: String,
    /// Bytes of tiles that this document holds and the one before it does not.
    own_bytes: usize,
}

/// A list of documents and the one that is shown.
#[derive(Debug, Clone)]
pub struct History {
    entries: VecDeque<Entry>,
    present: usize,
    budget_bytes: usize,
}

impl History {
    /// A history that starts with `document` and keeps older ones while their own tiles take no more
    /// than `budget_bytes`. The present document is always kept.
    pub fn new(document: Document, budget_bytes: usize) -> Self {
        let entry = Entry { document, label: "start".to_owned(), own_bytes: 0 };
        Self { entries: VecDeque::from([entry]), present: 0, budget_bytes }
    }

    /// The document that is shown.
    pub fn present(&self) -> &Document {
        &self.entries[self.present].document
    }

    /// All entries, oldest first, and the place of the present one.
    pub fn entries(&self) -> (impl Iterator<Item = &Entry>, usize) {
        (self.entries.iter(), self.present)
    }

    /// Puts a new document after the present one. What had been undone is gone.
    pub fn push(&mut self, document: Document, label: impl Into<String>) {
        self.entries.truncate(self.present + 1);
        let own_bytes = bytes_beyond(&document, self.present());
        self.entries.push_back(Entry { document, label: label.into(), own_bytes });
        self.present += 1;
        while self.present > 0 && self.own_bytes() > self.budget_bytes {
            self.entries.pop_front();
            self.present -= 1;
        }
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

    /// Bytes of distinct tiles that the history holds beyond its oldest document.
    pub fn own_bytes(&self) -> usize {
        self.entries.iter().skip(1).map(|entry| entry.own_bytes).sum()
    }
}

/// Bytes of the tiles that `document` holds and `other` does not.
fn bytes_beyond(document: &Document, other: &Document) -> usize {
    let mut known = BTreeSet::new();
    for_each_plane(other, document, &mut |plane| {
        known.extend(plane.tiles().filter_map(Tile::address));
    });
    let mut bytes = 0;
    for_each_plane(document, other, &mut |plane| {
        for tile in plane.tiles() {
            if tile.address().is_some_and(|address| known.insert(address)) {
                bytes += Tile::resident_bytes(tile);
            }
        }
    });
    bytes
}

/// Every plane of `document` in layers that `beside` does not share. A layer that only one of them has
/// may be a copy of one that both share: then all planes of that material.
fn for_each_plane(document: &Document, beside: &Document, visit: &mut impl FnMut(&Plane)) {
    for material in &document.materials {
        let twin = beside.materials.get(material.id.0 as usize);
        if twin.is_some_and(|twin| std::sync::Arc::ptr_eq(twin, material)) {
            continue;
        }
        material.fields.values().for_each(&mut *visit);
        let ids = |material: &Material| material.stack.ids().collect::<BTreeSet<_>>();
        let may_be_copied = twin.is_none_or(|twin| ids(twin) != ids(material));
        for layer in material.stack.walk() {
            let same = twin.and_then(|twin| twin.stack.find(layer.id));
            let shared = same.is_some_and(|same| std::sync::Arc::ptr_eq(same, layer));
            if may_be_copied || !shared {
                for_each_plane_of(layer, visit);
            }
        }
    }
}

fn for_each_plane_of(layer: &Layer, visit: &mut impl FnMut(&Plane)) {
    if let Content::Painted(cells) = &layer.content {
        for cell in cells.values() {
            cell.values.iter().chain([&cell.coverage]).for_each(&mut *visit);
        }
    }
    let masks = layer.cells.values().map(|cell| &cell.mask).chain([&layer.mask]);
    for term in masks.flat_map(|mask: &Mask| &mask.terms) {
        if let MaskSource::Painted(plane) = &term.source {
            visit(plane);
        }
    }
}
