//! Images of brushes as PNG, in memory: a list holds them so. (What comes from files is read by `exchange`.)

use std::io::Cursor;

use brush::{GreyImage, LONGEST_IMAGE_EDGE};
use png::{BitDepth, ColorType, Decoder, Encoder, Limits, Transformations};
use raster::{Bitmap, Extent};

/// Bytes that decoding may take beside the pixels.
const MOST_BYTES: usize = 160 << 20;

/// An image as a PNG, grey, in 8 bits a pixel where that holds all of it, else in 16.
pub fn png_of(image: &GreyImage) -> Vec<u8> {
    let Extent { width, height } = image.extent();
    let values = image.values();
    let is_coarse = values.iter().all(|value| value % 257 == 0);
    let bytes: Vec<u8> = if is_coarse {
        values.iter().map(|value| (value / 257) as u8).collect()
    } else {
        values.iter().flat_map(|value| value.to_be_bytes()).collect()
    };
    let mut file = Vec::new();
    let mut encoder = Encoder::new(&mut file, width, height);
    encoder.set_color(ColorType::Grayscale);
    encoder.set_depth(if is_coarse { BitDepth::Eight } else { BitDepth::Sixteen });
    let written = encoder.write_header().and_then(|mut writer| {
        writer.write_image_data(&bytes)?;
        writer.finish()
    });
    debug_assert!(written.is_ok(), "memory takes all that is written to it");
    file
}

/// The image that a PNG shows, in grey.
///
/// # Errors
/// One line that says why it can't be read, or can't be a brush's.
pub fn image_of_png(bytes: &[u8]) -> Result<GreyImage, String> {
    let broken = |error: png::DecodingError| {
        format!("the PNG can't be read: {}", error.to_string().replace(['\n', '\r'], " "))
    };
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), Limits { bytes: MOST_BYTES });
    decoder.set_transformations(Transformations::EXPAND);
    let mut reader = decoder.read_info().map_err(broken)?;
    let extent = Extent { width: reader.info().width, height: reader.info().height };
    if extent.width.max(extent.height) > LONGEST_IMAGE_EDGE {
        // Told by the image itself, before anything is decoded.
        return GreyImage::new(extent, Vec::new()).map_err(|fault| fault.to_string());
    }
    let size = reader.output_buffer_size().ok_or("the PNG is too large to be read")?;
    let mut pixels = vec![0; size];
    let frame = reader.next_frame(&mut pixels).map_err(broken)?;
    let pixels = &pixels[..frame.buffer_size()];
    let values = match frame.bit_depth {
        BitDepth::Sixteen => {
            pixels.as_chunks().0.iter().map(|bytes| u16::from_be_bytes(*bytes)).collect()
        }
        _ => pixels.iter().map(|byte| u16::from(*byte) * 257).collect(),
    };
    let bitmap = Bitmap::new(extent, frame.color_type.samples(), values);
    let bitmap = bitmap.ok_or("the PNG has fewer pixels than it says")?;
    GreyImage::of_bitmap(&bitmap).map_err(|fault| fault.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn image(values: Vec<u16>) -> GreyImage {
        GreyImage::new(Extent { width: 3, height: 2 }, values).unwrap()
    }

    #[test]
    fn an_image_reads_back_as_it_was_written_in_8_and_in_16_bits() {
        let coarse = image([0, 257, 514, 771, 65_535, 25_700].into());
        let fine = image([0, 1, 2, 40_000, 65_535, 3].into());
        for image in [&coarse, &fine] {
            assert_eq!(image_of_png(&png_of(image)).as_ref(), Ok(image));
        }
        // Byte 24 of a PNG is the depth (PNG specification, 11.2.2).
        assert_eq!([png_of(&coarse)[24], png_of(&fine)[24]], [8, 16]);
    }

    #[test]
    fn what_is_no_png_or_too_large_is_told_in_one_line() {
        assert!(image_of_png(b"GIF89a").unwrap_err().starts_with("the PNG can't be read"));
        let mut large = png_of(&image(vec![9; 6]));
        let cut = large[..large.len() - 20].to_vec();
        assert!(image_of_png(&cut).unwrap_err().starts_with("the PNG can't be read"));
        // The header's width and height, and its check sum (PNG specification, 11.2.2 and 5.3).
        large[16..24].copy_from_slice(&[0, 0, 0x4E, 0x20, 0, 0, 0x4E, 0x20]);
        let sum = crc(&large[12..29]).to_be_bytes();
        large[29..33].copy_from_slice(&sum);
        let told = image_of_png(&large).unwrap_err();
        assert!(told.starts_with("the image is 20000 x 20000"), "{told}");
        for told in [told, image_of_png(&cut).unwrap_err()] {
            assert!(!told.contains('\n'));
        }
    }

    /// CRC-32 as the PNG specification's annex D has it.
    fn crc(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(u32::MAX, |sum, byte| {
            (0..8).fold(sum ^ u32::from(*byte), |sum, _| {
                if sum & 1 == 1 { 0xEDB8_8320 ^ (sum >> 1) } else { sum >> 1 }
            })
        })
    }
}
