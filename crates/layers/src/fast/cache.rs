//! What is kept of tiles between calls: how they stood below the active layer, and what the layers above
//! it come to.
//!
//! Nothing here is ever stale: what is kept belongs to a generation, and a new one begins as soon as
//! any layer that went into it is another `Arc`, or ground, channels, blend space or size differ. Tiles
//! of fields are compared by identity, tile by tile.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use raster::{TextureSize, Tile, TileAt};

use super::display::Plane15;
use super::kernel::Path;
use super::plan::Plan;
use crate::{BlendSpace, ChannelDescriptor, ChannelId, Layer, Value};

/// A channel's tile below the active layer.
#[derive(Debug)]
pub(super) enum Below {
    /// Where the active layer is walked in 15 bits.
    Fifteen(Vec<Plane15>),
    /// Where it is walked in f32: a row for each component, of one value where the tile is uniform.
    Precise(Vec<Vec<f32>>),
}

/// What a run of layers does to a backdrop: `a Cb + b` for each component.
#[derive(Debug)]
pub(super) struct Affine {
    /// -a, in 15 bits and a sign.
    pub(super) slopes: Vec<Plane15>,
    /// b.
    pub(super) offsets: Vec<Plane15>,
}

/// What is kept, within a number of bytes.
#[derive(Debug)]
pub(super) struct Cache {
    budget: usize,
    kept: Mutex<Kept>,
}

#[derive(Debug, Default)]
struct Kept {
    below: Generation,
    inside: Generation,
    above: Generation,
    setting: Option<Setting>,
    entries: BTreeMap<(ChannelId, TileAt), Entry>,
    bytes: usize,
    uses: u64,
}

/// Counts up whenever what was kept is worth nothing any more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Generation(u64);

/// The generations that a call reads and writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ticket {
    below: Generation,
    inside: Generation,
    above: Generation,
}

/// What all that is kept was made of.
#[derive(Debug)]
struct Setting {
    channels: Vec<(ChannelDescriptor, Value)>,
    blend_space: BlendSpace,
    size: TextureSize,
    below: Vec<Arc<Layer>>,
    /// Below the active layer in the isolated group that holds it.
    inside: Vec<Arc<Layer>>,
    above: Vec<Arc<Layer>>,
}

#[derive(Debug, Default)]
struct Entry {
    below: Option<(Generation, Arc<Below>)>,
    /// What the layers inside come to: multiplied values, then coverage.
    inside: Option<(Generation, Arc<Vec<Vec<f32>>>)>,
    /// By the index of a run's first layer, counted from the active layer.
    above: BTreeMap<usize, (Generation, Arc<Affine>)>,
    /// The tiles of the fields that masks read.
    fields: Vec<Option<Tile>>,
    bytes: usize,
    last_use: u64,
}

impl Setting {
    fn of(plan: &Plan<'_>, active: usize) -> Self {
        let composition = plan.composition;
        let owned =
            |layers: &[&Arc<Layer>]| layers.iter().map(|&layer| Arc::clone(layer)).collect();
        let channel =
            |channel: &ChannelDescriptor| (channel.clone(), *composition.ground_of(channel));
        Self {
            channels: composition.channels.iter().map(channel).collect(),
            blend_space: composition.blend_space,
            size: composition.size,
            below: owned(&plan.layers[..active]),
            inside: plan.inside.to_vec(),
            above: owned(&plan.layers[active + 1..]),
        }
    }

    fn same_ground(&self, other: &Self) -> bool {
        self.channels == other.channels
            && self.blend_space == other.blend_space
            && self.size == other.size
    }
}

fn same_layers(a: &[Arc<Layer>], b: &[Arc<Layer>]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| Arc::ptr_eq(a, b))
}

impl Cache {
    pub(super) fn new(budget: usize) -> Self {
        Self { budget, kept: Mutex::default() }
    }

    fn kept(&self) -> MutexGuard<'_, Kept> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn bytes(&self) -> usize {
        self.kept().bytes
    }

    /// Opens the generations of a call whose active layer stands at `active` in the plan's list.
    pub(super) fn open(&self, plan: &Plan<'_>, active: usize) -> Ticket {
        let now = Setting::of(plan, active);
        let mut kept = self.kept();
        let [below, inside, above] = match &kept.setting {
            Some(before) if before.same_ground(&now) => [
                same_layers(&before.below, &now.below),
                same_layers(&before.inside, &now.inside),
                same_layers(&before.above, &now.above),
            ],
            _ => [false; 3],
        };
        kept.below.0 += u64::from(!below);
        kept.inside.0 += u64::from(!inside);
        kept.above.0 += u64::from(!above);
        if !below && !inside && !above {
            kept.entries.clear();
            kept.bytes = 0;
        }
        kept.setting = Some(now);
        Ticket { below: kept.below, inside: kept.inside, above: kept.above }
    }

    /// A channel's tile below the active layer, if it is known; `fields` are those that masks read now.
    pub(super) fn below(
        &self,
        ticket: Ticket,
        key: (ChannelId, TileAt),
        fields: &[Option<Tile>],
    ) -> Option<Arc<Below>> {
        self.kept().entry(key, fields)?.below_of(ticket)
    }

    /// What the layers below the active one inside its isolated group come to, if it is known.
    pub(super) fn inside(
        &self,
        ticket: Ticket,
        key: (ChannelId, TileAt),
        fields: &[Option<Tile>],
    ) -> Option<Arc<Vec<Vec<f32>>>> {
        let mut kept = self.kept();
        let (generation, inside) = kept.entry(key, fields)?.inside.as_ref()?;
        (*generation == ticket.inside).then(|| Arc::clone(inside))
    }

    pub(super) fn keep_inside(
        &self,
        ticket: Ticket,
        key: (ChannelId, TileAt),
        fields: &[Option<Tile>],
        inside: Arc<Vec<Vec<f32>>>,
    ) {
        let mut kept = self.kept();
        if ticket.inside == kept.inside {
            kept.change(key, fields, |entry| entry.inside = Some((ticket.inside, inside)));
        }
    }

    /// What a run of layers above the active one comes to, if it is known.
    pub(super) fn above(
        &self,
        ticket: Ticket,
        key: (ChannelId, TileAt),
        run: usize,
        fields: &[Option<Tile>],
    ) -> Option<Arc<Affine>> {
        let mut kept = self.kept();
        let (generation, affine) = kept.entry(key, fields)?.above.get(&run)?;
        (*generation == ticket.above).then(|| Arc::clone(affine))
    }

    pub(super) fn keep_below(
        &self,
        ticket: Ticket,
        key: (ChannelId, TileAt),
        fields: &[Option<Tile>],
        below: Arc<Below>,
    ) {
        let mut kept = self.kept();
        if ticket.below == kept.below {
            kept.change(key, fields, |entry| entry.below = Some((ticket.below, below)));
        }
    }

    pub(super) fn keep_above(
        &self,
        ticket: Ticket,
        key: (ChannelId, TileAt),
        run: usize,
        fields: &[Option<Tile>],
        affine: Arc<Affine>,
    ) {
        let mut kept = self.kept();
        if ticket.above == kept.above {
            kept.change(key, fields, |entry| {
                entry.above.insert(run, (ticket.above, affine));
            });
        }
    }

    /// Lets go of what was not used for longest, where there is more than the budget: of an eighth more than
    /// it must, so that not each frame has to look for what is oldest.
    pub(super) fn keep_to_budget(&self) {
        if self.bytes() > self.budget {
            self.evict_to(self.budget / 8 * 7);
        }
    }

    /// Lets go of what was not used for longest, until no more than `bytes` are taken.
    pub(super) fn evict_to(&self, bytes: usize) {
        let mut kept = self.kept();
        if kept.bytes <= bytes {
            return;
        }
        let mut by_age: Vec<_> =
            kept.entries.iter().map(|(&key, entry)| (entry.last_use, key)).collect();
        by_age.sort_unstable();
        for (_, key) in by_age {
            if kept.bytes <= bytes {
                break;
            }
            if let Some(entry) = kept.entries.remove(&key) {
                kept.bytes -= entry.bytes;
            }
        }
    }
}

impl Kept {
    /// The entry, as used now; none where it was made of other tiles of fields.
    fn entry(&mut self, key: (ChannelId, TileAt), fields: &[Option<Tile>]) -> Option<&mut Entry> {
        self.uses += 1;
        let entry = self.entries.get_mut(&key)?;
        entry.last_use = self.uses;
        same_fields(&entry.fields, fields).then_some(entry)
    }

    fn change(
        &mut self,
        key: (ChannelId, TileAt),
        fields: &[Option<Tile>],
        change: impl FnOnce(&mut Entry),
    ) {
        self.uses += 1;
        let entry = self.entries.entry(key).or_default();
        if !same_fields(&entry.fields, fields) {
            (entry.below, entry.inside, entry.fields) = (None, None, fields.to_vec());
            entry.above.clear();
        }
        entry.above.retain(|_, (generation, _)| *generation == self.above);
        change(entry);
        let bytes = entry.measured();
        self.bytes = self.bytes + bytes - entry.bytes;
        (entry.bytes, entry.last_use) = (bytes, self.uses);
    }
}

impl Entry {
    fn below_of(&self, ticket: Ticket) -> Option<Arc<Below>> {
        let (generation, below) = self.below.as_ref()?;
        (*generation == ticket.below).then(|| Arc::clone(below))
    }

    fn measured(&self) -> usize {
        let below = self.below.as_ref().map_or(0, |(_, below)| below.bytes());
        let above = self.above.values().map(|(_, affine)| affine.bytes());
        let inside = self.inside.as_ref().map_or(0, |(_, inside)| row_bytes(inside));
        size_of::<Self>() + below + inside + above.sum::<usize>()
    }
}

fn same_fields(a: &[Option<Tile>], b: &[Option<Tile>]) -> bool {
    a.len() == b.len()
        && a.iter().zip(b).all(|pair| match pair {
            (Some(a), Some(b)) => a.same(b),
            (None, None) => true,
            _ => false,
        })
}

impl Below {
    fn bytes(&self) -> usize {
        match self {
            Self::Fifteen(planes) => planes.len() * Plane15::BYTES,
            Self::Precise(rows) => row_bytes(rows),
        }
    }
}

fn row_bytes(rows: &[Vec<f32>]) -> usize {
    rows.iter().map(|row| size_of_val(row.as_slice())).sum()
}

impl Affine {
    /// Does to a plane for each component what the run does.
    pub(super) fn apply(&self, path: Path, planes: &mut [Plane15]) {
        for ((plane, slope), offset) in planes.iter_mut().zip(&self.slopes).zip(&self.offsets) {
            if !slope.uniform || !offset.uniform {
                plane.expand();
            }
            let len = plane.len();
            path.affine(&mut plane.texels, slope.source(), offset.source(), len);
        }
    }

    fn bytes(&self) -> usize {
        (self.slopes.len() + self.offsets.len()) * Plane15::BYTES
    }
}
