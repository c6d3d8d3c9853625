//! The forms in which contents lie in the file, and the way back.

use raster::{PackedTexels, TILE_BYTES, TILE_TEXELS, Texels, differences, texels_of_differences};

/// The most bytes that a content may have.
pub(crate) const MOST_BYTES: usize = 256 << 20;

/// How a content is stored. Numbers are never given to another form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Encoding {
    /// As it is.
    Plain = 0,
    /// A tile as `raster` packs it.
    Tile = 1,
    /// An LZ4 block.
    Bytes = 2,
    /// Words of two bytes: all first bytes, then all second ones, in an LZ4 block.
    Halves = 3,
    /// The same for words of four bytes.
    Words = 4,
    /// The differences of a tile as `raster` makes them, in a Zstandard frame: a sixth smaller than
    /// [`Encoding::Tile`], and slower to make. For packed projects.
    DenseTile = 5,
}

/// Zstandard's level: the fastest.
const DENSE_LEVEL: i32 = 1;

impl Encoding {
    /// The encoding with this number in files.
    pub(crate) fn of_code(code: i64) -> Option<Self> {
        let all =
            [Self::Plain, Self::Tile, Self::Bytes, Self::Halves, Self::Words, Self::DenseTile];
        all.into_iter().find(|encoding| *encoding as i64 == code)
    }

    fn word(self) -> usize {
        match self {
            Self::Plain | Self::Tile | Self::Bytes | Self::DenseTile => 1,
            Self::Halves => 2,
            Self::Words => 4,
        }
    }
}

/// A content as it lies in the file, in the encoding asked for, or plain where that is no larger.
pub(crate) fn squeezed(content: &[u8], encoding: Encoding) -> (Encoding, Vec<u8>) {
    let bytes = match encoding {
        Encoding::Plain => return (Encoding::Plain, content.to_vec()),
        Encoding::Tile => packed_tile(content),
        Encoding::DenseTile => dense_tile(content),
        _ => lz4_flex::block::compress(&split(content, encoding.word())),
    };
    if bytes.len() < content.len() {
        (encoding, bytes)
    } else {
        (Encoding::Plain, content.to_vec())
    }
}

/// The content of `length` bytes; `None` where the bytes don't give one.
pub(crate) fn restored(encoding: Encoding, bytes: &[u8], length: usize) -> Option<Vec<u8>> {
    // LZ4 makes at most 255 bytes of one: a longer length would only make us ask for memory.
    if length > MOST_BYTES || length / 256 > bytes.len() {
        return None;
    }
    let content = match encoding {
        Encoding::Plain => bytes.to_vec(),
        Encoding::Tile => {
            let texels = PackedTexels::from_bytes(bytes).unpacked().ok()?;
            content_of_texels(&texels)
        }
        Encoding::DenseTile => {
            let mut split = [0; TILE_BYTES];
            let found = zstd::bulk::decompress_to_buffer(bytes, &mut split).ok()?;
            (found == TILE_BYTES).then(|| content_of_texels(&texels_of_differences(&split)))?
        }
        _ => joined(&lz4_flex::block::decompress(bytes, length).ok()?, encoding.word()),
    };
    (content.len() == length).then_some(content)
}

/// A tile's content: its values, little-endian.
pub(crate) fn content_of_texels(texels: &Texels) -> Vec<u8> {
    bytemuck::cast_slice(&texels.map(u16::to_le)).to_vec()
}

/// The values of a tile's content; `None` for any other content.
pub(crate) fn texels_of(content: &[u8]) -> Option<Box<Texels>> {
    if content.len() != TILE_BYTES {
        return None;
    }
    let mut texels = Box::new([0; TILE_TEXELS]);
    for (texel, bytes) in texels.iter_mut().zip(content.as_chunks::<2>().0) {
        *texel = u16::from_le_bytes(*bytes);
    }
    Some(texels)
}

fn packed_tile(content: &[u8]) -> Vec<u8> {
    let packed = texels_of(content).map(|texels| PackedTexels::of(&texels).as_bytes().to_vec());
    packed.unwrap_or_else(|| content.to_vec())
}

fn dense_tile(content: &[u8]) -> Vec<u8> {
    let dense = |texels: Box<Texels>| zstd::bulk::compress(&differences(&texels), DENSE_LEVEL).ok();
    texels_of(content).and_then(dense).unwrap_or_else(|| content.to_vec())
}

/// The first bytes of all words, then the second ones, and so on; what is left over at the end stays.
fn split(content: &[u8], word: usize) -> Vec<u8> {
    let words = content.len() / word * word;
    let mut out = Vec::with_capacity(content.len());
    for place in 0..word {
        out.extend(content[..words].iter().skip(place).step_by(word));
    }
    out.extend_from_slice(&content[words..]);
    out
}

fn joined(split: &[u8], word: usize) -> Vec<u8> {
    let count = split.len() / word;
    let mut out = Vec::with_capacity(split.len());
    for index in 0..count {
        out.extend((0..word).map(|place| split[place * count + index]));
    }
    out.extend_from_slice(&split[count * word..]);
    out
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const ALL: [Encoding; 5] =
        [Encoding::Plain, Encoding::Bytes, Encoding::Halves, Encoding::Words, Encoding::DenseTile];

    proptest! {
        #[test]
        fn any_content_comes_back_in_any_encoding(
            content in prop::collection::vec(0..4_u8, 0..2000), which in 0..5_usize,
        ) {
            let (encoding, bytes) = squeezed(&content, ALL[which]);
            prop_assert!(bytes.len() <= content.len());
            prop_assert_eq!(restored(encoding, &bytes, content.len()), Some(content));
        }

        #[test]
        fn any_bytes_give_the_length_asked_for_or_nothing(
            bytes in prop::collection::vec(any::<u8>(), 0..300),
            length in any::<usize>(),
            which in 0..5_usize,
        ) {
            for length in [length, length % 5000] {
                let content = restored(ALL[which], &bytes, length);
                prop_assert!(content.is_none_or(|content| content.len() == length));
            }
        }
    }

    #[test]
    fn a_tile_is_packed_and_comes_back() {
        let texels: Texels = std::array::from_fn(|index| (index * 3) as u16);
        let content = content_of_texels(&texels);
        assert_eq!(*texels_of(&content).unwrap(), texels);
        for asked in [Encoding::Tile, Encoding::DenseTile] {
            let (encoding, bytes) = squeezed(&content, asked);
            assert_eq!(encoding, asked);
            assert!(bytes.len() < content.len() / 4);
            assert_eq!(restored(encoding, &bytes, content.len()).as_ref(), Some(&content));
            assert!(restored(encoding, &bytes, content.len() - 1).is_none());
            assert!(restored(encoding, &bytes[1..], content.len()).is_none());
        }
    }

    #[test]
    fn a_length_that_no_bytes_could_give_asks_for_no_memory() {
        assert!(restored(Encoding::Bytes, &[0; 16], MOST_BYTES).is_none());
        assert!(restored(Encoding::Bytes, &[0; 16], usize::MAX).is_none());
    }
}
