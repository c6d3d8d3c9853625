//! A tile on its way to the adapter: 8-bit texels with the tile's own smaller levels.
//!
//! A tile of 64 x 64 texels owns its levels 0..6 exactly, as a box filter never reaches across its border.
//! They are those of `raster`: scalars averaged as stored, colour in linear light from level 0.

use std::sync::LazyLock;

use raster::{TILE_TEXELS, TileAt, decode_stored, encode_stored};

/// Texels of all levels of a tile: 64 x 64 + 32 x 32 + .. + 1.
pub(crate) const LEVEL_TEXELS: usize = 5461;

/// How many levels a tile owns.
pub(crate) const TILE_LEVELS: u32 = 7;

/// Where a level begins in a list of all levels' texels.
pub(crate) const fn level_start(level: u32) -> usize {
    (LEVEL_TEXELS * 3 + 1 - ((TILE_TEXELS * 4) >> (2 * level))) / 3
}

/// Which texture of a material.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TextureKind {
    /// sRGB-encoded.
    BaseColour,
    /// Linear.
    Roughness,
    /// Linear.
    Metalness,
    /// Linear: what [`crate::Shown::Mask`] shows.
    Mask,
    /// Linear: what [`crate::Scene::show_selection`] lets be seen.
    Selection,
}

impl TextureKind {
    pub(crate) const ALL: [Self; 5] =
        [Self::BaseColour, Self::Roughness, Self::Metalness, Self::Mask, Self::Selection];

    /// True for a texture that is made when its first tile comes: most materials have none.
    pub(crate) const fn comes_late(self) -> bool {
        matches!(self, Self::Mask | Self::Selection)
    }

    /// Bytes a texel.
    pub(crate) fn texel_bytes(self) -> usize {
        if self == Self::BaseColour { 4 } else { 1 }
    }
}

/// All levels of a tile of one texture, and the unrounded average that levels above are made of.
#[derive(Debug)]
pub(crate) struct TileLevels {
    pub(crate) kind: TextureKind,
    pub(crate) bytes: Vec<u8>,
    /// Red, green and blue in linear light; or the stored 16-bit value of a scalar.
    pub(crate) average: [f32; 3],
}

/// Texels of one tile, in whichever textures changed.
#[derive(Debug)]
pub struct TilePixels {
    at: TileAt,
    levels: Vec<TileLevels>,
}

impl TilePixels {
    /// A tile without texels yet.
    pub fn new(at: TileAt) -> Self {
        Self { at, levels: Vec::with_capacity(3) }
    }

    /// Where the tile lies.
    pub fn at(&self) -> TileAt {
        self.at
    }

    /// Adds base colour: sRGB-encoded red, green, blue and one unused byte a texel, row by row. Makes all
    /// levels, so call it where there is a thread to spare.
    #[must_use]
    pub fn with_base_colour(mut self, rgba: &[u8; 4 * TILE_TEXELS]) -> Self {
        self.levels.push(colour_levels(rgba));
        self
    }

    /// Adds a scalar texture, a byte a texel, row by row. Makes all levels, as above. Base colour is no scalar:
    /// it takes its grey.
    #[must_use]
    pub fn with_scalar(mut self, kind: TextureKind, values: &[u8; TILE_TEXELS]) -> Self {
        if kind == TextureKind::BaseColour {
            let rgba: Box<[u8; 4 * TILE_TEXELS]> =
                Box::new(std::array::from_fn(|i| if i % 4 == 3 { 255 } else { values[i / 4] }));
            return self.with_base_colour(&rgba);
        }
        self.levels.push(scalar_levels(kind, values));
        self
    }

    pub(crate) fn levels(&self) -> &[TileLevels] {
        &self.levels
    }

    /// Red, green, blue and 255, or one value, for each texel of a level; none for a texture that the tile
    /// doesn't have or a level above 6.
    pub fn level(&self, kind: TextureKind, level: u32) -> &[u8] {
        let Some(found) = self.levels.iter().find(|levels| levels.kind == kind) else { return &[] };
        if level >= TILE_LEVELS {
            return &[];
        }
        found.level(level)
    }
}

impl TileLevels {
    pub(crate) fn level(&self, level: u32) -> &[u8] {
        let bytes = self.kind.texel_bytes();
        &self.bytes[level_start(level) * bytes..level_start(level + 1) * bytes]
    }
}

/// Linear light of each 8-bit value, and what linear light is stored as which.
struct Curve {
    linear: [f32; 256],
    /// The least linear light that is stored as this value or a higher one.
    least: [f32; 257],
    /// The value for the squares of 0, 1/1024 .. 1: below the next one's threshold by two at most.
    first: [u8; 1025],
}

static CURVE: LazyLock<Curve> = LazyLock::new(|| {
    let linear = std::array::from_fn(|value| decode_stored(value as u16 * 257));
    let least = std::array::from_fn(|value| match value {
        0 => 0.0,
        256 => f32::INFINITY,
        _ => least_stored_as(value as u16 * 257 - 128),
    });
    let first = std::array::from_fn(|step| {
        let root = step as f32 / 1024.0;
        eight_bits(encode_stored(root * root))
    });
    Curve { linear, least, first }
});

/// The least linear light that 16 bits store as this or more.
fn least_stored_as(stored: u16) -> f32 {
    let mut least = decode_stored(stored);
    while encode_stored(least) >= stored {
        least = least.next_down();
    }
    while encode_stored(least) < stored {
        least = least.next_up();
    }
    least
}

/// `round(value / 257)`: the nearest of 256 values.
fn eight_bits(value: u16) -> u8 {
    ((u32::from(value) + 128) / 257) as u8
}

impl Curve {
    /// The 8-bit value of linear light 0..1: that of 16 bits, rounded.
    #[inline]
    fn encode(&self, linear: f32) -> u8 {
        let step = (linear.clamp(0.0, 1.0).sqrt() * 1024.0) as usize;
        let mut value = usize::from(self.first[step].saturating_sub(1));
        while linear >= self.least[value + 1] {
            value += 1;
        }
        value as u8
    }
}

/// One level from the one below, averaging four by four.
fn halved<T: Copy>(level: &[T], average: impl Fn([T; 4]) -> T) -> Vec<T> {
    let edge = level.len().isqrt();
    let half = edge / 2;
    (0..half * half)
        .map(|index| {
            let first = index / half * 2 * edge + index % half * 2;
            average([level[first], level[first + 1], level[first + edge], level[first + edge + 1]])
        })
        .collect()
}

/// The average of four colours in linear light.
pub(crate) fn average_colour(four: [[f32; 3]; 4]) -> [f32; 3] {
    let [a, b, c, d] = four;
    std::array::from_fn(|k| ((a[k] + b[k]) + (c[k] + d[k])) / 4.0)
}

/// The average of four stored 16-bit values, rounded as `raster` rounds it.
pub(crate) fn average_stored(four: [u16; 4]) -> u16 {
    ((four.iter().map(|&value| u32::from(value)).sum::<u32>() + 2) / 4) as u16
}

/// As stored in an 8-bit texture.
pub(crate) fn stored_colour(linear: [f32; 3]) -> [u8; 4] {
    let curve = &*CURVE;
    [curve.encode(linear[0]), curve.encode(linear[1]), curve.encode(linear[2]), 255]
}

/// As stored in an 8-bit texture.
pub(crate) fn stored_scalar(value: u16) -> u8 {
    eight_bits(value)
}

/// The texel that all of them are, if they are.
fn uniform<T: PartialEq>(texels: &[T]) -> Option<&T> {
    texels.first().filter(|first| texels.iter().all(|texel| texel == *first))
}

fn colour_levels(rgba: &[u8; 4 * TILE_TEXELS]) -> TileLevels {
    let curve = &*CURVE;
    let texels = rgba.as_chunks::<4>().0.iter();
    if let Some(&[r, g, b, _]) = uniform(rgba.as_chunks::<4>().0) {
        // What bare ground and fills are made of: all levels are alike.
        let bytes = rgba[..4].repeat(LEVEL_TEXELS);
        let average = [r, g, b].map(|value| curve.linear[usize::from(value)]);
        return TileLevels { kind: TextureKind::BaseColour, bytes, average };
    }
    let mut bytes = Vec::with_capacity(LEVEL_TEXELS * 4);
    bytes.extend_from_slice(rgba);
    let mut level: Vec<[f32; 3]> =
        texels.map(|&[r, g, b, _]| [r, g, b].map(|v| curve.linear[usize::from(v)])).collect();
    while level.len() > 1 {
        level = halved(&level, average_colour);
        bytes.extend(level.iter().flat_map(|&linear| stored_colour(linear)));
    }
    TileLevels { kind: TextureKind::BaseColour, bytes, average: level[0] }
}

fn scalar_levels(kind: TextureKind, values: &[u8; TILE_TEXELS]) -> TileLevels {
    if let Some(&value) = uniform(values) {
        let average = [f32::from(value) * 257.0; 3];
        return TileLevels { kind, bytes: vec![value; LEVEL_TEXELS], average };
    }
    let mut bytes = Vec::with_capacity(LEVEL_TEXELS);
    bytes.extend_from_slice(values);
    let mut level: Vec<u16> = values.iter().map(|&value| u16::from(value) * 257).collect();
    while level.len() > 1 {
        level = halved(&level, average_stored);
        bytes.extend(level.iter().map(|&value| eight_bits(value)));
    }
    TileLevels { kind, bytes, average: [f32::from(level[0]); 3] }
}

#[cfg(test)]
mod tests {
    use raster::{Texels, tile_mips_colour, tile_mips_scalar};

    use super::*;

    fn scattered(seed: u32) -> [u8; TILE_TEXELS] {
        std::array::from_fn(|i| ((i as u32 + seed).wrapping_mul(2_654_435_761) >> 13) as u8)
    }

    #[test]
    fn levels_follow_each_other_in_the_list() {
        assert_eq!([0, 1, 2, 6, 7].map(level_start), [0, 4096, 5120, 5460, LEVEL_TEXELS]);
    }

    #[test]
    fn eight_bits_of_linear_light_are_those_of_sixteen_rounded() {
        for step in 0..=200_000 {
            let linear = step as f32 / 200_000.0;
            let linear = linear * linear;
            assert_eq!(CURVE.encode(linear), eight_bits(encode_stored(linear)), "{linear}");
        }
    }

    #[test]
    fn the_levels_of_a_tile_are_those_of_raster() {
        let planes = [1, 2, 3].map(scattered);
        let texels: Vec<Texels> =
            planes.iter().map(|plane| plane.map(|v| u16::from(v) * 257)).collect();
        let rgba: Box<[u8; 4 * TILE_TEXELS]> =
            Box::new(std::array::from_fn(|i| if i % 4 == 3 { 255 } else { planes[i % 4][i / 4] }));
        let tile = TilePixels::new(TileAt { x: 0, y: 0 })
            .with_base_colour(&rgba)
            .with_scalar(TextureKind::Roughness, &planes[0]);
        let colour = tile_mips_colour([&texels[0], &texels[1], &texels[2]]);
        let scalar = tile_mips_scalar(&texels[0]);
        for level in 0..TILE_LEVELS {
            let at = level as usize;
            let expected: Vec<u8> = (0..colour[0][at].len())
                .flat_map(|i| {
                    [0, 1, 2, 3].map(|c| if c == 3 { 255 } else { eight_bits(colour[c][at][i]) })
                })
                .collect();
            assert_eq!(tile.level(TextureKind::BaseColour, level), expected, "level {level}");
            let expected: Vec<u8> = scalar[at].iter().map(|&value| eight_bits(value)).collect();
            assert_eq!(tile.level(TextureKind::Roughness, level), expected, "level {level}");
        }
        assert!(tile.level(TextureKind::Mask, 0).is_empty());
    }

    #[test]
    fn a_tile_of_one_value_is_that_value_on_all_levels_as_if_it_were_averaged() {
        for value in 0..=255u8 {
            let rgba: Box<[u8; 4 * TILE_TEXELS]> =
                Box::new(std::array::from_fn(|i| [value, 255 - value, 77, 255][i % 4]));
            let short = colour_levels(&rgba);
            let one = [value, 255 - value, 77].map(|v| CURVE.linear[usize::from(v)]);
            assert_eq!(short.average, average_colour([one; 4]));
            assert_eq!(stored_colour(short.average), [value, 255 - value, 77, 255]);
            assert_eq!(short.bytes.len(), LEVEL_TEXELS * 4);
            let short = scalar_levels(TextureKind::Roughness, &[value; TILE_TEXELS]);
            assert_eq!(short.average[0] as u16, average_stored([u16::from(value) * 257; 4]));
            assert_eq!(short.bytes, vec![value; LEVEL_TEXELS]);
        }
    }
}
