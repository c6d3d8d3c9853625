//! An image at its own size and at halves of it, to be sampled between its pixels without a break.

use std::sync::OnceLock;

use raster::Extent;
use surface::BLOCK_TEXELS;

use crate::kernel::{Lane, counted};

/// An image and its halves, down to one pixel.
pub(crate) struct Levels {
    levels: Vec<Level>,
}

/// One of them. All around it goes on as it ends.
pub(crate) struct Level {
    width: usize,
    height: usize,
    values: Vec<u16>,
    /// For each place between four pixels, from that before the first one on, these four in one number, the first in
    /// its lowest bits: one look a sample.
    quads: OnceLock<Vec<u64>>,
}

impl Levels {
    pub(crate) fn new(Extent { width, height }: Extent, values: Vec<u16>) -> Self {
        let level = |width, height, values| Level { width, height, values, quads: OnceLock::new() };
        let mut levels = vec![level(width as usize, height as usize, values)];
        while let Some(last) = levels.last()
            && last.width.max(last.height) > 1
        {
            let (width, height) = (last.width.div_ceil(2), last.height.div_ceil(2));
            let halved = last.halved(width, height);
            levels.push(level(width, height, halved));
        }
        Self { levels }
    }

    pub(crate) fn extent(&self) -> Extent {
        let Level { width, height, .. } = self.levels[0];
        Extent { width: width as u32, height: height as u32 }
    }

    pub(crate) fn values(&self) -> &[u16] {
        &self.levels[0].values
    }

    /// The level, and its number, for so many pixels of the image a texel: there are from 0.7 to 1.4 pixels of
    /// it a texel, so that small dabs are smooth and large ones sharp.
    pub(crate) fn fitting(&self, pixels_a_texel: f32) -> (u32, &Level) {
        let (mut left, mut number) = (pixels_a_texel, 0);
        while left > std::f32::consts::SQRT_2 && number + 1 < self.levels.len() {
            (left, number) = (left * 0.5, number + 1);
        }
        (number as u32, &self.levels[number])
    }
}

impl Level {
    /// Each pixel is the mean of four.
    fn halved(&self, width: usize, height: usize) -> Vec<u16> {
        let mut halved = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                let at = |dx, dy| u32::from(self.pixel(2 * x + dx, 2 * y + dy));
                halved.push(((at(0, 0) + at(1, 0) + at(0, 1) + at(1, 1) + 2) / 4) as u16);
            }
        }
        halved
    }

    /// Beyond the image the nearest one.
    fn pixel(&self, x: usize, y: usize) -> u16 {
        self.values[y.min(self.height - 1) * self.width + x.min(self.width - 1)]
    }

    /// Places between four pixels in a row of [`Level::quads`], from that before the first pixel to that behind the
    /// last.
    pub(crate) fn columns(&self) -> usize {
        self.width + 1
    }

    /// The same of rows.
    pub(crate) fn rows(&self) -> usize {
        self.height + 1
    }

    /// Its values at places between its pixels, 0..1: across and down, 0 is the place before the first pixel.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn between(&self, across: &Lane, down: &Lane) -> Lane {
        // The last place itself has no pixel behind it.
        let last = [self.columns() as f32 - 1.001, self.rows() as f32 - 1.001];
        let within = |place: f32, last: f32| {
            let place = if place > 0.0 { place } else { 0.0 };
            if place < last { place } else { last }
        };
        let (mut right, mut below) = ([0.0; BLOCK_TEXELS], [0.0; BLOCK_TEXELS]);
        let mut at = [0_u32; BLOCK_TEXELS];
        for n in 0..BLOCK_TEXELS {
            let (x, y) = (within(across[n], last[0]), within(down[n], last[1]));
            let (column, row) = (x.floor(), y.floor());
            (right[n], below[n]) = (x - column, y - row);
            at[n] = counted(row) * self.columns() as u32 + counted(column);
        }
        let quads = self.quads();
        let mut found = [0_u64; BLOCK_TEXELS];
        for n in 0..BLOCK_TEXELS {
            found[n] = quads[at[n] as usize];
        }
        let mut values = [0.0; BLOCK_TEXELS];
        for n in 0..BLOCK_TEXELS {
            let [a, b, c, d] =
                [0, 16, 32, 48].map(|bits| (found[n] >> bits & 0xFFFF) as u32 as f32);
            let (above, under) = (a + (b - a) * right[n], c + (d - c) * right[n]);
            values[n] = (above + (under - above) * below[n]) * (1.0 / 65_535.0);
        }
        values
    }

    /// The four pixels around a place.
    pub(crate) fn quad(&self, column: usize, row: usize) -> [u16; 4] {
        let four = self.quads()[row * self.columns() + column];
        [0, 16, 32, 48].map(|bits| (four >> bits & 0xFFFF) as u16)
    }

    /// The same for all places.
    fn quads(&self) -> &[u64] {
        self.quads.get_or_init(|| {
            let before = |at: usize, away: usize| (at + away).saturating_sub(1);
            let mut quads = Vec::with_capacity(self.columns() * self.rows());
            for y in 0..self.rows() {
                for x in 0..self.columns() {
                    let at = |dx, dy| self.pixel(before(x, dx), before(y, dy));
                    let four = [at(0, 0), at(1, 0), at(0, 1), at(1, 1)].map(u64::from);
                    quads.push(four[0] | four[1] << 16 | four[2] << 32 | four[3] << 48);
                }
            }
            quads
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_keep_the_mean_and_end_at_one_pixel() {
        let values: Vec<u16> = (0..128).map(|n| n * 500).collect();
        let levels = Levels::new(Extent { width: 16, height: 8 }, values);
        for level in &levels.levels {
            let sum = level.values.iter().map(|value| f64::from(*value)).sum::<f64>();
            let mean = sum / level.values.len() as f64;
            assert!((mean - 127.0 * 250.0).abs() < 2.0, "{mean}");
        }
        let odd = Levels::new(Extent { width: 7, height: 5 }, vec![9; 35]);
        let sizes: Vec<_> = odd.levels.iter().map(|level| (level.width, level.height)).collect();
        assert_eq!(sizes, [(7, 5), (4, 3), (2, 2), (1, 1)]);
        assert!(odd.levels.iter().all(|level| level.values.iter().all(|value| *value == 9)));
    }

    #[test]
    fn the_level_fits_the_texel_and_its_quads_begin_before_the_image() {
        let levels = Levels::new(Extent { width: 8, height: 8 }, vec![900; 64]);
        let chosen = [0.1, 1.4, 1.5, 2.8, 2.9, 1e9].map(|pixels| levels.fitting(pixels).0);
        assert_eq!(chosen, [0, 0, 1, 1, 2, 3]);
        let last = &levels.levels[3];
        assert_eq!((last.columns(), last.rows()), (2, 2));
        assert_eq!((last.quads().len(), last.quad(1, 1)), (4, [900; 4]));
        let two = Levels::new(Extent { width: 2, height: 1 }, vec![1, 2]);
        let row = [[1, 1, 1, 1], [1, 2, 1, 2], [2, 2, 2, 2]];
        for (column, quad) in row.into_iter().enumerate() {
            assert_eq!([0, 1].map(|row| two.levels[0].quad(column, row)), [quad; 2]);
        }
    }
}
