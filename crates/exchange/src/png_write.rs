//! PNG images of maps: 8 or 16 bits, grey or RGB, tagged with what their values mean.
//!
//! Colour carries an sRGB chunk, with the gAMA and cHRM values that PNG (third edition, section 11.3.2.5)
//! gives to go beside it; scalars carry gAMA 1, which says linear. Eight bits are rounded, not dithered:
//! the same values always give the same bytes.

use std::io::{self, Write};

use png::{
    BitDepth as PngDepth, ColorType, Compression, Encoder, ScaledFloat, SourceChromaticities,
};
use raster::Bitmap;

/// How many bits a value of an exported map has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum BitDepth {
    /// 8 bits: the nearest.
    Eight,
    /// 16 bits: exact.
    Sixteen,
}

/// What the file says that its values mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tag {
    /// sRGB-encoded colour.
    Encoded,
    /// Linear values.
    Linear,
    /// Nothing: what holds the image says it, as glTF does.
    None,
}

/// Writes an image of 1 (grey) or 3 components (red, green, blue).
pub(crate) fn write_png(
    to: impl Write,
    image: &Bitmap<u16>,
    depth: BitDepth,
    tag: Tag,
) -> io::Result<()> {
    let extent = image.extent();
    let mut encoder = Encoder::new(to, extent.width, extent.height);
    encoder.set_color(match image.components() {
        1 => ColorType::Grayscale,
        3 => ColorType::Rgb,
        _ => return Err(io::Error::other("maps have 1 or 3 components")),
    });
    encoder.set_depth(match depth {
        BitDepth::Eight => PngDepth::Eight,
        BitDepth::Sixteen => PngDepth::Sixteen,
    });
    encoder.set_compression(Compression::Fast);
    match tag {
        Tag::Encoded => {
            encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
            encoder.set_source_gamma(ScaledFloat::from_scaled(45_455));
            encoder.set_source_chromaticities(SourceChromaticities {
                white: (ScaledFloat::from_scaled(31_270), ScaledFloat::from_scaled(32_900)),
                red: (ScaledFloat::from_scaled(64_000), ScaledFloat::from_scaled(33_000)),
                green: (ScaledFloat::from_scaled(30_000), ScaledFloat::from_scaled(60_000)),
                blue: (ScaledFloat::from_scaled(15_000), ScaledFloat::from_scaled(6_000)),
            });
        }
        Tag::Linear => encoder.set_source_gamma(ScaledFloat::from_scaled(100_000)),
        Tag::None => {}
    }
    let mut writer = encoder.write_header()?;
    let mut rows = writer.stream_writer()?;
    let mut bytes = Vec::new();
    for row in image.values().chunks(extent.width as usize * image.components()) {
        bytes.clear();
        match depth {
            BitDepth::Eight => bytes.extend(row.iter().map(|&value| eight_bits(value))),
            BitDepth::Sixteen => bytes.extend(row.iter().flat_map(|value| value.to_be_bytes())),
        }
        rows.write_all(&bytes)?;
    }
    rows.finish()?;
    writer.finish()?;
    Ok(())
}

/// The nearest of 256 values: value x 255 / 65535, which is value / 257, rounded.
pub(crate) fn eight_bits(value: u16) -> u8 {
    ((u32::from(value) + 128) / 257) as u8
}

#[cfg(test)]
mod tests {
    use super::*;
    use raster::Extent;

    fn ramp(components: usize) -> Bitmap<u16> {
        let extent = Extent { width: 129, height: 61 };
        let count = extent.texels() * components;
        let values = (0..count).map(|n| (n * 40_503 % 65_536) as u16).collect();
        Bitmap::new(extent, components, values).unwrap()
    }

    fn written(image: &Bitmap<u16>, depth: BitDepth, tag: Tag) -> Vec<u8> {
        let mut bytes = Vec::new();
        write_png(&mut bytes, image, depth, tag).unwrap();
        bytes
    }

    fn chunks(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
        let mut rest = &bytes[8..];
        let mut chunks = Vec::new();
        while !rest.is_empty() {
            let length = u32::from_be_bytes(rest[..4].try_into().unwrap()) as usize;
            let name = String::from_utf8(rest[4..8].to_vec()).unwrap();
            chunks.push((name, rest[8..8 + length].to_vec()));
            rest = &rest[12 + length..];
        }
        chunks
    }

    #[test]
    fn eight_bits_is_the_nearest_for_every_value() {
        for value in 0..=u16::MAX {
            let exact = f64::from(value) * 255.0 / 65_535.0;
            assert_eq!(f64::from(eight_bits(value)), exact.round(), "{value}");
        }
    }

    #[test]
    fn sixteen_bits_come_back_exactly_and_eight_rounded() {
        for components in [1, 3] {
            let image = ramp(components);
            for depth in [BitDepth::Eight, BitDepth::Sixteen] {
                let bytes = written(&image, depth, Tag::Encoded);
                let read =
                    crate::read_image_bytes("x.png", &bytes, crate::ImageUse::Values).unwrap();
                let expected: Vec<u16> = match depth {
                    BitDepth::Sixteen => image.values().to_vec(),
                    BitDepth::Eight => {
                        image.values().iter().map(|&v| u16::from(eight_bits(v)) * 257).collect()
                    }
                };
                assert_eq!(read.bitmap.values(), expected);
                assert_eq!(read.bitmap.components(), components);
            }
        }
    }

    #[test]
    fn colour_is_tagged_srgb_and_scalars_linear() {
        // PNG, third edition: sections 11.3.2.1 (cHRM), 11.3.2.2 (gAMA), 11.3.2.5 (sRGB).
        let names = |bytes: &[u8]| -> Vec<String> {
            chunks(bytes).into_iter().map(|chunk| chunk.0).filter(|name| name != "IDAT").collect()
        };
        let colour = written(&ramp(3), BitDepth::Eight, Tag::Encoded);
        assert_eq!(names(&colour), ["IHDR", "sRGB", "gAMA", "cHRM", "IEND"]);
        assert_eq!(chunks(&colour)[2].1, 45_455u32.to_be_bytes());
        let scalar = written(&ramp(1), BitDepth::Sixteen, Tag::Linear);
        assert_eq!(names(&scalar), ["IHDR", "gAMA", "IEND"]);
        assert_eq!(chunks(&scalar)[1].1, 100_000u32.to_be_bytes());
        assert_eq!(names(&written(&ramp(3), BitDepth::Eight, Tag::None)), ["IHDR", "IEND"]);
    }

    #[test]
    fn the_same_values_give_the_same_bytes() {
        let image = ramp(3);
        let once = written(&image, BitDepth::Sixteen, Tag::Encoded);
        assert_eq!(once, written(&image, BitDepth::Sixteen, Tag::Encoded));
    }
}
