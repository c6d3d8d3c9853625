//! A tile's values, packed without loss: for tiles that nobody reads or writes just now.
//!
//! Painted texels differ little from their neighbours. So each is stored as its difference from the one
//! before it in the row, folded so that small differences of either sign are small numbers; low bytes
//! and high bytes apart, since the high ones are then nearly all 0; and that in the LZ4 block format.

use crate::{PageError, TILE_EDGE, TILE_TEXELS, Texels};

/// Bytes of a tile's values.
pub const TILE_BYTES: usize = 2 * TILE_TEXELS;

/// A tile's values, packed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackedTexels(Box<[u8]>);

impl PackedTexels {
    /// Packs a tile's values.
    pub fn of(texels: &Texels) -> Self {
        Self(lz4_flex::block::compress(&differences(texels)).into_boxed_slice())
    }

    /// The packed form, as it may be written to a file.
    pub fn as_bytes(&self) -> &[u8] {
        &self.0
    }

    /// Bytes of the packed form.
    pub fn bytes(&self) -> usize {
        self.0.len()
    }

    /// Takes a packed form back in; it is looked at when it is unpacked.
    pub fn from_bytes(bytes: impl Into<Box<[u8]>>) -> Self {
        Self(bytes.into())
    }

    /// The values.
    ///
    /// # Errors
    /// [`PageError`] where the bytes are not a packed tile.
    pub fn unpacked(&self) -> Result<Box<Texels>, PageError> {
        let mut split = [0; TILE_BYTES];
        let found = lz4_flex::block::decompress_into(&self.0, &mut split)
            .map_err(|error| PageError { reason: format!("a packed tile is damaged: {error}") })?;
        if found != TILE_BYTES {
            let reason = format!("a packed tile is damaged: {found} bytes instead of {TILE_BYTES}");
            return Err(PageError { reason });
        }
        Ok(texels_of_differences(&split))
    }
}

/// A tile's values as differences, low bytes first, then high bytes: few of them are not 0, whatever
/// packs them then.
pub fn differences(texels: &Texels) -> [u8; TILE_BYTES] {
    let mut split = [0; TILE_BYTES];
    let (low, high) = split.split_at_mut(TILE_TEXELS);
    let mut before = 0_u16;
    for (index, &texel) in texels.iter().enumerate() {
        if index % TILE_EDGE == 0 {
            before = texels[index.saturating_sub(TILE_EDGE)] * u16::from(index > 0);
        }
        let [l, h] = folded(texel.wrapping_sub(before)).to_le_bytes();
        (low[index], high[index]) = (l, h);
        before = texel;
    }
    split
}

/// The way back from [`differences`].
pub fn texels_of_differences(split: &[u8; TILE_BYTES]) -> Box<Texels> {
    let mut texels = Box::new([0; TILE_TEXELS]);
    let mut before = 0_u16;
    for index in 0..TILE_TEXELS {
        if index % TILE_EDGE == 0 && index > 0 {
            before = texels[index - TILE_EDGE];
        }
        let difference = u16::from_le_bytes([split[index], split[TILE_TEXELS + index]]);
        before = before.wrapping_add(unfolded(difference));
        texels[index] = before;
    }
    texels
}

/// 0, -1, 1, -2, .. as 0, 1, 2, 3, ..
fn folded(difference: u16) -> u16 {
    (difference << 1) ^ ((difference as i16 >> 15) as u16)
}

fn unfolded(folded: u16) -> u16 {
    (folded >> 1) ^ (folded & 1).wrapping_neg()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// A soft dab: what a painted coverage tile looks like.
    fn dab() -> Texels {
        std::array::from_fn(|index| {
            let (x, y) = ((index % TILE_EDGE) as f32 - 30.0, (index / TILE_EDGE) as f32 - 20.0);
            let away = (x * x + y * y).sqrt() / 40.0;
            (65_535.0 * (1.0 - away).max(0.0)) as u16
        })
    }

    #[test]
    fn every_difference_is_folded_and_unfolded() {
        for difference in 0..=u16::MAX {
            assert_eq!(unfolded(folded(difference)), difference);
        }
        assert_eq!([0_i16, -1, 1, -2, 2].map(|d| folded(d as u16)), [0, 1, 2, 3, 4]);
    }

    #[test]
    fn a_soft_dab_takes_less_than_half_of_its_bytes() {
        let packed = PackedTexels::of(&dab());
        assert_eq!(*packed.unpacked().unwrap(), dab());
        assert!(packed.bytes() < TILE_BYTES / 2, "{} bytes", packed.bytes());
    }

    #[test]
    fn damaged_bytes_are_told() {
        let packed = PackedTexels::of(&dab());
        let short = PackedTexels::from_bytes(&packed.as_bytes()[..20]);
        assert!(short.unpacked().is_err());
        assert!(PackedTexels::from_bytes([]).unpacked().is_err());
        let small = lz4_flex::block::compress(&[7; 100]);
        assert!(PackedTexels::from_bytes(small).unpacked().is_err());
    }

    proptest! {
        #[test]
        fn any_tile_comes_back_as_it_was(seed in any::<u64>(), spread in 1_u64..65_536) {
            let mut state = seed | 1;
            let texels: Texels = std::array::from_fn(|_| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                ((state >> 33) % spread) as u16
            });
            prop_assert_eq!(*PackedTexels::of(&texels).unpacked().unwrap(), texels);
        }

        #[test]
        fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..4000)) {
            let read = PackedTexels::from_bytes(bytes).unpacked();
            prop_assert!(read.is_ok() || read.is_err());
        }
    }
}
