//! What holds for all tiles of one call: the channels, the layers in one list, and up to which of them
//! each channel is walked in f32.

use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::Arc;

use raster::Lanes;

use super::cache::{Cache, Ticket};
use super::kernel::{Op, Path};
use crate::{
    BlendMode, ChannelDescriptor, ChannelId, Composition, Content, FieldId, Isolation, Layer,
    LayerId, LayersError, Mask, MaskSource, Stack,
};

/// As many layers as 15 bits may carry an error through, each adding at most a third of a step (root
/// mean square): 4.5 sigma of the sum, the worst of a hundred thousand texels, stays under 1/4096.
const QUIET: f32 = 26.0;
/// By how much an overlay magnifies the variance of an error, on average over backdrop, source and
/// coverage: 1 + E[(2 Cs - 1)^2] E[coverage^2], about 1.1 for even distributions; seldom more.
const OVERLAY: f32 = 1.2;
/// A run of more layers than this is taken in one step from the first.
pub(super) const LONG: usize = 8;

/// One call's view of a composition.
#[derive(Debug)]
pub(super) struct Plan<'a> {
    pub(super) composition: &'a Composition<'a>,
    pub(super) channels: Vec<PlanChannel<'a>>,
    /// Bottom first. Groups that change nothing are taken apart.
    pub(super) layers: Vec<&'a Arc<Layer>>,
    /// Which of the layers is the active one, or holds it.
    pub(super) active: Option<usize>,
    /// Below the active layer, or what holds it, in the isolated group that stands in the list.
    pub(super) inside: &'a [Arc<Layer>],
    /// What is known from earlier calls.
    pub(super) memory: Option<Memory<'a>>,
    /// The fields that masks of any layer read.
    pub(super) fields: Vec<FieldId>,
    pub(super) lanes: Lanes,
    pub(super) path: Path,
}

/// What is known from earlier calls.
#[derive(Debug, Clone, Copy)]
pub(super) struct Memory<'c> {
    pub(super) cache: &'c Cache,
    pub(super) ticket: Ticket,
    /// Where the active layer stands.
    pub(super) active: usize,
}

#[derive(Debug)]
pub(super) struct PlanChannel<'a> {
    pub(super) descriptor: &'a ChannelDescriptor,
    pub(super) ground: &'a [u16],
    pub(super) linear: bool,
    /// The first of its planes.
    pub(super) first: usize,
    /// How many layers, from the bottom, are walked in f32.
    pub(super) precise: usize,
    /// Runs of layers above the active one and above `precise` that may be kept as one affine step.
    pub(super) runs: Vec<Range<usize>>,
}

impl<'a> Plan<'a> {
    pub(super) fn new(
        composition: &'a Composition<'a>,
        active: Option<LayerId>,
        channels: &[ChannelId],
    ) -> Result<Self, LayersError> {
        composition.check()?;
        let mut layers = Vec::new();
        take_apart(&composition.stack.layers, composition.channels, &mut layers);
        let found = active.and_then(|id| layers.iter().position(|layer| holds(layer, id)));
        let inside =
            active.zip(found).map_or(&[][..], |(id, place)| below_inside(layers[place], id));
        let active = found;
        let known = channels
            .iter()
            .filter_map(|id| composition.channels.iter().find(|known| known.id == *id));
        let mut first = 0;
        let channels = known
            .map(|descriptor| {
                let linear = composition.decodes(descriptor);
                let above = active.map_or(layers.len(), |active| active + 1);
                let mut runs = affine_runs(&layers, descriptor.id, above);
                let precise =
                    if linear { layers.len() } else { precise(&layers, descriptor.id, &runs) };
                runs.retain(|run| run.start >= precise);
                let channel = PlanChannel {
                    descriptor,
                    ground: composition.ground_of(descriptor).components(),
                    linear,
                    first,
                    precise,
                    runs,
                };
                first += descriptor.kind.components();
                channel
            })
            .collect();
        let fields = fields(composition.stack);
        let (lanes, path) = (Lanes::widest(), Path::fastest());
        let memory = None;
        Ok(Self { composition, channels, layers, active, inside, memory, fields, lanes, path })
    }

    /// How many planes all channels have.
    pub(super) fn planes(&self) -> usize {
        self.channels.iter().map(|channel| channel.ground.len()).sum()
    }
}

/// The children of an isolated group below the one that is a layer or holds it.
fn below_inside(group: &Layer, id: LayerId) -> &[Arc<Layer>] {
    match &group.content {
        Content::Group { isolation: Isolation::Isolated, children } => {
            let place = children.iter().position(|child| holds(child, id));
            &children[..place.unwrap_or(0)]
        }
        _ => &[],
    }
}

fn holds(layer: &Layer, id: LayerId) -> bool {
    layer.id == id || layer.children().iter().any(|child| holds(child, id))
}

fn fields(stack: &Stack) -> Vec<FieldId> {
    let mut fields = BTreeSet::new();
    for layer in stack.walk() {
        let masks = std::iter::once(&layer.mask).chain(layer.cells.values().map(|cell| &cell.mask));
        for term in masks.flat_map(Mask::acting) {
            if let MaskSource::Field(expr) = &term.source {
                fields.insert(expr.field);
            }
        }
    }
    fields.into_iter().collect()
}

/// Runs of layers from `first` on that do to the channel no more than `a Cb + b`, and of which at least
/// two do anything.
fn affine_runs(layers: &[&Arc<Layer>], channel: ChannelId, first: usize) -> Vec<Range<usize>> {
    let mut runs = Vec::new();
    let (mut start, mut acting) = (first, 0);
    for index in first..=layers.len() {
        let layer = layers.get(index).copied();
        match layer.map(|layer| (gives(layer, channel), is_affine(layer, channel))) {
            Some((false, _)) => {}
            Some((true, true)) => acting += 1,
            _ => {
                if acting > 1 {
                    runs.push(start..index);
                }
                (start, acting) = (index + 1, 0);
            }
        }
    }
    runs
}

/// True when the layer may give the channel anything in some tile.
fn gives(layer: &Layer, channel: ChannelId) -> bool {
    layer.factor(channel) > 0.0
        && match &layer.content {
            Content::Painted(cells) => cells.contains_key(&channel),
            Content::Solid(values) => values.contains_key(&channel),
            Content::Group { children, .. } => children.iter().any(|child| gives(child, channel)),
        }
}

fn is_affine(layer: &Layer, channel: ChannelId) -> bool {
    let pass_through =
        matches!(&layer.content, Content::Group { isolation: Isolation::PassThrough, .. });
    let mode = layer.cell(channel).blend;
    !pass_through
        && matches!(
            mode,
            BlendMode::Normal | BlendMode::Multiply | BlendMode::Screen | BlendMode::Exclusion
        )
}

/// Lists layers with the children of groups that change nothing in place of the group.
fn take_apart<'a>(
    layers: &'a [Arc<Layer>],
    channels: &[ChannelDescriptor],
    list: &mut Vec<&'a Arc<Layer>>,
) {
    for layer in layers {
        match &layer.content {
            Content::Group { isolation: Isolation::PassThrough, children }
                if channels.iter().all(|channel| is_plain(layer, channel.id)) =>
            {
                take_apart(children, channels, list);
            }
            _ => list.push(layer),
        }
    }
}

fn is_plain(layer: &Layer, channel: ChannelId) -> bool {
    layer.factor(channel) == 1.0
        && layer.masks(channel).iter().all(|mask| mask.acting().next().is_none())
}

/// How many layers of the list must be walked in f32: up to the topmost that may magnify an error, and
/// so many that those above it don't add up to too much. A run is one step, with one step's error.
fn precise(layers: &[&Arc<Layer>], channel: ChannelId, runs: &[Range<usize>]) -> usize {
    let mut noise = Noise { variance: 0.0, gain: 1.0 };
    let mut end = layers.len();
    while end > 0 {
        let run = runs.iter().find(|run| run.end == end);
        let start = run.map_or(end - 1, |run| run.start);
        let held = if run.is_some() {
            noise.variance += noise.gain;
            true
        } else {
            noise.take(layers[start], channel)
        };
        if !held || noise.variance > QUIET {
            return end;
        }
        end = start;
    }
    0
}

/// The errors of the layers that were looked at, in the variance of one layer's.
struct Noise {
    variance: f32,
    /// By how much they magnify the variance of what is below.
    gain: f32,
}

impl Noise {
    /// Looks at the next layer below; false when it needs f32.
    fn take(&mut self, layer: &Layer, channel: ChannelId) -> bool {
        if !gives(layer, channel) {
            return true;
        }
        if let Content::Group { isolation: Isolation::PassThrough, children } = &layer.content {
            self.variance += self.gain;
            return children.iter().rev().all(|child| self.take(child, channel));
        }
        let mode = layer.cell(channel).blend;
        // A solid overlay magnifies everywhere, and several of them everywhere alike.
        let solid = matches!(layer.content, Content::Solid(_));
        if Op::of(mode).is_none() || mode == BlendMode::Overlay && solid {
            return false;
        }
        self.variance += self.gain;
        if mode == BlendMode::Overlay {
            self.gain *= OVERLAY;
        }
        true
    }
}
