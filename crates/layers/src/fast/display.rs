//! One tile of a composite, as display wants it.

use raster::{Lanes, TILE_TEXELS, Texels};

use super::kernel::{ONE, Source, Texels15, UNIFORM_LEN};
use crate::{ChannelDescriptor, ChannelId, ChannelKind};

/// One tile of some channels of a composite: a plane of 15-bit values for each component, 0..=32767 for
/// 0..1, encoded as the channel is. It can be used again for other tiles without an allocation.
#[derive(Debug, Default)]
pub struct DisplayTile {
    channels: Vec<Span>,
    pub(super) planes: Vec<Plane15>,
}

/// Which planes are a channel's.
#[derive(Debug, Clone, Copy)]
struct Span {
    id: ChannelId,
    kind: ChannelKind,
    first: usize,
}

/// A plane that may be known to be alike everywhere; then only its first texels are kept.
#[derive(Debug)]
pub(super) struct Plane15 {
    pub(super) texels: Box<Texels15>,
    pub(super) uniform: bool,
}

impl Plane15 {
    /// Memory that a plane takes.
    pub(super) const BYTES: usize = size_of::<Texels15>() + size_of::<Self>();

    /// How many of its values are kept.
    pub(super) fn len(&self) -> usize {
        if self.uniform { UNIFORM_LEN } else { TILE_TEXELS }
    }

    pub(super) fn source(&self) -> Source<'_> {
        if self.uniform {
            Source::Uniform(self.texels.0[0])
        } else {
            Source::Texels(&self.texels.0)
        }
    }

    pub(super) fn new() -> Self {
        Self { texels: Texels15::boxed(), uniform: true }
    }

    pub(super) fn fill(&mut self, value: u16) {
        self.texels.0[..UNIFORM_LEN].fill(value);
        self.uniform = true;
    }

    /// Has every texel written out.
    pub(super) fn expand(&mut self) {
        if std::mem::take(&mut self.uniform) {
            let value = self.texels.0[0];
            self.texels.0.fill(value);
        }
    }

    /// A copy to keep.
    pub(super) fn kept(&self) -> Self {
        let mut kept = Self::new();
        kept.copy_from(self);
        kept
    }

    pub(super) fn copy_from(&mut self, other: &Self) {
        self.uniform = other.uniform;
        self.texels.0[..other.len()].copy_from_slice(&other.texels.0[..other.len()]);
    }
}

impl DisplayTile {
    /// The value of 1.
    pub const ONE: u16 = ONE;

    /// Takes the shape of these channels; values are left as they were.
    pub(super) fn shape<'c>(&mut self, channels: impl Iterator<Item = &'c ChannelDescriptor>) {
        self.channels.clear();
        let mut first = 0;
        for channel in channels {
            self.channels.push(Span { id: channel.id, kind: channel.kind, first });
            first += channel.kind.components();
        }
        if self.planes.len() < first {
            self.planes.resize_with(first, Plane15::new);
        }
    }

    /// The channels of this tile, in the order in which they were asked for.
    pub fn channels(&self) -> impl Iterator<Item = ChannelId> + '_ {
        self.channels.iter().map(|span| span.id)
    }

    /// A component of a channel, row by row from the top left; `None` for a channel or component that
    /// the tile doesn't have.
    pub fn component(&self, channel: ChannelId, component: usize) -> Option<&Texels> {
        let span = self.span(channel)?;
        (component < span.kind.components()).then(|| &self.planes[span.first + component].texels.0)
    }

    /// Writes a colour channel as 8-bit red, green, blue and 255, row by row, each value rounded to the
    /// nearest. False, with nothing written, for a channel that the tile doesn't have or that is a scalar.
    pub fn write_rgba(&self, channel: ChannelId, rgba: &mut [u8; 4 * TILE_TEXELS]) -> bool {
        let span = self.span(channel).filter(|span| span.kind == ChannelKind::Colour);
        let Some(span) = span else { return false };
        let [r, g, b] = [0, 1, 2].map(|n| &self.planes[span.first + n].texels.0);
        Lanes::widest().run(|| {
            for (((pixel, &r), &g), &b) in
                rgba.as_chunks_mut::<4>().0.iter_mut().zip(r).zip(g).zip(b)
            {
                let word = eight_bits(r) | eight_bits(g) << 8 | eight_bits(b) << 16 | 0xFF00_0000;
                *pixel = word.to_le_bytes();
            }
        });
        true
    }

    /// Writes a scalar channel as 8 bits a texel, row by row, each value rounded to the nearest. False,
    /// with nothing written, for a channel that the tile doesn't have or that is a colour.
    pub fn write_r(&self, channel: ChannelId, bytes: &mut [u8; TILE_TEXELS]) -> bool {
        let span = self.span(channel).filter(|span| span.kind == ChannelKind::Scalar);
        let Some(span) = span else { return false };
        let texels = &self.planes[span.first].texels.0;
        Lanes::widest().run(|| {
            for (byte, &value) in bytes.iter_mut().zip(texels) {
                *byte = eight_bits(value) as u8;
            }
        });
        true
    }

    fn span(&self, channel: ChannelId) -> Option<Span> {
        self.channels.iter().copied().find(|span| span.id == channel)
    }
}

/// `round(value x 255 / 32767)`. The division by 2^15 - 1 is exact for these numbers: with
/// `x = q (2^15 - 1) + r`, the sum `x + (x >> 15)` carries into bit 15 just where `r` says so.
#[inline]
fn eight_bits(value: u16) -> u32 {
    let rounded = u32::from(value) * 255 + 16_384;
    (rounded + (rounded >> 15)) >> 15
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_bits_are_the_nearest_for_every_value() {
        for value in 0..=ONE {
            let nearest = (f64::from(value) * 255.0 / 32_767.0).round() as u32;
            assert_eq!(eight_bits(value), nearest, "{value}");
        }
    }
}
