//! Blocks whose points stand evenly in a plane, as most do on a model of few, large triangles: distances come
//! from a few numbers then, and the points themselves need not be read from memory.
//!
//! Whether a block is one, and so what its dabs are, follows from the texel map alone.

use glam::Vec3;
use surface::{BLOCK_EDGE, BLOCK_TEXELS, TexelBlock};

use crate::kernel::Lane;

/// How far a point may lie from its place in the grid, as a share of a texel: what that changes can't be
/// seen.
const EVEN: f32 = 1.0 / 4096.0;

/// Points a step across and a step down from one another.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Grid {
    first: Vec3,
    across: Vec3,
    down: Vec3,
}

impl Grid {
    /// None where the block's points don't stand so.
    pub(crate) fn of(block: &TexelBlock) -> Option<Self> {
        let first = block.offset_of(0);
        let steps = (BLOCK_EDGE - 1) as f32;
        let across = (block.offset_of(BLOCK_EDGE - 1) - first) / steps;
        let down = (block.offset_of(BLOCK_TEXELS - BLOCK_EDGE) - first) / steps;
        let grid = Self { first, across, down };
        let mut farthest = 0.0_f32;
        for number in 0..BLOCK_TEXELS {
            let (x, y) = ((number % BLOCK_EDGE) as f32, (number / BLOCK_EDGE) as f32);
            let off = (first + across * x + down * y - block.offset_of(number)).abs();
            farthest = farthest.max(off.x + off.y + off.z);
        }
        (farthest < grid.slack()).then_some(grid)
    }

    /// How far a point may lie from where the block has it.
    pub(crate) fn slack(&self) -> f32 {
        EVEN * self.across.length().min(self.down.length())
    }

    /// Square of each point's distance from the first: what the squares of distances from anywhere share.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn own_squares(&self) -> Lane {
        let (across, down) = (self.across.dot(self.across), self.down.dot(self.down));
        let both = self.across.dot(self.down) * 2.0;
        let mut squares = [0.0; BLOCK_TEXELS];
        for number in 0..BLOCK_TEXELS {
            let (x, y) = (COLUMN[number], ROW[number]);
            squares[number] = x * (x * across + y * both) + y * y * down;
        }
        squares
    }

    /// Distances from `centre`. `own` is what [`Grid::own_squares`] gives.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn from<'a>(&self, centre: Vec3, own: &'a Lane) -> Distances<'a> {
        let first = self.first - centre;
        Distances {
            own,
            first: first.dot(first),
            by_column: first.dot(self.across) * 2.0,
            by_row: first.dot(self.down) * 2.0,
        }
    }
}

/// The column and the row of each texel.
const COLUMN: Lane = places(1);
const ROW: Lane = places(BLOCK_EDGE);

const fn places(step: usize) -> Lane {
    let mut places = [0.0; BLOCK_TEXELS];
    let mut number = 0;
    while number < BLOCK_TEXELS {
        places[number] = (number / step % BLOCK_EDGE) as f32;
        number += 1;
    }
    places
}

/// Distances of a grid's points from one place.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Distances<'a> {
    own: &'a Lane,
    first: f32,
    by_column: f32,
    by_row: f32,
}

impl Distances<'_> {
    /// The square of one.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn square(&self, number: usize) -> f32 {
        let along = COLUMN[number] * self.by_column + ROW[number] * self.by_row;
        let square = (self.own[number] + self.first) + along;
        if square > 0.0 { square } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use surface::TriangleId;

    use super::*;

    fn block(point: impl Fn(f32, f32) -> Vec3) -> TexelBlock {
        let points: [Vec3; BLOCK_TEXELS] = std::array::from_fn(|number| {
            point((number % BLOCK_EDGE) as f32, (number / BLOCK_EDGE) as f32)
        });
        TexelBlock {
            place: 0,
            shown: u64::MAX,
            padding: 0,
            beyond: 0,
            frame: [0; BLOCK_TEXELS],
            owner: [TriangleId(0); BLOCK_TEXELS],
            offset: [0, 1, 2].map(|axis| points.map(|point| point[axis])),
            normal: [[0.0; BLOCK_TEXELS]; 3],
            uv: [[0.0; BLOCK_TEXELS]; 2],
            centre: Vec3::ZERO,
            radius: 0.0,
            facing: Vec3::Z,
            spread: 1.0,
            uv_low: glam::Vec2::ZERO,
            uv_high: glam::Vec2::ZERO,
        }
    }

    #[test]
    fn distances_from_the_grid_are_those_of_the_points() {
        let flat = |x, y| Vec3::new(1.0 + x * 0.9 - y * 0.2, 40.0 + y * 1.1, 0.3 * x + 0.1 * y);
        let block = block(flat);
        let grid = Grid::of(&block).unwrap();
        for centre in [Vec3::new(4.0, 43.0, 1.0), Vec3::new(-300.0, 20.0, 5.0)] {
            let own = grid.own_squares();
            let distances = grid.from(centre, &own);
            for number in 0..BLOCK_TEXELS {
                let distance = block.offset_of(number).distance(centre);
                assert!(
                    (distances.square(number).sqrt() - distance).abs() < 2e-3 + distance * 1e-6
                );
            }
        }
    }

    #[test]
    fn a_bent_block_and_one_with_a_point_out_of_place_have_no_grid() {
        assert!(Grid::of(&block(|x, y| Vec3::new(x, y, 0.0))).is_some());
        assert!(Grid::of(&block(|x, y| Vec3::new(x, y, 0.001 * x * x))).is_none());
        assert!(Grid::of(&block(|x, y| Vec3::new(x, y, f32::from(x * y == 12.0)))).is_none());
        assert!(Grid::of(&block(|_, _| Vec3::ONE)).is_none());
    }
}
