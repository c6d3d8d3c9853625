//! Cells that join accumulators, and their way into the kernel: alike with alike.

use std::array::from_fn;

use raster::TILE_TEXELS;

use super::display::Plane15;
use super::inputs::{Cover, Inputs, PlaneNumber};
use super::kernel::{Blend, FULL, MOST_COMPONENTS, Op, Path, Source, UNIFORM_LEN, Weight};

/// A cell that joins its channel's accumulators.
#[derive(Debug, Clone, Copy)]
pub(super) struct Join {
    pub(super) op: Op,
    /// The first accumulator, and how many.
    pub(super) first: usize,
    pub(super) components: usize,
    /// The first source plane; the others follow.
    pub(super) values: PlaneNumber,
    pub(super) weight: JoinWeight,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct JoinWeight {
    factor: u32,
    /// Those that are not uniform: coverage first if it is one of them, then masks.
    planes: [Option<PlaneNumber>; 3],
}

/// A weight on its way: all that is uniform is multiplied into the factor.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weighing {
    pub(super) factor: f32,
    pub(super) planes: [Option<PlaneNumber>; 3],
}

impl Weighing {
    pub(super) const fn of(factor: f32) -> Self {
        Self { factor, planes: [None; 3] }
    }

    pub(super) fn take(&mut self, cover: Cover) {
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
    pub(super) fn done(self) -> Option<JoinWeight> {
        let factor = (self.factor * FULL as f32 + 0.5) as u32;
        (factor > 0).then_some(JoinWeight { factor, planes: self.planes })
    }
}

impl JoinWeight {
    pub(super) fn of(self, inputs: &Inputs) -> Weight<'_> {
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

/// Blends what was gathered, alike with alike.
pub(super) fn blend_all(path: Path, joins: &[Join], planes: &mut [Plane15], inputs: &Inputs) {
    let mut rest = joins;
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
            1 => blend_joins::<1>(path, now, planes, inputs),
            2 => blend_joins::<2>(path, now, planes, inputs),
            3 => blend_joins::<3>(path, now, planes, inputs),
            4 => blend_joins::<4>(path, now, planes, inputs),
            _ => blend_joins::<MOST_COMPONENTS>(path, now, planes, inputs),
        }
    }
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

pub(super) fn blend_planes<const N: usize>(
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
