//! What dabs do to one block of 8 x 8 texels: loops over arrays, which become vector code.
//!
//! Every way through here gives a texel the same bytes: what is passed over would have multiplied by 1 or
//! added 0.

use glam::{Vec2, Vec3};
use surface::{BLOCK_TEXELS, TexelBlock, TexelFrame};

use crate::BuildUp;
use crate::dab::Touch;
use crate::falloff::{Edge, dab_reach, facing_weight};

/// A number for each texel of a block.
pub(crate) type Lane = [f32; BLOCK_TEXELS];

/// The dab may cover something of the block.
pub(crate) const NEAR: u8 = 1;
/// The whole block lies where the dab covers fully.
pub(crate) const CORE: u8 = 2;
/// The whole block faces the dab.
pub(crate) const FACING: u8 = 4;
/// The whole block lies between the ends of the dab's edge.
pub(crate) const BETWEEN: u8 = 8;

/// How much a dab adds, and how.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Deposit {
    flow: f32,
    ceiling: f32,
    how: BuildUp,
}

impl Deposit {
    pub(crate) fn new(touch: &Touch, how: BuildUp) -> Self {
        Self { flow: touch.flow, ceiling: touch.ceiling, how }
    }

    /// Adds a dab of the given weights, 0..1.
    #[inline]
    pub(crate) fn add(&self, built_up: &mut Lane, weight: impl Fn(usize) -> f32) {
        match self.how {
            BuildUp::Gradual => {
                for (number, built_up) in built_up.iter_mut().enumerate() {
                    let missing = self.ceiling - *built_up;
                    let missing = if missing > 0.0 { missing } else { 0.0 };
                    *built_up += self.flow * weight(number) * missing;
                }
            }
            BuildUp::Even => {
                for (number, built_up) in built_up.iter_mut().enumerate() {
                    *built_up = built_up.max(weight(number) * self.ceiling);
                }
            }
        }
    }
}

/// The radii of a dab among texels of some width.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Radii {
    pub(crate) edge: Edge,
    /// Beyond this nothing is covered. A little more than the arithmetic of texels needs.
    pub(crate) farthest: f32,
    /// Up to here all is covered fully. A little less than that.
    pub(crate) core: f32,
    /// The ends of the edge, a little nearer to each other; nothing lies between them where the edge may
    /// have to be widened.
    pub(crate) between: [f32; 2],
    /// True where the edge may have to be widened.
    pub(crate) narrow: bool,
}

impl Radii {
    /// `texel` is the most that distance changes from one texel to the next.
    pub(crate) fn new(radius: f32, hardness: f32, texel: f32) -> Self {
        let edge = Edge::new(radius, hardness);
        let narrow = !edge.is_wider_than(texel);
        let core = if narrow { edge.at_least(texel).inner } else { edge.inner };
        let between = if narrow { [0.0; 2] } else { [edge.inner * 1.0001, edge.outer * 0.9999] };
        let farthest = dab_reach(radius, texel) * 1.0001;
        Self { edge, farthest, core: core * 0.9999, between, narrow }
    }
}

/// A dab of the surface, as seen from a tile's origin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ball {
    pub(crate) centre: Vec3,
    /// Towards the brush, turned to the side of the triangles that is painted.
    pub(crate) normal: Vec3,
    pub(crate) radii: Radii,
    pub(crate) deposit: Deposit,
}

/// How each texel's point moves with one texel across and down.
pub(crate) struct Steps {
    across: [Lane; 3],
    down: [Lane; 3],
}

impl Steps {
    pub(crate) fn of(block: &TexelBlock, frames: &[TexelFrame]) -> Self {
        let lane = |value: fn(&TexelFrame) -> f32| -> Lane {
            std::array::from_fn(|number| value(&frames[block.frame[number] as usize]))
        };
        Self {
            across: [lane(|f| f.du.x), lane(|f| f.du.y), lane(|f| f.du.z)],
            down: [lane(|f| f.dv.x), lane(|f| f.dv.y), lane(|f| f.dv.z)],
        }
    }

    /// How much the distance from a dab's centre changes from one texel to the next, at its steepest.
    #[inline]
    fn texel(&self, number: usize, away: Vec3, distance: f32) -> f32 {
        let along = |step: &[Lane; 3]| {
            step[0][number] * away.x + step[1][number] * away.y + step[2][number] * away.z
        };
        let (across, down) = (along(&self.across), along(&self.down));
        let change = (across * across + down * down).sqrt() / distance;
        if distance > 0.0 { change } else { 0.0 }
    }
}

impl Ball {
    /// Hands the weight of each texel to `with`, in the shortest form that the block allows. `steps` must be
    /// there where the edge may have to be widened.
    #[inline]
    pub(crate) fn weigh<W: WithWeights>(
        &self,
        block: &TexelBlock,
        class: u8,
        steps: Option<&Steps>,
        with: W,
    ) {
        let steps = steps.filter(|_| self.radii.narrow);
        match (class & CORE != 0, class & FACING != 0, steps) {
            (true, true, _) => with.weights(|_| 1.0),
            (true, false, _) => with.weights(|number| self.facing(block, number)),
            (false, true, None) if class & BETWEEN != 0 => {
                with.weights(|n| self.radii.edge.weight_between(self.away(block, n).1));
            }
            (false, true, None) => with.weights(|number| self.falloff(block, number)),
            (false, false, None) => {
                with.weights(|n| self.falloff(block, n) * self.facing(block, n));
            }
            (false, true, Some(steps)) => with.weights(|n| self.widened(block, steps, n)),
            (false, false, Some(steps)) => {
                with.weights(|n| self.widened(block, steps, n) * self.facing(block, n));
            }
        }
    }

    #[inline]
    fn away(&self, block: &TexelBlock, number: usize) -> (Vec3, f32) {
        let away = Vec3::new(
            block.offset[0][number] - self.centre.x,
            block.offset[1][number] - self.centre.y,
            block.offset[2][number] - self.centre.z,
        );
        (away, (away.x * away.x + away.y * away.y + away.z * away.z).sqrt())
    }

    #[inline]
    fn falloff(&self, block: &TexelBlock, number: usize) -> f32 {
        self.radii.edge.weight(self.away(block, number).1)
    }

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn widened(&self, block: &TexelBlock, steps: &Steps, number: usize) -> f32 {
        let (away, distance) = self.away(block, number);
        self.radii.edge.at_least(steps.texel(number, away, distance)).weight(distance)
    }

    #[inline]
    fn facing(&self, block: &TexelBlock, number: usize) -> f32 {
        let [x, y, z] = &block.normal;
        facing_weight(
            x[number] * self.normal.x + y[number] * self.normal.y + z[number] * self.normal.z,
        )
    }
}

/// A dab of the flat texture.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Disc {
    pub(crate) centre: Vec2,
    /// With the edge as wide as it has to be: all texels are of one size.
    pub(crate) radii: Radii,
    pub(crate) deposit: Deposit,
}

impl Disc {
    /// [`NEAR`] and [`CORE`] for a block, from the box of its UVs.
    pub(crate) fn class(&self, block: &TexelBlock) -> u8 {
        let nearest = self.centre.clamp(block.uv_low, block.uv_high).distance(self.centre);
        let farthest = (self.centre - block.uv_low).abs().max((block.uv_high - self.centre).abs());
        if nearest > self.radii.farthest {
            0
        } else if farthest.length() <= self.radii.core {
            NEAR | CORE
        } else {
            NEAR
        }
    }

    #[inline]
    pub(crate) fn add(&self, block: &TexelBlock, class: u8, built_up: &mut Lane) {
        if class & CORE != 0 {
            self.deposit.add(built_up, |_| 1.0);
        } else {
            self.deposit.add(built_up, |number| {
                let x = block.uv[0][number] - self.centre.x;
                let y = block.uv[1][number] - self.centre.y;
                self.radii.edge.weight((x * x + y * y).sqrt())
            });
        }
    }
}

/// What is done with the weights of a block: a closure that takes any closure.
pub(crate) trait WithWeights {
    fn weights(self, weight: impl Fn(usize) -> f32);
}

/// Adds them to what has built up.
pub(crate) struct Add<'a>(pub(crate) &'a Deposit, pub(crate) &'a mut Lane);

impl WithWeights for Add<'_> {
    #[inline]
    fn weights(self, weight: impl Fn(usize) -> f32) {
        self.0.add(self.1, weight);
    }
}

/// Writes them down.
pub(crate) struct Keep<'a>(pub(crate) &'a mut Lane);

impl WithWeights for Keep<'_> {
    #[inline]
    fn weights(self, weight: impl Fn(usize) -> f32) {
        for (number, kept) in self.0.iter_mut().enumerate() {
            *kept = weight(number);
        }
    }
}
