//! The 15-bit arithmetic of a blend, and which instructions do it.
//!
//! A value is 0..=32767 for 0..1. A weight is kept negative, -32768..=0 for 1..0, because 1 exists on
//! that side only: so full coverage is exact. The one product is `mul`: two signed numbers of 15 bits,
//! rounded, as the processors' own instruction has it. Both paths give the same values, bit for bit.

use raster::{TILE_TEXELS, Texels};

#[cfg(target_arch = "x86_64")]
use super::avx2::{self, Avx2};
use crate::BlendMode;

/// The value of 1.
pub(super) const ONE: u16 = 0x7FFF;
/// The factor of 1 in a [`Weight`].
pub(super) const FULL: u32 = 1 << 16;
/// Texels at the start of a plane that stand for all of it where they are all alike.
pub(super) const UNIFORM_LEN: usize = 16;
/// How many components one call may blend.
pub(super) const MOST_COMPONENTS: usize = 5;

/// One plane of 15-bit values, placed so that no vector crosses a line of the cache.
#[derive(Debug, Clone)]
#[repr(C, align(64))]
pub(super) struct Texels15(pub(super) Texels);

impl Texels15 {
    pub(super) fn boxed() -> Box<Self> {
        Box::new(Self([0; TILE_TEXELS]))
    }
}

/// Stored values, 0..=65535.
#[derive(Debug, Clone, Copy)]
pub(super) enum Source<'a> {
    Uniform(u16),
    Texels(&'a Texels),
}

impl Source<'_> {
    #[inline]
    fn at(&self, index: usize) -> u16 {
        match self {
            Self::Uniform(value) => *value,
            Self::Texels(texels) => texels[index],
        }
    }
}

/// How much of a blend is taken: coverage x factor x masks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weight<'a> {
    pub(super) coverage: Source<'a>,
    /// 0..=[`FULL`].
    pub(super) factor: u32,
    pub(super) masks: [Option<Source<'a>>; 2],
}

/// The blends that keep their precision in 15 bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Op {
    Normal,
    Multiply,
    Screen,
    Overlay,
    HardLight,
    Darken,
    Lighten,
    Difference,
    Exclusion,
    Add,
    Subtract,
    /// Normal, with a source of 15 bits.
    Toward,
}

impl Op {
    /// The blend of a mode; none for a mode that needs f32.
    pub(super) const fn of(mode: BlendMode) -> Option<Self> {
        Some(match mode {
            BlendMode::Normal => Self::Normal,
            BlendMode::Multiply => Self::Multiply,
            BlendMode::Screen => Self::Screen,
            BlendMode::Overlay => Self::Overlay,
            BlendMode::HardLight => Self::HardLight,
            BlendMode::Darken => Self::Darken,
            BlendMode::Lighten => Self::Lighten,
            BlendMode::Difference => Self::Difference,
            BlendMode::Exclusion => Self::Exclusion,
            BlendMode::Add => Self::Add,
            BlendMode::Subtract => Self::Subtract,
            BlendMode::ColorDodge
            | BlendMode::ColorBurn
            | BlendMode::SoftLight
            | BlendMode::Hue
            | BlendMode::Saturation
            | BlendMode::Color
            | BlendMode::Luminosity => return None,
        })
    }
}

/// Components that are blended alike.
pub(super) struct Blend<'a, const N: usize> {
    pub(super) op: Op,
    pub(super) backdrops: [&'a mut Texels15; N],
    pub(super) sources: [Source<'a>; N],
    pub(super) weight: Weight<'a>,
    /// [`UNIFORM_LEN`] or all texels.
    pub(super) len: usize,
}

/// Which instructions do the arithmetic.
#[derive(Debug, Clone, Copy)]
pub(super) enum Path {
    Portable,
    #[cfg(target_arch = "x86_64")]
    Avx2(Avx2),
}

impl Path {
    /// The fastest that this processor has.
    pub(super) fn fastest() -> Self {
        #[cfg(target_arch = "x86_64")]
        if let Some(avx2) = Avx2::found() {
            return Self::Avx2(avx2);
        }
        Self::Portable
    }

    /// Writes `a Cb + b` over the backdrop's first `len` values. `slopes` are -a in 15 bits and a sign,
    /// `offsets` b in 15 bits.
    pub(super) fn affine(
        self,
        backdrop: &mut Texels15,
        slopes: Source<'_>,
        offsets: Source<'_>,
        len: usize,
    ) {
        match self {
            Self::Portable => {
                for (index, value) in backdrop.0[..len].iter_mut().enumerate() {
                    let product = mul(*value as i16, slopes.at(index) as i16);
                    let sum = (offsets.at(index) as i16).saturating_sub(product);
                    *value = sum.max(0) as u16;
                }
            }
            #[cfg(target_arch = "x86_64")]
            Self::Avx2(found) => avx2::affine(found, backdrop, slopes, offsets, len),
        }
    }

    pub(super) fn blend<const N: usize>(self, blend: Blend<'_, N>) {
        match self {
            Self::Portable => portable(blend),
            #[cfg(target_arch = "x86_64")]
            Self::Avx2(found) => avx2::blend(found, blend),
        }
    }
}

/// Texels whose weights are at hand at once.
const ROW: usize = 64;

fn portable<const N: usize>(blend: Blend<'_, N>) {
    let Blend { op, mut backdrops, sources, weight, len } = blend;
    for first in (0..len).step_by(ROW) {
        let row = first..len.min(first + ROW);
        let mut weights = [0; ROW];
        for (to, index) in weights.iter_mut().zip(row.clone()) {
            *to = weight.negative_at(index);
        }
        for (backdrop, source) in backdrops.iter_mut().zip(&sources) {
            blend_row(op, &mut backdrop.0[row.clone()], source, first, &weights);
        }
    }
}

fn blend_row(op: Op, row: &mut [u16], source: &Source<'_>, first: usize, weights: &[i16; ROW]) {
    let each = |row: &mut [u16], blend: fn(i16, u16, i16) -> i16| {
        for (index, (value, &w)) in row.iter_mut().zip(weights).enumerate() {
            *value = blend(*value as i16, source.at(first + index), w) as u16;
        }
    };
    match op {
        Op::Normal => each(row, |b, s, w| lerp(b, value(s), w)),
        Op::Toward => each(row, |b, s, w| lerp(b, s as i16, w)),
        Op::Multiply => each(row, |b, s, w| b - mul(mul(b, rest(s)), w)),
        Op::Screen => each(row, |b, s, w| b + mul(mul(b ^ 0x7FFF, negative(s)), w)),
        Op::Overlay => each(row, |b, s, w| {
            // The last bit that the scale of 65535 lacks towards 1.
            let contrast = contrast(s).saturating_add((s >> 15) as i16);
            b - mul(mul(b.min(b ^ 0x7FFF), contrast), w)
        }),
        Op::HardLight => each(row, |b, s, w| {
            let bright = if contrast(s) < 0 { 0 } else { -1 };
            let room = b ^ (bright & 0x7FFF);
            let taken = mul(mul(room, contrast(s) ^ bright), w);
            b - ((taken ^ bright) - bright)
        }),
        Op::Exclusion => {
            each(row, |b, s, w| b + mul(mul((0x7FFF - b).wrapping_sub(b), negative(s)), w));
        }
        Op::Darken => each(row, |b, s, w| lerp(b, b.min(value(s)), w)),
        Op::Lighten => each(row, |b, s, w| lerp(b, b.max(value(s)), w)),
        Op::Difference => each(row, |b, s, w| lerp(b, (b - value(s)).abs(), w)),
        Op::Add => each(row, |b, s, w| lerp(b, b.saturating_add(value(s)), w)),
        Op::Subtract => each(row, |b, s, w| lerp(b, (b - value(s)).max(0), w)),
    }
}

impl Weight<'_> {
    /// The weight of one texel, negative.
    #[inline]
    fn negative_at(&self, index: usize) -> i16 {
        let mut weight = self.coverage.at(index);
        if self.factor < FULL {
            weight = high(weight, self.factor as u16);
        }
        for mask in self.masks.iter().flatten() {
            let product = high(weight, mask.at(index));
            weight = product + (product >> 15);
        }
        negative(weight)
    }
}

/// The high half of a product of two 16-bit numbers, rounded.
const fn high(a: u16, b: u16) -> u16 {
    ((a as u32 * b as u32 + 0x8000) >> 16) as u16
}

/// The product of two numbers of 15 bits and a sign, rounded. -1 x -1 gives -1: callers avoid it.
const fn mul(a: i16, b: i16) -> i16 {
    ((a as i32 * b as i32 + 0x4000) >> 15) as i16
}

/// A stored value as a value of 15 bits.
const fn value(stored: u16) -> i16 {
    (stored >> 1) as i16
}

/// -s.
const fn negative(stored: u16) -> i16 {
    half_up(stored).wrapping_neg() as i16
}

/// -(1 - s).
const fn rest(stored: u16) -> i16 {
    (half_up(stored) ^ 0x8000) as i16
}

/// 2 s - 1.
const fn contrast(stored: u16) -> i16 {
    (stored ^ 0x8000) as i16
}

/// Half, rounded up.
const fn half_up(stored: u16) -> u16 {
    (stored >> 1) + (stored & 1)
}

/// `from` on its way to `to`; `w` is negative.
const fn lerp(from: i16, to: i16, w: i16) -> i16 {
    from + mul(from - to, w)
}

#[cfg(test)]
mod tests {
    use super::*;

    const OPS: [Op; 12] = [
        Op::Normal,
        Op::Multiply,
        Op::Screen,
        Op::Overlay,
        Op::HardLight,
        Op::Darken,
        Op::Lighten,
        Op::Difference,
        Op::Exclusion,
        Op::Add,
        Op::Subtract,
        Op::Toward,
    ];

    /// Values that look random; every eighth is 0, every eighth 65535.
    fn texels(seed: u32) -> Texels {
        let mut state = seed.wrapping_mul(0x9E37_79B9) | 1;
        std::array::from_fn(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            match state >> 29 {
                0 => 0,
                1 => u16::MAX,
                _ => (state >> 8) as u16,
            }
        })
    }

    fn blended(path: Path, op: Op, sources: [Source<'_>; 2], weight: Weight<'_>) -> [Texels; 2] {
        let mut planes = [1, 2].map(|seed| Texels15(texels(seed).map(|value| value >> 1)));
        let backdrops = planes.each_mut();
        path.blend(Blend { op, backdrops, sources, weight, len: TILE_TEXELS });
        planes.map(|plane| plane.0)
    }

    #[test]
    fn both_paths_give_the_same_sums_and_keep_them_in_range() {
        let [slopes, offsets] = [3, 4].map(texels);
        let offsets = offsets.map(|value| value >> 1);
        let summed = |path: Path, slopes, offsets| {
            let mut plane = Texels15(texels(1).map(|value| value >> 1));
            path.affine(&mut plane, slopes, offsets, TILE_TEXELS);
            plane.0
        };
        for slopes in [Source::Texels(&slopes), Source::Uniform(0x8000), Source::Uniform(0x7FFF)] {
            for offsets in [Source::Texels(&offsets), Source::Uniform(0)] {
                let portable = summed(Path::Portable, slopes, offsets);
                assert!(portable == summed(Path::fastest(), slopes, offsets));
                assert!(portable.iter().all(|&value| value <= ONE));
            }
        }
    }

    #[test]
    fn both_paths_give_the_same_values_and_keep_them_in_range() {
        let [value, coverage, first, second] = [3, 4, 5, 6].map(texels);
        let halved = value.map(|value| value >> 1);
        for op in OPS {
            let value = if op == Op::Toward { &halved } else { &value };
            for factor in [FULL, 65_535, 32_768, 1] {
                for masks in [
                    [None, None],
                    [Some(Source::Texels(&first)), None],
                    [Some(Source::Texels(&first)), Some(Source::Texels(&second))],
                    [Some(Source::Uniform(40_000)), None],
                ] {
                    for coverage in [Source::Texels(&coverage), Source::Uniform(u16::MAX)] {
                        let sources = [Source::Texels(value), Source::Uniform(12_345)];
                        let weight = Weight { coverage, factor, masks };
                        let portable = blended(Path::Portable, op, sources, weight);
                        assert!(
                            portable == blended(Path::fastest(), op, sources, weight),
                            "{op:?}"
                        );
                        assert!(portable.iter().flatten().all(|&value| value <= ONE), "{op:?}");
                    }
                }
            }
        }
    }
}
