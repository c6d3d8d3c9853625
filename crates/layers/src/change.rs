//! Which tiles of a composite change from one composition to another.
//!
//! Found by identity: layers first, then planes, then properties; no texel is read. Changes rise through
//! the tree bottom first, and each layer says by [`Layer::spread`] which tiles of its result they reach.

use std::collections::BTreeMap;
use std::sync::Arc;

use raster::{Plane, TileSet};

use crate::node::{Reading, may_touch};
use crate::{
    ChannelId, Composition, Content, FieldId, Isolation, Layer, LayerId, Mask, MaskSource,
    MaskTerm, PaintedCell,
};

/// The tiles of a channel that must be composited again. A layer that changed, came, went or moved
/// touches the tiles where it may give anything. The ground, the blend space and the size touch all.
pub fn changed_tiles(
    before: &Composition<'_>,
    now: &Composition<'_>,
    channel: ChannelId,
) -> TileSet {
    if !is_same_setting(before, now, channel) {
        return TileSet::all(now.size.extent());
    }
    let mut change = Change { before, now, channel, fields: BTreeMap::new() };
    change.fields = change.changed_fields();
    change.of_lists(&before.stack.layers, &now.stack.layers, change.none())
}

/// The tiles of a mask that must be looked at again: `masks` are what it was in `before` and is in `now`.
pub fn changed_mask_tiles(
    before: &Composition<'_>,
    now: &Composition<'_>,
    masks: [&Mask; 2],
) -> TileSet {
    if before.size != now.size {
        return TileSet::all(now.size.extent());
    }
    let [was, is] = masks;
    let mut change = Change { before, now, channel: ChannelId(0), fields: BTreeMap::new() };
    change.fields = change.changed_fields_of(is.acting());
    change.of_mask(was, is)
}

/// True when both can be composited, and ground, blend space and size are the same.
fn is_same_setting(before: &Composition<'_>, now: &Composition<'_>, channel: ChannelId) -> bool {
    let of = |composition: &Composition<'_>| {
        let descriptor = composition.channels.iter().find(|known| known.id == channel)?;
        let ground = *composition.ground_of(descriptor);
        Some((composition.size, descriptor.kind, ground, composition.decodes(descriptor)))
    };
    let setting = of(now);
    setting.is_some() && setting == of(before) && before.check().is_ok() && now.check().is_ok()
}

struct Change<'a> {
    before: &'a Composition<'a>,
    now: &'a Composition<'a>,
    channel: ChannelId,
    /// The tiles of the fields in use that changed; fields that did not are left out.
    fields: BTreeMap<FieldId, TileSet>,
}

impl Change<'_> {
    fn none(&self) -> TileSet {
        TileSet::none(self.now.size.extent())
    }

    fn all(&self) -> TileSet {
        TileSet::all(self.now.size.extent())
    }

    fn changed_fields(&self) -> BTreeMap<FieldId, TileSet> {
        let masks = self.now.stack.walk().flat_map(|layer| layer.masks(self.channel));
        self.changed_fields_of(masks.flat_map(Mask::acting))
    }

    fn changed_fields_of<'m>(
        &self,
        terms: impl Iterator<Item = &'m MaskTerm>,
    ) -> BTreeMap<FieldId, TileSet> {
        let mut fields = BTreeMap::new();
        for term in terms {
            if let MaskSource::Field(expr) = &term.source {
                fields.entry(expr.field).or_insert_with(|| self.changed_field(expr.field));
            }
        }
        fields.retain(|_, tiles| !tiles.is_empty());
        fields
    }

    fn changed_field(&self, field: FieldId) -> TileSet {
        let mut changed = self.none();
        for at in self.now.size.extent().tile_places() {
            match (self.before.fields.tile(field, at), self.now.fields.tile(field, at)) {
                (Ok(Some(before)), Ok(Some(now))) if before.same(&now) => {}
                (Ok(None), Ok(None)) => {}
                _ => changed.insert(at),
            }
        }
        changed
    }

    /// What changed in the result of a list of layers; `changed` changed below it.
    fn of_lists(&self, before: &[Arc<Layer>], now: &[Arc<Layer>], mut changed: TileSet) -> TileSet {
        for step in steps(before, now) {
            if let (Some(before), Some(now)) = (step.before, step.now)
                && Arc::ptr_eq(before, now)
                && self.fields.is_empty()
            {
                if !changed.is_empty() {
                    changed = now.spread(&changed);
                }
                continue;
            }
            let mut above = self.none();
            for layer in [step.before, step.now].into_iter().flatten() {
                above.union(&layer.spread(&changed));
            }
            above.union(&self.of_step(&step, &changed));
            changed = above;
        }
        changed
    }

    /// What changed by a layer itself, in the tiles that it touches; `below` changed below it.
    fn of_step(&self, step: &Step<'_>, below: &TileSet) -> TileSet {
        let changed = match (step.before, step.now) {
            (Some(before), Some(now)) => self.of_layer(before, now, below),
            _ => self.all(),
        };
        let mut touched = self.none();
        for at in changed.iter() {
            let touches = |layer, of: &Composition<'_>| {
                may_touch(layer, Reading { channel: self.channel, at, fields: of.fields })
            };
            if step.before.is_some_and(|layer| touches(layer, self.before))
                || step.now.is_some_and(|layer| touches(layer, self.now))
            {
                touched.insert(at);
            }
        }
        touched
    }

    fn of_layer(&self, before: &Arc<Layer>, now: &Arc<Layer>, below: &TileSet) -> TileSet {
        if Arc::ptr_eq(before, now) && self.fields.is_empty() {
            return self.none();
        }
        if before.factor(self.channel) != now.factor(self.channel)
            || before.cell(self.channel).blend != now.cell(self.channel).blend
        {
            return self.all();
        }
        let mut changed = self.of_content(&before.content, &now.content, below);
        for (before, now) in before.masks(self.channel).into_iter().zip(now.masks(self.channel)) {
            changed.union(&self.of_mask(before, now));
        }
        changed
    }

    fn of_content(&self, before: &Content, now: &Content, below: &TileSet) -> TileSet {
        match (before, now) {
            (Content::Painted(before), Content::Painted(now)) => {
                match (before.get(&self.channel), now.get(&self.channel)) {
                    (Some(before), Some(now)) => of_painted(before, now),
                    (None, None) => self.none(),
                    _ => self.all(),
                }
            }
            (Content::Solid(before), Content::Solid(now)) => {
                let same = before.get(&self.channel) == now.get(&self.channel);
                if same { self.none() } else { self.all() }
            }
            (
                Content::Group { isolation: was, children: before },
                Content::Group { isolation, children: now },
            ) if was == isolation => {
                let below = match isolation {
                    Isolation::PassThrough => below.clone(),
                    Isolation::Isolated => self.none(),
                };
                self.of_lists(before, now, below)
            }
            _ => self.all(),
        }
    }

    fn of_mask(&self, before: &Mask, now: &Mask) -> TileSet {
        if before.acting().count() != now.acting().count() {
            return self.all();
        }
        let mut changed = self.none();
        for (before, now) in before.acting().zip(now.acting()) {
            if (before.invert, before.strength, before.combine)
                != (now.invert, now.strength, now.combine)
            {
                return self.all();
            }
            match (&before.source, &now.source) {
                (MaskSource::Painted(before), MaskSource::Painted(now)) => {
                    changed.union(&now.changed_tiles(before));
                }
                (MaskSource::Field(before), MaskSource::Field(now)) if before == now => {
                    if let Some(tiles) = self.fields.get(&now.field) {
                        changed.union(tiles);
                    }
                }
                _ => return self.all(),
            }
        }
        changed
    }
}

fn of_painted(before: &PaintedCell, now: &PaintedCell) -> TileSet {
    let mut changed = now.coverage.changed_tiles(&before.coverage);
    let planes = now.values.iter().zip(&before.values);
    for tiles in planes.map(|(now, before): (&Plane, &Plane)| now.changed_tiles(before)) {
        changed.union(&tiles);
    }
    changed
}

/// A layer that was, is, or both.
struct Step<'l> {
    before: Option<&'l Arc<Layer>>,
    now: Option<&'l Arc<Layer>>,
}

/// Both lists as one, in the order of both: layers that kept their order are one step, others are
/// steps of their own where they were and where they are.
fn steps<'l>(before: &'l [Arc<Layer>], now: &'l [Arc<Layer>]) -> Vec<Step<'l>> {
    let mut steps = Vec::new();
    let (mut was, mut is) = (0, 0);
    let ends = std::iter::once((before.len(), now.len()));
    for (next_was, next_is) in kept_in_order(before, now).into_iter().chain(ends) {
        let gone = before[was..next_was].iter();
        steps.extend(gone.map(|layer| Step { before: Some(layer), now: None }));
        let come = now[is..next_is].iter();
        steps.extend(come.map(|layer| Step { before: None, now: Some(layer) }));
        if let (Some(before), Some(now)) = (before.get(next_was), now.get(next_is)) {
            steps.push(Step { before: Some(before), now: Some(now) });
        }
        (was, is) = (next_was + 1, next_is + 1);
    }
    steps
}

/// The places, before and now, of a longest series of layers that stand in one order in both lists.
/// Quadratic in the number of layers of one list.
fn kept_in_order(before: &[Arc<Layer>], now: &[Arc<Layer>]) -> Vec<(usize, usize)> {
    let places: BTreeMap<LayerId, usize> =
        before.iter().enumerate().map(|(place, layer)| (layer.id, place)).collect();
    let both: Vec<(usize, usize)> = now
        .iter()
        .enumerate()
        .filter_map(|(is, layer)| Some((*places.get(&layer.id)?, is)))
        .collect();
    // For each, the longest series that ends there: its length, and the one before in it.
    let mut series: Vec<(usize, Option<usize>)> = Vec::with_capacity(both.len());
    for (place, &(was, _)) in both.iter().enumerate() {
        let earlier = (0..place).filter(|&earlier| both[earlier].0 < was);
        let previous = earlier.max_by_key(|&earlier| series[earlier].0);
        series.push((1 + previous.map_or(0, |previous| series[previous].0), previous));
    }
    let mut last = (0..both.len()).max_by_key(|&place| series[place].0);
    let mut kept = Vec::new();
    while let Some(place) = last {
        kept.push(both[place]);
        last = series[place].1;
    }
    kept.reverse();
    kept
}
