//! Drawing what is carried onto a block of texels.

use glam::Vec4;
use raster::Work;
use surface::BLOCK_TEXELS;

use super::picture::Picture;
use super::tile_values::TileValues;
use super::under::Under;
use crate::kernel::{Lane, counted};

/// Moves the wanted texels of a block towards a picture, by their weights. Gives those that it has written.
pub(crate) struct Drawing<'a> {
    pub(crate) picture: &'a Picture,
    /// What its numbers are differences from.
    pub(crate) base: &'a [Vec4],
    pub(crate) wanted: u64,
    pub(crate) weights: &'a Lane,
    pub(crate) under: &'a Under,
    pub(crate) values: &'a mut TileValues,
}

/// The four cells around each texel.
struct Around {
    /// The first of them.
    first: [u32; BLOCK_TEXELS],
    /// How much each counts, 1 in all.
    shares: [Vec4; BLOCK_TEXELS],
    /// The texels around which anything is held.
    held: u64,
}

impl Work for Drawing<'_> {
    type Done = u64;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> u64 {
        let Self { picture, base, mut wanted, weights, under, values } = self;
        for (n, weight) in weights.iter().enumerate() {
            wanted &= !(u64::from(*weight <= 0.0) << n);
        }
        if wanted == 0 {
            return 0;
        }
        let Around { first, shares, held } = around(picture, &under.at);
        wanted &= held;
        let edge = picture.edge;
        for ((block, cells), base) in values.blocks_mut(under.place).zip(&picture.fours).zip(base) {
            let mut left = wanted;
            while left != 0 {
                let n = left.trailing_zeros() as usize;
                left &= left - 1;
                let (first, [a, b, c, d]) = (first[n] as usize, shares[n].to_array());
                let (above, below) = (&cells[first..first + 2], &cells[first + edge..][..2]);
                let difference = above[0] * a + above[1] * b + below[0] * c + below[1] * d;
                let old = block[n];
                block[n] = old + (*base + difference - old) * weights[n];
            }
        }
        wanted
    }
}

#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn around(picture: &Picture, [right, down]: &[Lane; 2]) -> Around {
    let edge = picture.edge as f32;
    // Between the middles of the first and the last but one, and how far beyond it.
    let along = |at: f32| {
        let at = (at + 1.0) * (0.5 * edge) - 0.5;
        let at = if at > 0.0 { at } else { 0.0 };
        let at = if at < edge - 1.0 { at } else { edge - 1.0 };
        let first = at.floor();
        let first = if first < edge - 2.0 { first } else { edge - 2.0 };
        (first, at - first)
    };
    let mut first = [0; BLOCK_TEXELS];
    let mut shares = [[0.0; BLOCK_TEXELS]; 4];
    for n in 0..BLOCK_TEXELS {
        let ((x, right), (y, below)) = (along(right[n]), along(down[n]));
        first[n] = counted(y) * picture.edge as u32 + counted(x);
        shares[0][n] = (1.0 - right) * (1.0 - below);
        shares[1][n] = right * (1.0 - below);
        shares[2][n] = (1.0 - right) * below;
        shares[3][n] = right * below;
    }
    for (shares, next) in shares.iter_mut().zip([0, 1, picture.edge, picture.edge + 1]) {
        for n in 0..BLOCK_TEXELS {
            shares[n] *= picture.there[first[n] as usize + next];
        }
    }
    let mut held = 0;
    let mut all = [Vec4::ZERO; BLOCK_TEXELS];
    for n in 0..BLOCK_TEXELS {
        let share = Vec4::new(shares[0][n], shares[1][n], shares[2][n], shares[3][n]);
        let sum = shares[0][n] + shares[1][n] + shares[2][n] + shares[3][n];
        held |= u64::from(sum > 1e-3) << n;
        all[n] = share / sum;
    }
    Around { first, shares: all, held }
}
