//! The bounds of a tile's blocks side by side: one loop tells which of them a dab touches, and which of them
//! it covers or faces as a whole.

use raster::Work;
use surface::{BLOCK_TEXELS, TexelBlock};

use crate::falloff::{FULLY_FACING, TURNED_AWAY};
use crate::grid::Grid;
use crate::kernel::{BETWEEN, Ball, CORE, FACING, NEAR};

/// Blocks in a tile.
const BLOCKS: usize = raster::TILE_TEXELS / BLOCK_TEXELS;
/// How much a cosine of bounds must clear a limit, to hold for every texel for sure.
const CLEAR: f32 = 1e-3;

/// What a dab is to each block of a tile, by position in the decoded tile: [`NEAR`], [`CORE`], [`FACING`],
/// [`BETWEEN`].
pub(crate) type Classes = [u8; BLOCKS];

/// By position in the decoded tile.
#[derive(Debug, Clone)]
pub(crate) struct BlockBounds {
    centre: [[f32; BLOCKS]; 3],
    radius: [f32; BLOCKS],
    axis: [[f32; BLOCKS]; 3],
    /// Cosine and sine of the normals' cone.
    cosine: [f32; BLOCKS],
    sine: [f32; BLOCKS],
    /// Of those whose points stand in one.
    grids: Box<[Option<Grid>; BLOCKS]>,
}

impl BlockBounds {
    pub(crate) fn of(blocks: &[TexelBlock]) -> Self {
        let mut bounds = Self {
            centre: [[0.0; BLOCKS]; 3],
            radius: [0.0; BLOCKS],
            axis: [[0.0; BLOCKS]; 3],
            cosine: [-1.0; BLOCKS],
            sine: [0.0; BLOCKS],
            grids: Box::new([None; BLOCKS]),
        };
        for (position, block) in blocks.iter().enumerate() {
            for axis in 0..3 {
                bounds.centre[axis][position] = block.centre[axis];
                bounds.axis[axis][position] = block.facing[axis];
            }
            let grid = Grid::of(block);
            bounds.radius[position] = block.radius + grid.map_or(0.0, |grid| 2.0 * grid.slack());
            bounds.grids[position] = grid;
            bounds.cosine[position] = block.spread;
            bounds.sine[position] = (1.0 - block.spread * block.spread).max(0.0).sqrt();
        }
        bounds
    }

    /// The grid in which the points of the block at a position stand.
    pub(crate) fn grid(&self, position: usize) -> Option<&Grid> {
        self.grids[position].as_ref()
    }

    /// Positions beyond the tile's last block mean nothing.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    #[expect(clippy::needless_bitwise_bool, reason = "so would a branch")]
    fn classify(&self, ball: &Ball<'_>, classes: &mut Classes) {
        let (far, core, [from, to]) = (ball.radii.farthest, ball.radii.core, ball.radii.between);
        for (position, class) in classes.iter_mut().enumerate() {
            let x = self.centre[0][position] - ball.centre.x;
            let y = self.centre[1][position] - ball.centre.y;
            let z = self.centre[2][position] - ball.centre.z;
            let away = x * x + y * y + z * z;
            let radius = self.radius[position];
            let (reach, within) = (far + radius, core - radius);
            let [nx, ny, nz] = &self.axis;
            let turn = nx[position] * ball.normal.x
                + ny[position] * ball.normal.y
                + nz[position] * ball.normal.z;
            let square = 1.0 - turn * turn;
            let sine = (if square > 0.0 { square } else { 0.0 }).sqrt();
            let spread = self.cosine[position];
            // The cosines of the greatest and of the least angle between a normal and the dab's.
            let (even, odd) = (turn * spread, sine * self.sine[position]);
            let (least, most) = (even - odd, even + odd);
            let turned_away = (turn < spread) & (most < TURNED_AWAY - CLEAR);
            let near = (away <= reach * reach) & !turned_away;
            let (beyond, inside) = (from + radius, to - radius);
            let between = (inside > 0.0) & (away >= beyond * beyond) & (away <= inside * inside);
            let covered = (within > 0.0) & (away <= within * within);
            let facing = (turn > 0.0) & (spread > 0.0) & (least > FULLY_FACING + CLEAR);
            let kinds = NEAR
                + u8::from(covered) * CORE
                + u8::from(facing) * FACING
                + u8::from(between) * BETWEEN;
            *class = u8::from(near) * kinds;
        }
    }
}

/// Tells what dabs are to the blocks of a tile.
pub(crate) struct Classify<'a> {
    pub(crate) bounds: &'a BlockBounds,
    pub(crate) balls: &'a [Ball<'a>],
    /// For as many dabs at least.
    pub(crate) classes: &'a mut [Classes],
}

impl Work for Classify<'_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) {
        for (ball, classes) in self.balls.iter().zip(self.classes) {
            self.bounds.classify(ball, classes);
        }
    }
}

#[cfg(test)]
mod tests {
    use glam::{Vec2, Vec3};
    use proptest::prelude::*;
    use raster::Lanes;
    use surface::{TexelFrame, TriangleId};

    use super::*;
    use crate::BuildUp;
    use crate::dab::Touch;
    use crate::kernel::{Deposit, Lane, LeftBy, Place, Radii, Steps};

    /// A bent patch of texels a unit wide.
    fn block(bend: f32, tilt: f32) -> TexelBlock {
        let at = |number: usize| Vec2::new((number % 8) as f32, (number / 8) as f32);
        let point = |number: usize| {
            let Vec2 { x, y } = at(number);
            Vec3::new(x, y, bend * (x * x + y) * 0.1)
        };
        let normal = |number: usize| {
            let Vec2 { x, y } = at(number);
            Vec3::new(tilt + bend * x, bend * y - tilt, 1.0).normalize_or_zero()
        };
        let lanes = |value: &dyn Fn(usize) -> Vec3| {
            [0, 1, 2].map(|axis| std::array::from_fn(|number| value(number)[axis]))
        };
        let all = 0..BLOCK_TEXELS;
        let centre = all.clone().map(point).sum::<Vec3>() / 64.0;
        let radius = all.clone().map(|n| point(n).distance(centre)).fold(0.0, f32::max) * 1.0001;
        let facing = all.clone().map(normal).sum::<Vec3>().normalize_or_zero();
        let spread = all.map(|n| normal(n).dot(facing)).fold(1.0, f32::min) - 1e-5;
        TexelBlock {
            place: 0,
            shown: u64::MAX,
            padding: 0,
            beyond: 0,
            frame: [0; BLOCK_TEXELS],
            owner: [TriangleId(0); BLOCK_TEXELS],
            offset: lanes(&point),
            normal: lanes(&normal),
            uv: [[0.0; BLOCK_TEXELS]; 2],
            centre,
            radius,
            facing,
            spread,
            uv_low: Vec2::ZERO,
            uv_high: Vec2::ZERO,
        }
    }

    fn left(ball: &Ball<'_>, block: &TexelBlock, class: u8, lanes: Lanes) -> Lane {
        let frame = TexelFrame {
            triangle: TriangleId(0),
            du: Vec3::new(1.0, 0.0, 0.1),
            dv: Vec3::new(0.0, 1.0, 0.1),
            geometric_normal: Vec3::Z,
        };
        let steps = Steps::of(block, &[frame]);
        let grid = Grid::of(block);
        let on = Place { block, steps: Some(&steps), grid: grid.as_ref(), tooth: None };
        lanes.run(LeftBy { ball, class, on: &on })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn every_way_through_a_block_gives_the_same_bytes(
            (x, y, z) in (-30.0..30.0f32, -30.0..30.0f32, -5.0..5.0f32),
            radius in 1.0..60.0f32,
            hardness in 0.0..=1.0f32,
            (bend, tilt) in (prop_oneof![Just(0.0), -0.3..0.3f32], -2.0..2.0f32),
            normal in (-1.0..1.0f32, -1.0..1.0f32, -0.5..1.0f32),
        ) {
            let block = block(bend, tilt);
            let touch = Touch { radius: f64::from(radius), flow: 1.0, ceiling: 1.0, shades: [0.0; 3] };
            let ball = Ball {
                centre: Vec3::new(x, y, z),
                normal: Vec3::from(normal).normalize_or_zero(),
                radii: Radii::new(radius, hardness, 2.3),
                deposit: Deposit::new(&touch, BuildUp::Gradual),
                across: None,
                print: None,
            };
            let mut classes = [0; BLOCKS];
            BlockBounds::of(std::slice::from_ref(&block)).classify(&ball, &mut classes);
            let long_way = left(&ball, &block, NEAR, Lanes::PORTABLE);
            if classes[0] == 0 {
                prop_assert_eq!(long_way, [1.0; BLOCK_TEXELS]);
            }
            for lanes in Lanes::all() {
                let short_way = left(&ball, &block, classes[0] | NEAR, lanes);
                prop_assert_eq!(long_way.map(f32::to_bits), short_way.map(f32::to_bits));
            }
        }
    }
}
