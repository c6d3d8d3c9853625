//! The 15-bit arithmetic by AVX2 instructions, sixteen texels at a time. All that is unsafe in this
//! crate.
//!
//! Each formula is the one of `kernel`'s portable path with the same rounding: `vpmulhrsw` is `mul`,
//! `vpavgw` with 0 is `half_up`.
#![expect(unsafe_code, reason = "vector instructions that are found at run time")]

use std::arch::x86_64::{
    __m256i, _MM_HINT_T0, _mm_prefetch, _mm256_abs_epi16, _mm256_add_epi16, _mm256_adds_epi16,
    _mm256_avg_epu16, _mm256_cmpgt_epi16, _mm256_loadu_si256, _mm256_max_epi16, _mm256_min_epi16,
    _mm256_mulhi_epu16, _mm256_mulhrs_epi16, _mm256_mullo_epi16, _mm256_set1_epi16,
    _mm256_setzero_si256, _mm256_srli_epi16, _mm256_sub_epi16, _mm256_subs_epi16, _mm256_xor_si256,
};

use raster::TILE_TEXELS;

use super::kernel::{Blend, FULL, Op, Source, Texels15, Weight};

/// Texels of one vector.
const LANES: usize = 16;

/// How many texels ahead memory is asked for. Seven planes at once are more than the processor's own
/// looking ahead keeps up with: a fifth faster, as measured.
const AHEAD: usize = 768;

/// Proof that the processor has AVX2.
#[derive(Debug, Clone, Copy)]
pub(super) struct Avx2(());

impl Avx2 {
    pub(super) fn found() -> Option<Self> {
        std::arch::is_x86_feature_detected!("avx2").then_some(Self(()))
    }
}

/// Asks for the line of memory at an address, which may be any number: nothing is read of it.
pub(super) fn fetch(address: usize) {
    // SAFETY: the instruction never faults, and every x86-64 processor has it.
    unsafe { _mm_prefetch::<_MM_HINT_T0>(std::ptr::without_provenance(address)) }
}

/// Blends. The proof is not looked at: that it exists is enough.
pub(super) fn blend<const N: usize>(_: Avx2, blend: Blend<'_, N>) {
    // SAFETY: only `found` makes an `Avx2`, and it has found the instructions.
    unsafe { blend_by_mode(blend) }
}

/// Writes `a Cb + b` over the backdrop.
pub(super) fn affine(
    _: Avx2,
    backdrop: &mut Texels15,
    slopes: Source<'_>,
    offsets: Source<'_>,
    len: usize,
) {
    // SAFETY: only `found` makes an `Avx2`, and it has found the instructions.
    unsafe { affine_by_vectors(backdrop, slopes, offsets, len) }
}

#[target_feature(enable = "avx2")]
fn affine_by_vectors(backdrop: &mut Texels15, slopes: Source<'_>, offsets: Source<'_>, len: usize) {
    let mut repeated = [[0; LANES]; 2];
    let [first, second] = &mut repeated;
    let (slopes, offsets) = (Stream::of(&slopes, first), Stream::of(&offsets, second));
    let backdrop = std::ptr::from_mut(backdrop).cast::<__m256i>();
    assert!(len.is_multiple_of(LANES) && len <= TILE_TEXELS);
    for index in (0..len).step_by(LANES) {
        // SAFETY: as in `each`.
        unsafe {
            let value = backdrop.add(index / LANES);
            let product = _mm256_mulhrs_epi16(*value, slopes.at(index));
            let sum = _mm256_subs_epi16(offsets.at(index), product);
            *value = _mm256_max_epi16(sum, _mm256_setzero_si256());
        }
    }
}

/// Where a source's vectors are read.
#[derive(Clone, Copy)]
struct Stream {
    start: *const u16,
    /// All ones for texels; 0 for one value, which is read again and again.
    steps: usize,
}

impl Stream {
    /// `repeated` gets the value of a uniform source and must outlive the stream's use.
    fn of(source: &Source<'_>, repeated: &mut [u16; LANES]) -> Self {
        match source {
            Source::Uniform(value) => {
                *repeated = [*value; LANES];
                Self { start: repeated.as_ptr(), steps: 0 }
            }
            Source::Texels(texels) => Self { start: texels.as_ptr(), steps: usize::MAX },
        }
    }

    /// # Safety
    /// What the stream was made of is alive, and `index` is a multiple of 16 below its length.
    #[target_feature(enable = "avx2")]
    unsafe fn at(self, index: usize) -> __m256i {
        // SAFETY: 16 values stand there, says the caller; where steps are 0, `repeated` has 16.
        // What is asked for early may lie beyond the end: nothing is read of it.
        unsafe {
            let place = self.start.add(index & self.steps);
            _mm_prefetch::<_MM_HINT_T0>(place.wrapping_add(AHEAD).cast());
            _mm256_loadu_si256(place.cast())
        }
    }
}

#[target_feature(enable = "avx2")]
fn blend_by_mode<const N: usize>(blend: Blend<'_, N>) {
    let ones = _mm256_set1_epi16(0x7FFF);
    let zero = _mm256_setzero_si256();
    let sign = _mm256_set1_epi16(i16::MIN);
    let value = |s| _mm256_srli_epi16::<1>(s);
    let half_up = |s| _mm256_avg_epu16(s, zero);
    let lerp = |b, to, w| _mm256_add_epi16(b, _mm256_mulhrs_epi16(_mm256_sub_epi16(b, to), w));
    match blend.op {
        Op::Normal => each(blend, |b, s, w| lerp(b, value(s), w)),
        Op::Toward => each(blend, lerp),
        Op::Multiply => each(blend, |b, s, w| {
            let rest = _mm256_xor_si256(half_up(s), sign);
            _mm256_sub_epi16(b, _mm256_mulhrs_epi16(_mm256_mulhrs_epi16(b, rest), w))
        }),
        Op::Screen => each(blend, |b, s, w| {
            let negative = _mm256_sub_epi16(zero, half_up(s));
            let taken = _mm256_mulhrs_epi16(_mm256_xor_si256(b, ones), negative);
            _mm256_add_epi16(b, _mm256_mulhrs_epi16(taken, w))
        }),
        Op::Overlay => each(blend, |b, s, w| {
            let room = _mm256_min_epi16(b, _mm256_xor_si256(b, ones));
            let last = _mm256_srli_epi16::<15>(s);
            let contrast = _mm256_adds_epi16(_mm256_xor_si256(s, sign), last);
            let taken = _mm256_mulhrs_epi16(room, contrast);
            _mm256_sub_epi16(b, _mm256_mulhrs_epi16(taken, w))
        }),
        Op::HardLight => each(blend, |b, s, w| {
            let contrast = _mm256_xor_si256(s, sign);
            let bright = _mm256_cmpgt_epi16(contrast, _mm256_set1_epi16(-1));
            let room = _mm256_xor_si256(b, _mm256_srli_epi16::<1>(bright));
            let share = _mm256_xor_si256(contrast, bright);
            let taken = _mm256_mulhrs_epi16(_mm256_mulhrs_epi16(room, share), w);
            _mm256_sub_epi16(b, _mm256_sub_epi16(_mm256_xor_si256(taken, bright), bright))
        }),
        Op::Exclusion => each(blend, |b, s, w| {
            let negative = _mm256_sub_epi16(zero, half_up(s));
            let room = _mm256_sub_epi16(_mm256_xor_si256(b, ones), b);
            let taken = _mm256_mulhrs_epi16(room, negative);
            _mm256_add_epi16(b, _mm256_mulhrs_epi16(taken, w))
        }),
        Op::Darken => each(blend, |b, s, w| lerp(b, _mm256_min_epi16(b, value(s)), w)),
        Op::Lighten => each(blend, |b, s, w| lerp(b, _mm256_max_epi16(b, value(s)), w)),
        Op::Difference => {
            each(blend, |b, s, w| lerp(b, _mm256_abs_epi16(_mm256_sub_epi16(b, value(s))), w));
        }
        Op::Add => each(blend, |b, s, w| lerp(b, _mm256_adds_epi16(b, value(s)), w)),
        Op::Subtract => {
            each(blend, |b, s, w| {
                lerp(b, _mm256_max_epi16(_mm256_sub_epi16(b, value(s)), zero), w)
            });
        }
    }
}

/// Writes `blend(backdrop, source, weight)` over the backdrops.
#[target_feature(enable = "avx2")]
fn each<const N: usize>(
    blend: Blend<'_, N>,
    texels: impl Fn(__m256i, __m256i, __m256i) -> __m256i,
) {
    let Blend { backdrops, sources, weight, len, .. } = blend;
    let mut repeated = [[0; LANES]; N];
    let streams: [Stream; N] = {
        let mut repeated = repeated.iter_mut();
        sources.each_ref().map(|source| match repeated.next() {
            Some(repeated) => Stream::of(source, repeated),
            None => Stream { start: std::ptr::null(), steps: 0 },
        })
    };
    let backdrops: [*mut __m256i; N] = backdrops.map(|plane| std::ptr::from_mut(plane).cast());
    let mut repeated = [[0; LANES]; 3];
    let weights = Weights::of(&weight, &mut repeated);
    assert!(len.is_multiple_of(LANES) && len <= TILE_TEXELS);
    for index in (0..len).step_by(LANES) {
        // SAFETY: index + 16 is at most `len`, which is at most the length of every plane; streams
        // were made of planes and of `repeated`, all alive; backdrops are distinct planes, borrowed
        // for this call alone, and a `Texels15` stands where a vector may.
        unsafe {
            let w = weights.at(index);
            for (backdrop, stream) in backdrops.iter().zip(&streams) {
                let backdrop = backdrop.add(index / LANES);
                *backdrop = texels(*backdrop, stream.at(index), w);
            }
        }
    }
}

#[target_feature(enable = "avx2")]
fn high(a: __m256i, b: __m256i) -> __m256i {
    let rest = _mm256_srli_epi16::<15>(_mm256_mullo_epi16(a, b));
    _mm256_add_epi16(_mm256_mulhi_epu16(a, b), rest)
}

#[derive(Clone, Copy)]
struct Weights {
    coverage: Stream,
    factor: Option<__m256i>,
    masks: [Option<Stream>; 2],
}

impl Weights {
    #[target_feature(enable = "avx2")]
    fn of(weight: &Weight<'_>, repeated: &mut [[u16; LANES]; 3]) -> Self {
        let [coverage, first, second] = repeated;
        let [first_mask, second_mask] = &weight.masks;
        Self {
            coverage: Stream::of(&weight.coverage, coverage),
            factor: (weight.factor < FULL).then(|| _mm256_set1_epi16(weight.factor as u16 as i16)),
            masks: [
                first_mask.as_ref().map(|mask| Stream::of(mask, first)),
                second_mask.as_ref().map(|mask| Stream::of(mask, second)),
            ],
        }
    }

    /// # Safety
    /// As [`Stream::at`].
    #[target_feature(enable = "avx2")]
    unsafe fn at(&self, index: usize) -> __m256i {
        // SAFETY: the caller keeps what the streams need.
        unsafe {
            let mut weight = self.coverage.at(index);
            if let Some(factor) = self.factor {
                weight = high(weight, factor);
            }
            for mask in self.masks.into_iter().flatten() {
                let product = high(weight, mask.at(index));
                weight = _mm256_add_epi16(product, _mm256_srli_epi16::<15>(product));
            }
            let zero = _mm256_setzero_si256();
            _mm256_sub_epi16(zero, _mm256_avg_epu16(weight, zero))
        }
    }
}
