//! One tile's walk through the layers, all channels together.
//!
//! A layer's cells are first gathered (`gather`): which planes join which accumulators, by which blend and weight.
//! Those that are alike are then blended in one loop (`join`), so that coverage and masks are loaded once.

use std::ops::Range;
use std::sync::Arc;

use raster::{Tile, TileAt};

use super::cache::Below;
use super::display::{DisplayTile, Plane15};
use super::early;
use super::inputs::Inputs;
use super::join::{Join, Weighing, blend_all, blend_planes};
use super::kernel::{Op, Path};
use super::plan::{LONG, Memory, Plan, PlanChannel};
use super::precise::{Precise, Start};
use crate::node::Reading;
use crate::{Content, Isolation, Layer, LayersError};

/// What a walk needs of memory; used again for the next tile.
#[derive(Debug)]
pub(super) struct Walker {
    pub(super) tile: DisplayTile,
    pub(super) inputs: Inputs,
    pub(super) joins: Vec<Join>,
    /// For each channel 0 where it takes part; 1 where the layer was walked in f32; else the depth of the
    /// group that gives it nothing.
    skipped: Vec<usize>,
    /// Backdrops of open pass-through groups.
    saved: Vec<Plane15>,
    saved_len: usize,
    /// For each channel.
    progress: Vec<Progress>,
    /// The tiles of the plan's fields.
    pub(super) fields: Vec<Option<Tile>>,
}

/// How far a channel is.
#[derive(Debug, Clone, Copy)]
struct Progress {
    /// The next layer that it takes part in.
    next: usize,
    /// True when it began with what was known.
    known: bool,
    /// What is below the active layer is to be kept.
    keep: bool,
}

impl Walker {
    pub(super) fn new() -> Self {
        Self {
            tile: DisplayTile::default(),
            inputs: Inputs::new(),
            joins: Vec::new(),
            skipped: Vec::new(),
            saved: Vec::new(),
            saved_len: 0,
            progress: Vec::new(),
            fields: Vec::new(),
        }
    }

    /// Composites one tile into `self.tile`.
    pub(super) fn walk(&mut self, plan: &Plan<'_>, at: TileAt) -> Result<(), LayersError> {
        self.tile.shape(plan.channels.iter().map(|channel| channel.descriptor));
        self.progress.clear();
        self.skipped.clear();
        self.skipped.resize(plan.channels.len(), 0);
        self.saved_len = 0;
        self.fields.clear();
        if plan.memory.is_some() {
            for &field in &plan.fields {
                self.fields.push(plan.composition.fields.tile(field, at)?);
            }
        }
        for channel in &plan.channels {
            let progress = self.start(plan, channel, at)?;
            self.progress.push(progress);
        }
        while let Some(index) = self.next_layer(plan) {
            if let Some(memory) = plan.memory {
                self.remember(plan, at, memory, index)?;
            }
            if self.next_layer(plan) != Some(index) {
                continue;
            }
            early::fetch(plan, at, index);
            for (skipped, progress) in self.skipped.iter_mut().zip(&mut self.progress) {
                *skipped = usize::from(index < progress.next);
                progress.next = progress.next.max(index + 1);
            }
            self.join_layer(plan, plan.layers[index], at, 2)?;
        }
        for (plane, _) in self.tile.planes.iter_mut().zip(0..plan.planes()) {
            plane.expand();
        }
        Ok(())
    }

    /// The lowest layer that some channel has not been through.
    fn next_layer(&self, plan: &Plan<'_>) -> Option<usize> {
        let lowest = self.progress.iter().map(|progress| progress.next).min();
        lowest.filter(|&index| index < plan.layers.len())
    }

    /// Lets go of the tiles that were read: who holds a tile's values makes its writer copy them.
    pub(super) fn let_go(&mut self) {
        self.inputs.clear();
        self.fields.clear();
    }

    /// A channel's lowest part: what is known of it, else the ground and the layers that need f32.
    fn start(
        &mut self,
        plan: &Plan<'_>,
        channel: &PlanChannel<'_>,
        at: TileAt,
    ) -> Result<Progress, LayersError> {
        let components = channel.ground.len();
        let id = channel.descriptor.id;
        let reading = Reading { channel: id, at, fields: plan.composition.fields };
        let nodes = |layers: Range<usize>| reading.nodes(plan.layers[layers].iter().copied());
        let precise = Precise { components, linear: channel.linear, lanes: plan.lanes };
        let planes = &mut self.tile.planes[channel.first..][..components];
        let Some(memory) = plan.memory else {
            precise.composite(Start::Ground(channel.ground), &nodes(0..channel.precise)?, planes);
            return Ok(Progress { next: channel.precise, known: true, keep: false });
        };
        let Memory { cache, ticket, active } = memory;
        let known = cache.below(ticket, (id, at), &self.fields);
        match known.as_deref() {
            Some(Below::Fifteen(kept)) if channel.precise <= active => {
                planes.iter_mut().zip(kept).for_each(|(plane, kept)| plane.copy_from(kept));
                return Ok(Progress { next: active, known: true, keep: false });
            }
            Some(Below::Precise(kept)) if channel.precise > active => {
                let nodes = nodes(active..channel.precise)?;
                precise.composite(Start::Kept(kept), &nodes, planes);
                return Ok(Progress { next: channel.precise, known: true, keep: false });
            }
            _ => {}
        }
        if channel.precise > active {
            let kept = precise.keep(channel.ground, &nodes(0..active)?);
            precise.composite(Start::Kept(&kept), &nodes(active..channel.precise)?, planes);
            let below = Arc::new(Below::Precise(kept));
            cache.keep_below(ticket, (id, at), &self.fields, below);
        } else {
            precise.composite(Start::Ground(channel.ground), &nodes(0..channel.precise)?, planes);
        }
        let keep = channel.precise <= active;
        Ok(Progress { next: channel.precise, known: false, keep })
    }

    /// Before the layer `index` is joined: keeps what is below the active layer, and takes runs above it
    /// in one step. A short run is worked out when its tile comes for the second time: seldom in vain.
    fn remember(
        &mut self,
        plan: &Plan<'_>,
        at: TileAt,
        memory: Memory<'_>,
        index: usize,
    ) -> Result<(), LayersError> {
        let Memory { cache, ticket, active } = memory;
        for (channel, progress) in plan.channels.iter().zip(&mut self.progress) {
            let planes = &mut self.tile.planes[channel.first..][..channel.ground.len()];
            let key = (channel.descriptor.id, at);
            if index == active && progress.keep {
                let kept = planes.iter().map(Plane15::kept).collect();
                cache.keep_below(ticket, key, &self.fields, Arc::new(Below::Fifteen(kept)));
            }
            let Some(run) = channel.runs.iter().find(|run| run.start == index) else { continue };
            let taken = progress.known || run.len() > LONG;
            if !taken || progress.next > index {
                continue;
            }
            let number = run.start - active;
            let known = cache.above(ticket, key, number, &self.fields);
            let affine = if let Some(known) = known {
                known
            } else {
                let reading = Reading { channel: key.0, at, fields: plan.composition.fields };
                let nodes = reading.nodes(plan.layers[run.clone()].iter().copied())?;
                let components = channel.ground.len();
                let precise = Precise { components, linear: false, lanes: plan.lanes };
                let affine = Arc::new(precise.affine(&nodes));
                cache.keep_above(ticket, key, number, &self.fields, Arc::clone(&affine));
                affine
            };
            affine.apply(plan.path, planes);
            progress.next = run.end;
        }
        Ok(())
    }

    fn join_layer(
        &mut self,
        plan: &Plan<'_>,
        layer: &Layer,
        at: TileAt,
        depth: usize,
    ) -> Result<(), LayersError> {
        if let Content::Group { isolation: Isolation::PassThrough, children } = &layer.content {
            return self.pass_through(plan, layer, children, at, depth);
        }
        self.inputs.clear();
        self.joins.clear();
        let mut layer_mask = None;
        for index in 0..plan.channels.len() {
            if self.skipped[index] == 0 {
                self.gather(plan, layer, &plan.channels[index], at, &mut layer_mask)?;
            }
        }
        blend_all(plan.path, &self.joins, &mut self.tile.planes, &self.inputs);
        Ok(())
    }

    /// The children on what is below; then, where the group's weight is not full, back towards that.
    fn pass_through(
        &mut self,
        plan: &Plan<'_>,
        layer: &Layer,
        children: &[Arc<Layer>],
        at: TileAt,
        depth: usize,
    ) -> Result<(), LayersError> {
        let saved_before = self.saved_len;
        for (index, channel) in plan.channels.iter().enumerate() {
            if self.skipped[index] != 0 {
                continue;
            }
            match uniform_weight(plan, layer, channel, at)? {
                Some(0.0) => self.skipped[index] = depth,
                Some(1.0) => {}
                _ => self.save(channel),
            }
        }
        for child in children {
            self.join_layer(plan, child, at, depth + 1)?;
        }
        self.inputs.clear();
        self.joins.clear();
        let (mut layer_mask, mut saved) = (None, saved_before);
        for (index, channel) in plan.channels.iter().enumerate() {
            if self.skipped[index] == depth {
                self.skipped[index] = 0;
                continue;
            }
            if self.skipped[index] != 0 || uniform_weight(plan, layer, channel, at)? == Some(1.0) {
                continue;
            }
            let mut weighing = Weighing::of(layer.factor(channel.descriptor.id));
            self.weigh(plan, layer, channel, at, &mut layer_mask, &mut weighing)?;
            self.return_towards(plan.path, channel, saved, weighing);
            saved += channel.ground.len();
        }
        self.saved_len = saved_before;
        Ok(())
    }

    /// Keeps a channel's accumulators as they are.
    fn save(&mut self, channel: &PlanChannel<'_>) {
        for plane in &self.tile.planes[channel.first..][..channel.ground.len()] {
            if self.saved.len() == self.saved_len {
                self.saved.push(Plane15::new());
            }
            self.saved[self.saved_len].copy_from(plane);
            self.saved_len += 1;
        }
    }

    /// A channel's accumulators become the saved ones with so much of themselves.
    fn return_towards(
        &mut self,
        path: Path,
        channel: &PlanChannel<'_>,
        saved: usize,
        weighing: Weighing,
    ) {
        let components = channel.ground.len();
        let planes = self.tile.planes[channel.first..][..components].iter_mut();
        let weight = weighing.done();
        for (plane, over) in planes.zip(&mut self.saved[saved..][..components]) {
            std::mem::swap(plane, over);
            let Some(weight) = weight else { continue };
            let weight = weight.of(&self.inputs);
            blend_planes(path, Op::Toward, [plane], [over.source()], weight);
        }
    }
}

/// A layer's opacities and masks where they are uniform over the tile.
fn uniform_weight(
    plan: &Plan<'_>,
    layer: &Layer,
    channel: &PlanChannel<'_>,
    at: TileAt,
) -> Result<Option<f32>, LayersError> {
    let mut weight = layer.factor(channel.descriptor.id);
    if weight == 0.0 {
        return Ok(Some(0.0));
    }
    for mask in layer.masks(channel.descriptor.id) {
        match mask.uniform(at, plan.composition.fields)? {
            Some(value) => weight *= value,
            None => return Ok(None),
        }
    }
    Ok(Some(weight))
}
