//! Numbers that look random and are the same each time.

/// A generator, by Marsaglia 2003, "Xorshift RNGs".
#[derive(Debug, Clone)]
pub(crate) struct Chance(u64);

impl Chance {
    /// Seeds that lie side by side give numbers that have nothing in common.
    pub(crate) fn of(seed: u64) -> Self {
        let mut state = seed.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        state ^= state >> 29;
        let mut chance = Self(state.max(1));
        for _ in 0..8 {
            chance.below(2);
        }
        chance
    }

    pub(crate) fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 11) % limit as u64) as usize
    }

    /// Once in so many times.
    pub(crate) fn one_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }
}
