//! Images that must be refused, and how to make images.

use std::io::Write as _;

use image::ImageFormat::{Jpeg, OpenExr, Tiff};

use crate::{Case, case};

pub(crate) fn crc(bytes: &[u8]) -> u32 {
    // PNG, third edition, annex D.
    !bytes.iter().fold(u32::MAX, |crc, &byte| {
        (0..8)
            .fold(crc ^ u32::from(byte), |c, _| (c >> 1) ^ if c & 1 == 1 { 0xEDB8_8320 } else { 0 })
    })
}

pub(crate) fn chunk(kind: &[u8], data: &[u8]) -> Vec<u8> {
    let body: Vec<u8> = kind.iter().chain(data).copied().collect();
    let mut bytes = (data.len() as u32).to_be_bytes().to_vec();
    bytes.extend(&body);
    bytes.extend(crc(&body).to_be_bytes());
    bytes
}

/// A PNG that has no texels but tells of many.
pub(crate) fn png_header(width: u32, height: u32) -> Vec<u8> {
    let mut header = Vec::new();
    header.extend(width.to_be_bytes());
    header.extend(height.to_be_bytes());
    header.extend([8, 2, 0, 0, 0]);
    [
        b"\x89PNG\r\n\x1a\n".to_vec(),
        chunk(b"IHDR", &header),
        chunk(b"IDAT", &[]),
        chunk(b"IEND", &[]),
    ]
    .concat()
}

pub(crate) fn png(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let image = image::RgbImage::from_fn(width, height, |x, y| image::Rgb([x as u8, y as u8, 7]));
    image.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    bytes.into_inner()
}

pub(crate) fn encoded(format: image::ImageFormat) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let image = image::Rgb32FImage::from_fn(64, 64, |x, y| image::Rgb([x as f32, y as f32, 0.5]));
    let image = image::DynamicImage::from(image);
    let image = if format == OpenExr { image } else { image.to_rgb8().into() };
    image.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

pub(crate) fn image_cases() -> Vec<Case> {
    let half = |format| {
        let bytes = encoded(format);
        bytes[..bytes.len() / 2].to_vec()
    };
    let start = |bytes: Vec<u8>| bytes[..40].to_vec();
    vec![
        case("empty.png", "", &["empty.png: ", "no PNG"]),
        case("text.png", "not an image", &["text.png: ", "no PNG"]),
        case("bomb.png", png_header(60_000, 60_000), &["bomb.png: ", "60000 x 60000"]),
        case("wide.png", png_header(16_385, 1), &["wide.png: ", "16385"]),
        case("large.png", png_header(16_384, 16_384), &["large.png: "]),
        case("zero.png", png_header(0, 4), &["zero.png: "]),
        case("cut.png", png(40, 40)[..60].to_vec(), &["cut.png: ", "can't be decoded"]),
        case("start.jpg", start(encoded(Jpeg)), &["start.jpg: ", "can't be decoded"]),
        case("cut.exr", half(OpenExr), &["cut.exr: ", "can't be decoded"]),
        case("start.exr", start(encoded(OpenExr)), &["start.exr: ", "can't be decoded"]),
        case("cut.tif", half(Tiff), &["cut.tif: ", "can't be decoded"]),
        case("bytes.gif", "GIF89a\x01\0\x01\0", &["bytes.gif: ", "no PNG"]),
    ]
}

/// A zlib stream of zeros: what the PNG library makes of a black image, one row at a time.
pub(crate) fn deflated_zeros(length: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, 1 << 14, (length >> 14) as u32);
    encoder.set_color(png::ColorType::Grayscale);
    let mut writer = encoder.write_header().unwrap();
    let mut rows = writer.stream_writer().unwrap();
    for _ in 0..length >> 14 {
        rows.write_all(&[0; 1 << 14]).unwrap();
    }
    rows.finish().unwrap();
    writer.finish().unwrap();
    let mut rest = &bytes[8..];
    let mut data = Vec::new();
    while let Some((length, after)) = rest.split_first_chunk() {
        let length = u32::from_be_bytes(*length) as usize;
        if after.starts_with(b"IDAT") {
            data.extend(&after[4..4 + length]);
        }
        rest = &after[8 + length..];
    }
    data
}
