//! Work on a project that goes the same way each time: what it has done up to a number can be made again and
//! be held against a file.

use std::collections::BTreeMap;

use document::{Document, History};
use layers::{ChannelId, Isolation, LayerId};
use store::{Access, Changes, Opened, Project};

use crate::chance::Chance;
use crate::content::{Lines, difference, entries, lines, present};
use crate::documents::{any_step, full, opacity, with_layer};
use crate::round_trip::PAINTED;

const EDGE: u32 = 128;

/// What is to be done next.
#[derive(Debug)]
pub(crate) enum Deed {
    /// Changes to be written: those of this number.
    Keep(u32, Box<Changes>),
    /// The log is brought into the file.
    Checkpoint,
    /// The file is closed and opened again.
    Reopen,
    /// What nothing needs any more is taken out.
    Collect,
}

/// A painter who can't be surprised.
#[derive(Debug)]
pub(crate) struct Script {
    chance: Chance,
    /// Changes that were made; the file is told the number with each.
    pub(crate) number: u32,
    pub(crate) history: History,
    points: BTreeMap<String, Document>,
}

impl Script {
    pub(crate) fn new(seed: u64) -> Self {
        let history = History::new(full(EDGE));
        Self { chance: Chance::of(seed), number: 0, history, points: BTreeMap::new() }
    }

    /// The script once it has made the changes of a number.
    pub(crate) fn at(seed: u64, number: u32) -> Self {
        let mut script = Self::new(seed);
        while script.number < number {
            script.next();
        }
        script
    }

    pub(crate) fn next(&mut self) -> Deed {
        match self.chance.below(32) {
            0 => return Deed::Checkpoint,
            1 => return Deed::Reopen,
            2 if self.chance.one_in(2) => return Deed::Collect,
            _ => {}
        }
        self.number += 1;
        let mut changes = match self.chance.below(16) {
            0..3 => {
                for _ in 0..=self.chance.below(3) {
                    self.history.undo();
                }
                Changes::of_history(&self.history)
            }
            3 => {
                self.history.redo();
                Changes::of_history(&self.history)
            }
            4 => {
                let name = format!("point {}", self.chance.below(4));
                self.points.insert(name.clone(), self.history.present().clone());
                Changes::naming(name, &self.history)
            }
            5 => {
                let share = opacity(self.chance.below(100) as f32 / 100.0);
                let thin = |layer: &mut layers::Layer| layer.opacity = share;
                self.push(with_layer(self.history.present(), 0, PAINTED, thin))
            }
            6 => {
                let turn = |layer: &mut layers::Layer| {
                    layer.content =
                        layers::Content::Group { isolation: Isolation::Isolated, children: vec![] };
                };
                self.push(with_layer(self.history.present(), 0, LayerId(8), turn))
            }
            _ => {
                let tiles = [self.tile(), self.tile()];
                let channel = [ChannelId::ROUGHNESS, ChannelId::BASE_COLOUR][self.chance.below(2)];
                self.push(any_step(self.history.present(), PAINTED, channel, &tiles, self.number))
            }
        };
        changes.view_state = Some(self.number.to_string());
        Deed::Keep(self.number, Box::new(changes))
    }

    fn tile(&mut self) -> (u32, u32) {
        (self.chance.below(2) as u32, self.chance.below(2) as u32)
    }

    fn push(&mut self, document: Document) -> Changes {
        self.history.push(document, format!("change {}", self.number));
        Changes::of_history(&self.history)
    }

    /// All that a file holds once the changes up to here are in it.
    pub(crate) fn state(&self) -> State {
        let points = self.points.iter().map(|(name, document)| (name.clone(), lines(document)));
        State {
            number: self.number,
            shown: present(&self.history),
            entries: entries(&self.history),
            points: points.collect(),
        }
    }
}

/// All that a file holds.
#[derive(Debug, PartialEq)]
pub(crate) struct State {
    number: u32,
    shown: u64,
    entries: BTreeMap<u64, (String, Lines)>,
    points: BTreeMap<String, Lines>,
}

impl State {
    /// What was opened.
    fn of(opened: &mut Opened) -> Self {
        let project = &mut opened.project;
        let points = project.points().unwrap().into_iter().map(|point| {
            let (document, damage) = project.document_of(&point).unwrap();
            assert_eq!(damage, []);
            (point.name, lines(&document.unwrap()))
        });
        let points = points.collect();
        let (shown, entries) = (present(&opened.history), entries(&opened.history));
        Self { number: number(project), shown, entries, points }
    }

    /// What tells it from another one.
    pub(crate) fn difference(&self, other: &Self) -> Option<String> {
        if self == other {
            return None;
        }
        let heads = |state: &Self| {
            let labels: Vec<_> =
                state.entries.iter().map(|(at, (label, _))| (*at, label.clone())).collect();
            (state.number, state.shown, labels, state.points.keys().cloned().collect::<Vec<_>>())
        };
        if heads(self) != heads(other) {
            return Some(format!("{:?} and {:?}", heads(self), heads(other)));
        }
        let mine = self.entries.values().map(|(_, lines)| lines).chain(self.points.values());
        let others = other.entries.values().map(|(_, lines)| lines).chain(other.points.values());
        mine.zip(others).find_map(|(mine, others)| difference(mine, others))
    }
}

/// The number of the last changes that a project has.
pub(crate) fn number(project: &Project) -> u32 {
    project.view_state().unwrap().map_or(0, |number| number.parse().unwrap())
}

/// Opens a project that must be whole, and gives the number of the last changes in it and what is wrong with it.
pub(crate) fn whole(path: &std::path::Path, seed: u64) -> Result<(Opened, u32), String> {
    let opened = Project::open(path, Access::ReadWrite);
    let mut opened = opened.map_err(|error| error.to_string())?;
    let damage = opened.project.verify().map_err(|error| error.to_string())?;
    if !opened.damage.is_empty() || !damage.is_empty() {
        return Err(format!("{:?} {damage:?}", opened.damage));
    }
    let found = State::of(&mut opened);
    match Script::at(seed, found.number).state().difference(&found) {
        None => Ok((opened, found.number)),
        Some(difference) => Err(difference),
    }
}
