//! sRGB to linear light and back for stored values, by table: the power function costs more than all else
//! that is done to a texel.

use std::sync::LazyLock;

use crate::{decode_srgb, encode_srgb, from_unit, to_unit};

/// Steps of the first guess over the root of linear light.
const STEPS: usize = 4096;

struct Tables {
    /// Linear light of each stored value.
    linear: Vec<f32>,
    /// The least linear light that is stored as this value or a higher one; 0 for 0.
    least: Vec<f32>,
    /// Stored values of the squares of 0, 1/4096, 2/4096 ..: between two of them the curve is so nearly
    /// straight (its second derivative over the root is below 26) that a guess is off by one at most.
    squares: Vec<f32>,
}

static TABLES: LazyLock<Tables> = LazyLock::new(|| Tables {
    linear: (0..=u16::MAX).map(|stored| decode_srgb(to_unit(stored))).collect(),
    least: (0..=u16::MAX).map(least_stored_as).collect(),
    squares: (0..=STEPS + 1)
        .map(|step| {
            let root = step as f32 / STEPS as f32;
            encode_srgb(root * root) * 65_535.0
        })
        .collect(),
});

/// Walks from where the curve says to where rounding really turns.
fn least_stored_as(stored: u16) -> f32 {
    if stored == 0 {
        return 0.0;
    }
    let reaches = |linear: f32| from_unit(encode_srgb(linear)) >= stored;
    let mut least = decode_srgb((f32::from(stored) - 0.5) / 65_535.0);
    while reaches(least) {
        least = least.next_down();
    }
    while !reaches(least) {
        least = least.next_up();
    }
    least
}

/// Linear light, 0..1, of a stored sRGB-encoded value: [`decode_srgb`]'s.
#[inline]
pub fn decode_stored(stored: u16) -> f32 {
    TABLES.linear[usize::from(stored)]
}

/// Linear light as a stored sRGB-encoded value: [`encode_srgb`]'s, rounded. Values outside 0..1 are clamped,
/// and what is no number gives 0.
#[inline]
pub fn encode_stored(linear: f32) -> u16 {
    let tables = &*TABLES;
    let linear = linear.clamp(0.0, 1.0);
    let root = linear.sqrt() * STEPS as f32;
    let step = root as usize;
    let (low, high) = (tables.squares[step], tables.squares[step + 1]);
    let guess = (low + (high - low) * (root - step as f32) + 0.5) as u16;
    if linear < tables.least[usize::from(guess)] {
        guess - 1
    } else if guess < u16::MAX && linear >= tables.least[usize::from(guess) + 1] {
        guess + 1
    } else {
        guess
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stored_value_comes_back() {
        for stored in 0..=u16::MAX {
            assert_eq!(encode_stored(decode_stored(stored)), stored);
        }
    }

    /// The tables against the formula of IEC 61966-2-1, at and beside every place where rounding turns,
    /// and in between.
    #[test]
    fn encoding_by_table_is_encoding_by_formula() {
        for stored in 1..=u16::MAX {
            let least = TABLES.least[usize::from(stored)];
            for linear in [least.next_down(), least, least.next_up(), decode_stored(stored) * 0.999]
            {
                let formula = from_unit(encode_srgb(linear));
                assert_eq!(encode_stored(linear), formula, "{linear}");
            }
        }
        for step in 0..=1_000_000 {
            let linear = step as f32 / 1_000_000.0;
            assert_eq!(encode_stored(linear), from_unit(encode_srgb(linear)), "{linear}");
        }
    }

    #[test]
    fn wild_values_are_clamped() {
        assert_eq!([-1.0, f32::NAN, 2.0, f32::INFINITY].map(encode_stored), [0, 0, 65_535, 65_535]);
    }
}
