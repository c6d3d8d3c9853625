//! Chance that comes out the same every time: the unevenness of a hand, written down.

/// A row of numbers that look random: the congruential generator of Knuth, The Art of Computer
/// Programming, volume 2, 3.3.4 (line 26 of its table, constants from memory).
pub(crate) struct Chance(u64);

impl Chance {
    /// Another number begins another row.
    pub(crate) const fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15))
    }

    /// The next number, from `low` to `high`.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        const MULTIPLIER: u64 = 6_364_136_223_846_793_005;
        const INCREMENT: u64 = 1_442_695_040_888_963_407;
        self.0 = self.0.wrapping_mul(MULTIPLIER).wrapping_add(INCREMENT);
        // The low bits of such a row repeat soon: the upper 32 are taken.
        let unit = (self.0 >> 32) as f64 / f64::from(u32::MAX);
        low + (high - low) * unit
    }
}
