//! The bounds of a tile's blocks side by side: one loop tells which of them a dab touches, and which of them
//! it covers or faces as a whole.

use surface::{BLOCK_TEXELS, TexelBlock};

use crate::falloff::{FULLY_FACING, TURNED_AWAY};
use crate::kernel::{Ball, CORE, FACING, NEAR};

/// Blocks in a tile.
const BLOCKS: usize = raster::TILE_TEXELS / BLOCK_TEXELS;
/// How much a cosine of bounds must clear a limit, to hold for every texel for sure.
const CLEAR: f32 = 1e-3;

/// What a dab is to each block of a tile, by position in the decoded tile: [`NEAR`], [`CORE`], [`FACING`].
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
}

impl BlockBounds {
    pub(crate) fn of(blocks: &[TexelBlock]) -> Self {
        let mut bounds = Self {
            centre: [[0.0; BLOCKS]; 3],
            radius: [0.0; BLOCKS],
            axis: [[0.0; BLOCKS]; 3],
            cosine: [-1.0; BLOCKS],
            sine: [0.0; BLOCKS],
        };
        for (position, block) in blocks.iter().enumerate() {
            for axis in 0..3 {
                bounds.centre[axis][position] = block.centre[axis];
                bounds.axis[axis][position] = block.facing[axis];
            }
            bounds.radius[position] = block.radius;
            bounds.cosine[position] = block.spread;
            bounds.sine[position] = (1.0 - block.spread * block.spread).max(0.0).sqrt();
        }
        bounds
    }

    /// Positions beyond the tile's last block mean nothing.
    #[inline]
    #[expect(clippy::needless_bitwise_bool, reason = "a branch would leave the vector code")]
    pub(crate) fn classify(&self, ball: &Ball, classes: &mut Classes) {
        let (far, core) = (ball.radii.farthest, ball.radii.core);
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
            let covered = (within > 0.0) & (away <= within * within);
            let facing = (turn > 0.0) & (spread > 0.0) & (least > FULLY_FACING + CLEAR);
            *class = u8::from(near) * (NEAR + u8::from(covered) * CORE + u8::from(facing) * FACING);
        }
    }
}
