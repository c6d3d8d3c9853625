//! One tile's walk through the layers, all channels together.
//!
//! A layer's cells are first gathered: which planes join which accumulators, by which blend and weight.
//! Those that are alike are then blended in one loop, so that coverage and masks are loaded once.

use std::array::from_fn;
use std::ops::Range;
use std::sync::Arc;

use raster::{TILE_TEXELS, Tile, TileAt, TileRead, to_unit};

use super::cache::Below;
use super::display::{DisplayTile, Plane15};
use super::inputs::{Cover, Inputs, PlaneNumber};
use super::kernel::{Blend, FULL, MOST_COMPONENTS, Op, Path, Source, UNIFORM_LEN, Weight};
use super::plan::{LONG, Memory, Plan, PlanChannel};
use super::precise::{Precise, Start};
use crate::node::{Node, Reading};
use crate::{Content, Isolation, Layer, LayersError, Value};

/// What a walk needs of memory; used again for the next tile.
#[derive(Debug)]
pub(super) struct Walker {
    pub(super) tile: DisplayTile,
    inputs: Inputs,
    joins: Vec<Join>,
    /// For each channel 0 where it takes part; 1 where the layer was walked in f32; else the depth of the
    /// group that gives it nothing.
    skipped: Vec<usize>,
    /// Backdrops of open pass-through groups.
    saved: Vec<Plane15>,
    saved_len: usize,
    /// For each channel.
    progress: Vec<Progress>,
    /// The tiles of the plan's fields.
    fields: Vec<Option<Tile>>,
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

/// A cell that joins its channel's accumulators.
#[derive(Debug, Clone, Copy)]
struct Join {
    op: Op,
    /// The first accumulator, and how many.
    first: usize,
    components: usize,
    /// The first source plane; the others follow.
    values: PlaneNumber,
    weight: JoinWeight,
}

#[derive(Debug, Clone, Copy)]
struct JoinWeight {
    factor: u32,
    /// Those that are not uniform: coverage first if it is one of them, then masks.
    planes: [Option<PlaneNumber>; 3],
}

/// A weight on its way: all that is uniform is multiplied into the factor.
#[derive(Debug, Clone, Copy)]
struct Weighing {
    factor: f32,
    planes: [Option<PlaneNumber>; 3],
}

impl Weighing {
    const fn of(factor: f32) -> Self {
        Self { factor, planes: [None; 3] }
    }

    fn take(&mut self, cover: Cover) {
        match cover {
            Cover::Uniform(value) => self.factor *= value,
            Cover::Plane(number) => {
                if let Some(free) = self.planes.iter_mut().find(|plane| plane.is_none()) {
                    *free = Some(number);
                }
            }
        }
    }

    /// None where nothing is left.
    fn done(self) -> Option<JoinWeight> {
        let factor = (self.factor * FULL as f32 + 0.5) as u32;
        (factor > 0).then_some(JoinWeight { factor, planes: self.planes })
    }
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
        let first = self.progress.iter().map(|progress| progress.next).min();
        for index in first.unwrap_or(plan.layers.len())..plan.layers.len() {
            super::early::fetch(plan, at, index);
            if let Some(memory) = plan.memory {
                self.remember(plan, at, memory, index)?;
            }
            for (skipped, progress) in self.skipped.iter_mut().zip(&self.progress) {
                *skipped = usize::from(index < progress.next);
            }
            self.join_layer(plan, plan.layers[index], at, 2)?;
        }
        for (plane, _) in self.tile.planes.iter_mut().zip(0..plan.planes()) {
            plane.expand();
        }
        Ok(())
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
        self.blend(plan.path);
        Ok(())
    }

    /// Adds a layer's cell of one channel to the joins, if it gives anything.
    fn gather(
        &mut self,
        plan: &Plan<'_>,
        layer: &Layer,
        channel: &PlanChannel<'_>,
        at: TileAt,
        layer_mask: &mut Option<Cover>,
    ) -> Result<(), LayersError> {
        let id = channel.descriptor.id;
        let mut weighing = Weighing::of(layer.factor(id));
        let Some(op) = Op::of(layer.cell(id).blend) else { return Ok(()) };
        if weighing.factor == 0.0 || !gives(layer, channel, at) {
            return Ok(());
        }
        self.weigh(plan, layer, channel, at, layer_mask, &mut weighing)?;
        if weighing.factor == 0.0 {
            return Ok(());
        }
        let content = self.content(plan, layer, channel, at)?;
        let Some((values, coverage)) = content else { return Ok(()) };
        // Coverage goes first: what is shared by cells of one stroke is then compared first.
        let masks = std::mem::take(&mut weighing.planes);
        weighing.take(coverage);
        for mask in masks.into_iter().flatten() {
            weighing.take(Cover::Plane(mask));
        }
        if let Some(weight) = weighing.done() {
            let (first, components) = (channel.first, channel.ground.len());
            self.joins.push(Join { op, first, components, values, weight });
        }
        Ok(())
    }

    /// Multiplies a weight by the layer's mask, worked out once for all channels, and the cell's.
    fn weigh(
        &mut self,
        plan: &Plan<'_>,
        layer: &Layer,
        channel: &PlanChannel<'_>,
        at: TileAt,
        layer_mask: &mut Option<Cover>,
        weighing: &mut Weighing,
    ) -> Result<(), LayersError> {
        let fields = plan.composition.fields;
        let [of_layer, of_cell] = layer.masks(channel.descriptor.id);
        let cover = match *layer_mask {
            Some(cover) => cover,
            None => *layer_mask.insert(self.inputs.mask(of_layer, at, fields)?),
        };
        weighing.take(cover);
        weighing.take(self.inputs.mask(of_cell, at, fields)?);
        Ok(())
    }

    /// The first of a cell's value planes, and its coverage; none where nothing is covered.
    fn content(
        &mut self,
        plan: &Plan<'_>,
        layer: &Layer,
        channel: &PlanChannel<'_>,
        at: TileAt,
    ) -> Result<Option<(PlaneNumber, Cover)>, LayersError> {
        let id = channel.descriptor.id;
        let mut first = None;
        let cover = match &layer.content {
            Content::Painted(cells) => {
                let Some(cell) = cells.get(&id) else { return Ok(None) };
                for plane in &cell.values {
                    let number = self.inputs.push(plane.tile(at).read()?);
                    first.get_or_insert(number);
                }
                match cell.coverage.tile(at).read()? {
                    TileRead::Uniform(value) => Cover::Uniform(to_unit(value)),
                    read @ TileRead::Texels(_) => Cover::Plane(self.inputs.push(read)),
                }
            }
            Content::Solid(values) => {
                for &value in values.get(&id).into_iter().flat_map(Value::components) {
                    let number = self.inputs.push(TileRead::Uniform(value));
                    first.get_or_insert(number);
                }
                Cover::Uniform(1.0)
            }
            Content::Group { children, .. } => {
                return self.isolated(plan, layer, children, channel, at);
            }
        };
        Ok(first.map(|first| (first, cover)))
    }

    /// As [`Walker::content`] for an isolated group.
    fn isolated(
        &mut self,
        plan: &Plan<'_>,
        group: &Layer,
        children: &[Arc<Layer>],
        channel: &PlanChannel<'_>,
        at: TileAt,
    ) -> Result<Option<(PlaneNumber, Cover)>, LayersError> {
        let (id, components) = (channel.descriptor.id, channel.ground.len());
        let reading = Reading { channel: id, at, fields: plan.composition.fields };
        let precise = Precise { components, linear: channel.linear, lanes: plan.lanes };
        let memory = plan.memory.filter(|memory| {
            std::ptr::eq(group, Arc::as_ptr(plan.layers[memory.active])) && !plan.inside.is_empty()
        });
        let known = match memory {
            Some(memory) => Some(self.known_inside(plan, memory, reading, precise)?),
            None => None,
        };
        let below = known.as_ref().map(|known| known.as_slice());
        let kept = if below.is_some() { plan.inside.len() } else { 0 };
        let nodes = reading.nodes(&children[kept..])?;
        if nodes.is_empty() && below.is_none() {
            return Ok(None);
        }
        let uniform = below.is_none_or(|rows| rows.iter().all(|row| row.len() == 1));
        if uniform && nodes.iter().all(Node::is_uniform) {
            let (colour, coverage) = precise.isolated_uniform(below, &nodes);
            let numbers = colour.map(|value| self.inputs.push(TileRead::Uniform(value)));
            return Ok(Some((numbers[0], Cover::Uniform(to_unit(coverage)))));
        }
        let mut blanks: [_; 4] = from_fn(|_| self.inputs.blank());
        precise.isolated(below, &nodes, &mut blanks.each_mut().map(Arc::make_mut));
        let numbers = blanks.map(|blank| self.inputs.push_written(blank));
        Ok(Some((numbers[0], Cover::Plane(numbers[components]))))
    }

    /// What is below the active layer inside its isolated group; worked out where it isn't known.
    fn known_inside(
        &self,
        plan: &Plan<'_>,
        memory: Memory<'_>,
        reading: Reading<'_>,
        precise: Precise,
    ) -> Result<Arc<Vec<Vec<f32>>>, LayersError> {
        let Memory { cache, ticket, .. } = memory;
        let key = (reading.channel, reading.at);
        if let Some(known) = cache.inside(ticket, key, &self.fields) {
            return Ok(known);
        }
        let inside = Arc::new(precise.keep_inside(&reading.nodes(plan.inside)?));
        cache.keep_inside(ticket, key, &self.fields, Arc::clone(&inside));
        Ok(inside)
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

    /// Blends what was gathered, alike with alike.
    fn blend(&mut self, path: Path) {
        let Self { tile, inputs, joins, .. } = self;
        let mut rest = joins.as_slice();
        while let Some(join) = rest.first() {
            let mut alike = 1;
            let mut components = join.components;
            while let Some(next) = rest.get(alike)
                && next.op == join.op
                && next.weight.same(&join.weight, inputs)
                && components + next.components <= MOST_COMPONENTS
            {
                components += next.components;
                alike += 1;
            }
            let (now, later) = rest.split_at(alike);
            rest = later;
            match components {
                1 => blend_joins::<1>(path, now, &mut tile.planes, inputs),
                2 => blend_joins::<2>(path, now, &mut tile.planes, inputs),
                3 => blend_joins::<3>(path, now, &mut tile.planes, inputs),
                4 => blend_joins::<4>(path, now, &mut tile.planes, inputs),
                _ => blend_joins::<MOST_COMPONENTS>(path, now, &mut tile.planes, inputs),
            }
        }
    }
}

impl JoinWeight {
    fn of(self, inputs: &Inputs) -> Weight<'_> {
        let [coverage, first, second] =
            self.planes.map(|number| number.map(|number| inputs.source(number)));
        Weight {
            coverage: coverage.unwrap_or(Source::Uniform(u16::MAX)),
            factor: self.factor,
            masks: [first, second],
        }
    }

    fn same(&self, other: &Self, inputs: &Inputs) -> bool {
        self.factor == other.factor
            && self.planes.iter().zip(&other.planes).all(|planes| match planes {
                (Some(a), Some(b)) => inputs.same(*a, *b),
                (None, None) => true,
                _ => false,
            })
    }
}

/// True when the layer may give the channel anything in this tile.
fn gives(layer: &Layer, channel: &PlanChannel<'_>, at: TileAt) -> bool {
    let id = channel.descriptor.id;
    match &layer.content {
        Content::Painted(cells) => {
            cells.get(&id).is_some_and(|cell| !matches!(cell.coverage.tile(at), Tile::Uniform(0)))
        }
        Content::Solid(values) => values.contains_key(&id),
        Content::Group { .. } => true,
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

/// Blends joins of `N` components in all.
fn blend_joins<const N: usize>(
    path: Path,
    joins: &[Join],
    planes: &mut [Plane15],
    inputs: &Inputs,
) {
    let Some(weight) = joins.first().map(|join| join.weight) else { return };
    let mut components = joins
        .iter()
        .flat_map(|join| (0..join.components).map(|n| (join.first + n, join.values + n)));
    let pairs: [(usize, PlaneNumber); N] = from_fn(|_| components.next().unwrap_or_default());
    // Cells of different channels have no plane in common.
    let Ok(planes) = planes.get_disjoint_mut(pairs.map(|(plane, _)| plane)) else { return };
    let sources = pairs.map(|(_, value)| inputs.source(value));
    blend_planes(path, joins[0].op, planes, sources, weight.of(inputs));
}

fn blend_planes<const N: usize>(
    path: Path,
    op: Op,
    planes: [&mut Plane15; N],
    sources: [Source<'_>; N],
    weight: Weight<'_>,
) {
    let uniform = |source: &Source<'_>| matches!(source, Source::Uniform(_));
    let alike = planes.iter().all(|plane| plane.uniform)
        && sources.iter().all(uniform)
        && uniform(&weight.coverage)
        && weight.masks.iter().flatten().all(uniform);
    let backdrops = planes.map(|plane| {
        if !alike {
            plane.expand();
        }
        &mut *plane.texels
    });
    let len = if alike { UNIFORM_LEN } else { TILE_TEXELS };
    path.blend(Blend { op, backdrops, sources, weight, len });
}
