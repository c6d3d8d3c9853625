//! Smaller versions of images by box filter: each texel of a level is the average of four below it.
//!
//! Scalars are averaged as stored; colour is averaged in linear light and encoded again. A tile of
//! 64 x 64 texels owns its levels 0..6 exactly, since a box filter never reaches across its border.

use crate::{TILE_EDGE, Texels, decode_stored, encode_stored};

/// One component of a tile's levels: index 0 is 64 x 64, index 6 is 1 x 1.
pub type MipChannel = [Vec<u16>; 7];

/// The next smaller level of a square scalar image of an even `edge`.
pub fn halve_scalar(level: &[u16], edge: usize) -> Vec<u16> {
    four_by_four(edge, |indices| {
        let sum: u32 = indices.iter().map(|&index| u32::from(level[index])).sum();
        ((sum + 2) / 4) as u16
    })
}

/// The next smaller level of a square sRGB-encoded colour image of an even `edge`, three components.
pub fn halve_colour(level: [&[u16]; 3], edge: usize) -> [Vec<u16>; 3] {
    level.map(|component| {
        four_by_four(edge, |indices| {
            let sum: f32 = indices.iter().map(|&i| decode_stored(component[i])).sum();
            encode_stored(sum / 4.0)
        })
    })
}

fn four_by_four(edge: usize, average: impl Fn([usize; 4]) -> u16) -> Vec<u16> {
    let half = edge / 2;
    (0..half * half)
        .map(|index| {
            let first = index / half * 2 * edge + index % half * 2;
            average([first, first + 1, first + edge, first + edge + 1])
        })
        .collect()
}

/// Levels 0..6 of a tile of scalars. Each level is made from the full tile's average chain in `u16`.
pub fn tile_mips_scalar(texels: &Texels) -> MipChannel {
    let mut levels: MipChannel = std::array::from_fn(|_| Vec::new());
    levels[0] = texels.to_vec();
    for level in 1..levels.len() {
        levels[level] = halve_scalar(&levels[level - 1], TILE_EDGE >> (level - 1));
    }
    levels
}

/// Levels 0..6 of a tile of sRGB-encoded colour, averaged in linear light from level 0: each level is
/// encoded once, so rounding does not add up.
pub fn tile_mips_colour(texels: [&Texels; 3]) -> [MipChannel; 3] {
    texels.map(|component| {
        let mut linear: Vec<f32> = component.iter().map(|&v| decode_stored(v)).collect();
        let mut levels: MipChannel = std::array::from_fn(|_| Vec::new());
        levels[0] = component.to_vec();
        for (level, stored) in levels.iter_mut().enumerate().skip(1) {
            let edge = TILE_EDGE >> (level - 1);
            let half = edge / 2;
            linear = (0..half * half)
                .map(|index| {
                    let first = index / half * 2 * edge + index % half * 2;
                    let four = linear[first] + linear[first + 1];
                    (four + (linear[first + edge] + linear[first + edge + 1])) / 4.0
                })
                .collect();
            *stored = linear.iter().map(|&value| encode_stored(value)).collect();
        }
        levels
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half white, half black averages to 0.5 linear, which sRGB encodes as 187.516/255
    /// (IEC 61966-2-1; a plain average of the encoded values would give 127.5).
    #[test]
    fn colour_is_averaged_in_linear_light() {
        let stripes: Texels = std::array::from_fn(|i| if i % 2 == 0 { 65_535 } else { 0 });
        let levels = tile_mips_colour([&stripes; 3]);
        let expected = (187.516_f32 / 255.0 * 65_535.0).round();
        for level in &levels[0][1..] {
            for &value in level {
                assert!((f32::from(value) - expected).abs() < 20.0, "{value} against {expected}");
            }
        }
        assert_eq!(levels[0][6].len(), 1);
    }

    #[test]
    fn scalars_are_averaged_as_stored() {
        let stripes: Texels = std::array::from_fn(|i| if i % 2 == 0 { 1000 } else { 0 });
        assert!(tile_mips_scalar(&stripes)[1].iter().all(|&value| value == 500));
    }
}
