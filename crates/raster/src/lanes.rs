//! Which vector instructions a loop over texels is compiled for. All that is unsafe in this crate.
//!
//! A loop that the compiler turns into vector code does the same IEEE 754 operations in each lane,
//! whatever the width: neither a fused multiply-add nor another order of a sum is ever made of it. So
//! the bytes don't depend on the choice, only the time does.
#![expect(
    unsafe_code,
    reason = "calls a function that is compiled for instructions found at run time"
)]

/// A width of vector instructions that this processor has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lanes(Width);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Width {
    Portable,
    #[cfg(target_arch = "x86_64")]
    Avx2,
    /// With the parts F, BW, DQ and VL.
    #[cfg(target_arch = "x86_64")]
    Avx512,
}

impl Lanes {
    /// What every processor of the target has.
    pub const PORTABLE: Self = Self(Width::Portable);

    /// The widest that this processor has.
    pub fn widest() -> Self {
        #[cfg(target_arch = "x86_64")]
        if std::arch::is_x86_feature_detected!("avx512f")
            && std::arch::is_x86_feature_detected!("avx512bw")
            && std::arch::is_x86_feature_detected!("avx512dq")
            && std::arch::is_x86_feature_detected!("avx512vl")
        {
            return Self(Width::Avx512);
        }
        Self::at_most_avx2()
    }

    fn at_most_avx2() -> Self {
        #[cfg(target_arch = "x86_64")]
        if std::arch::is_x86_feature_detected!("avx2") {
            return Self(Width::Avx2);
        }
        Self::PORTABLE
    }

    /// Everything that this processor has, the portable one first.
    pub fn all() -> Vec<Self> {
        let mut all = vec![Self::PORTABLE, Self::at_most_avx2(), Self::widest()];
        all.dedup();
        all
    }

    /// Does the work, compiled for these instructions as far as the compiler inlines it here. A closure is
    /// inlined only while it is short, and there is no way to ask for more: a long loop must be a [`Work`]
    /// of its own, with all that it calls.
    #[inline]
    pub fn run<W: Work>(self, work: W) -> W::Done {
        match self.0 {
            Width::Portable => work.work(),
            // SAFETY: `Width::Avx512` is made by `widest` alone, which has found the instructions.
            #[cfg(target_arch = "x86_64")]
            Width::Avx512 => unsafe { with_avx512(work) },
            // SAFETY: `Width::Avx2` is made by `at_most_avx2` alone, which has found the instructions.
            #[cfg(target_arch = "x86_64")]
            Width::Avx2 => unsafe { with_avx2(work) },
        }
    }
}

/// A loop over texels. A struct that is one marks `work`, and all that it calls, with `#[inline(always)]`.
pub trait Work {
    /// What it gives.
    type Done;

    /// Runs the loop.
    fn work(self) -> Self::Done;
}

impl<R, F: FnOnce() -> R> Work for F {
    type Done = R;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> R {
        self()
    }
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
#[inline]
fn with_avx2<W: Work>(work: W) -> W::Done {
    work.work()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512bw,avx512dq,avx512vl")]
#[inline]
fn with_avx512<W: Work>(work: W) -> W::Done {
    work.work()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_width_gives_the_same_bits() {
        let values: Vec<f32> = (0..1000).map(|i| (i as f32 * 0.37).fract() + 0.01).collect();
        let work = || -> Vec<u32> {
            values.iter().map(|&v| ((v * 1.7 + 0.3).sqrt() / v * v + v * v).to_bits()).collect()
        };
        for lanes in Lanes::all() {
            assert_eq!(lanes.run(work), work(), "{lanes:?}");
        }
    }
}
