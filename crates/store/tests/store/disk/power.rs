//! What power that fails leaves on a disk: what was synced, and of the rest whatever the disk had got to.

use std::collections::BTreeMap;

use super::{Event, Image, What};
use crate::chance::Chance;

pub(crate) const SECTOR: usize = 512;

/// A file by its content: a name that is taken away and given again is another one.
type Content = usize;

/// A disk and what waits to be written to it.
#[derive(Debug)]
struct Cached {
    /// Contents as they are on the disk.
    contents: Vec<Vec<u8>>,
    names: BTreeMap<String, Content>,
    /// Names as a process sees them.
    names_now: BTreeMap<String, Content>,
    waiting: Vec<(Content, What)>,
    /// Changes to the folder, in order: file systems keep that order.
    waiting_names: Vec<(String, Option<Content>)>,
    /// Files whose next sync brings the folder to the disk too.
    sync_folder: BTreeMap<String, bool>,
}

/// What is lost of what was not synced.
#[derive(Debug, Clone)]
pub(crate) enum Lost {
    /// All of it.
    All,
    /// Whatever chance says: writes are left out, come in another order, or are torn between sectors.
    Some(Chance),
}

impl Image {
    /// What is left of it after these events, if the power fails then.
    pub(crate) fn after_power_loss(&self, events: &[Event], lost: Lost) -> Self {
        let mut disk = Cached::new(self);
        for event in events {
            disk.take(event);
        }
        disk.left(lost)
    }
}

impl Cached {
    fn new(image: &Image) -> Self {
        let names: BTreeMap<String, Content> = image.0.keys().cloned().zip(0..).collect();
        Self {
            contents: image.0.values().cloned().collect(),
            names_now: names.clone(),
            names,
            waiting: Vec::new(),
            waiting_names: Vec::new(),
            sync_folder: BTreeMap::new(),
        }
    }

    fn take(&mut self, Event { file, what }: &Event) {
        match what {
            What::Acknowledged(_) => {}
            What::Opened { created } => {
                if *created {
                    self.contents.push(Vec::new());
                    self.name(file, Some(self.contents.len() - 1));
                }
                self.sync_folder.insert(file.clone(), !file.is_empty());
            }
            What::Written { .. } | What::Truncated(_) => {
                self.waiting.push((self.names_now[file], what.clone()));
            }
            What::Synced => {
                let synced = self.names_now[file];
                for (_, what) in self.waiting.extract_if(.., |(content, _)| *content == synced) {
                    change(&mut self.contents[synced], &what);
                }
                if self.sync_folder.insert(file.clone(), false) == Some(true) {
                    self.sync_names();
                }
            }
            What::Deleted { synced } => {
                self.name(file, None);
                if *synced {
                    self.sync_names();
                }
            }
        }
    }

    fn name(&mut self, file: &str, content: Option<Content>) {
        set(&mut self.names_now, file, content);
        self.waiting_names.push((file.to_owned(), content));
    }

    fn sync_names(&mut self) {
        for (file, content) in self.waiting_names.drain(..) {
            set(&mut self.names, &file, content);
        }
    }

    fn left(mut self, lost: Lost) -> Image {
        if let Lost::Some(mut chance) = lost {
            let named = chance.below(self.waiting_names.len() + 1);
            self.waiting_names.truncate(named);
            self.sync_names();
            if chance.one_in(4) {
                for index in (1..self.waiting.len()).rev() {
                    self.waiting.swap(index, chance.below(index + 1));
                }
            }
            for (content, what) in &self.waiting {
                match (chance.below(4), what) {
                    (0 | 1, _) => {}
                    (2, What::Written { at, bytes }) => {
                        tear(&mut self.contents[*content], *at as usize, bytes, &mut chance);
                    }
                    _ => change(&mut self.contents[*content], what),
                }
            }
        }
        let contents = self.contents;
        Image(self.names.into_iter().map(|(name, at)| (name, contents[at].clone())).collect())
    }
}

fn set(names: &mut BTreeMap<String, Content>, file: &str, content: Option<Content>) {
    match content {
        Some(content) => _ = names.insert(file.to_owned(), content),
        None => _ = names.remove(file),
    }
}

fn change(content: &mut Vec<u8>, what: &What) {
    match what {
        What::Written { at, bytes } => write(content, *at as usize, bytes),
        What::Truncated(size) => content.resize(*size as usize, 0),
        _ => {}
    }
}

fn write(content: &mut Vec<u8>, at: usize, bytes: &[u8]) {
    content.resize(content.len().max(at + bytes.len()), 0);
    content[at..at + bytes.len()].copy_from_slice(bytes);
}

/// Writes some of the sectors.
fn tear(content: &mut Vec<u8>, at: usize, bytes: &[u8], chance: &mut Chance) {
    let mut done = 0;
    while done < bytes.len() {
        let length = (SECTOR - (at + done) % SECTOR).min(bytes.len() - done);
        if chance.one_in(2) {
            write(content, at + done, &bytes[done..done + length]);
        }
        done += length;
    }
}
