//! What images become: every depth, grey and colour, with and without coverage, floats clamped.

#![expect(clippy::unwrap_used, reason = "a test that can't be set up has failed")]

use exchange::{ImageUse, ReadImage, read_image_bytes};
use image::{DynamicImage, ImageFormat};
use raster::{decode_srgb, to_unit};

fn read(image: &DynamicImage, format: ImageFormat, wanted: ImageUse) -> ReadImage {
    let mut bytes = std::io::Cursor::new(Vec::new());
    image.write_to(&mut bytes, format).unwrap();
    read_image_bytes("x", &bytes.into_inner(), wanted).unwrap()
}

#[test]
fn integers_are_widened_exactly_in_every_kind_of_pixel() {
    let (eight, sixteen) =
        (vec![7u8, 255, 0, 128, 1, 2, 3, 4], vec![7u16, 65_535, 0, 9, 1, 2, 3, 4]);
    let wide: Vec<u16> = eight.iter().map(|&v| u16::from(v) * 257).collect();
    for (image, components, expected) in [
        (image::GrayImage::from_raw(4, 2, eight.clone()).unwrap().into(), 1, &wide),
        (image::GrayAlphaImage::from_raw(2, 2, eight.clone()).unwrap().into(), 2, &wide),
        (image::RgbaImage::from_raw(2, 1, eight.clone()).unwrap().into(), 4, &wide),
    ] as [(DynamicImage, usize, &Vec<u16>); 3]
    {
        let read = read(&image, ImageFormat::Png, ImageUse::Colour);
        assert_eq!(read.bitmap.components(), components);
        assert_eq!(read.bitmap.values(), expected);
    }
    for (image, components) in [
        (
            DynamicImage::ImageLuma16(image::ImageBuffer::from_raw(4, 2, sixteen.clone()).unwrap()),
            1,
        ),
        (
            DynamicImage::ImageRgba16(image::ImageBuffer::from_raw(2, 1, sixteen.clone()).unwrap()),
            4,
        ),
    ] {
        for format in [ImageFormat::Png, ImageFormat::Tiff] {
            let read = read(&image, format, ImageUse::Values);
            assert_eq!(read.bitmap.components(), components);
            assert_eq!(read.bitmap.values(), sixteen);
        }
    }
}

#[test]
fn a_palette_becomes_its_colours() {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, 2, 1);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_palette(vec![10, 20, 30, 200, 100, 0]);
    let mut writer = encoder.write_header().unwrap();
    writer.write_image_data(&[1, 0]).unwrap();
    writer.finish().unwrap();
    let read = read_image_bytes("x", &bytes, ImageUse::Colour).unwrap();
    assert_eq!(read.bitmap.values(), [200, 100, 0, 10, 20, 30].map(|v: u16| v * 257));
}

#[test]
fn floats_are_linear_light_and_clamped_with_a_note() {
    let image = image::Rgb32FImage::from_raw(2, 1, vec![0.25, 0.5, 1.0, 7.0, -1.0, 0.0]).unwrap();
    let image = DynamicImage::from(image);
    let colour = read(&image, ImageFormat::OpenExr, ImageUse::Colour);
    for (&got, linear) in colour.bitmap.values().iter().zip([0.25, 0.5, 1.0, 1.0, 0.0, 0.0]) {
        assert!((decode_srgb(to_unit(got)) - linear).abs() < 1e-4);
    }
    assert_eq!(colour.notes, ["x: 2 values below 0 or above 1 were clamped"]);
    let values = read(&image, ImageFormat::OpenExr, ImageUse::Values);
    assert_eq!(values.bitmap.values()[..3], [16_384, 32_768, 65_535]);
}

#[test]
fn a_jpeg_is_read_near_enough() {
    let image = DynamicImage::from(image::RgbImage::from_pixel(16, 16, image::Rgb([200, 100, 50])));
    let read = read(&image, ImageFormat::Jpeg, ImageUse::Colour);
    for (&got, sent) in read.bitmap.texel(8, 8).iter().zip([200i32, 100, 50]) {
        assert!((i32::from(got / 257) - sent).abs() <= 3);
    }
}

#[test]
fn an_image_much_larger_than_its_header_may_be_is_read() {
    // 64 MiB and 96 MiB of values.
    let image =
        DynamicImage::ImageLuma16(image::ImageBuffer::from_pixel(8192, 4096, image::Luma([7])));
    for format in [ImageFormat::Png, ImageFormat::Tiff] {
        assert_eq!(read(&image, format, ImageUse::Values).bitmap.values().len(), 8192 * 4096);
    }
    let image = image::Rgb32FImage::from_pixel(4096, 2048, image::Rgb([0.5; 3]));
    let read = read(&image.into(), ImageFormat::OpenExr, ImageUse::Values);
    assert_eq!(read.bitmap.values().len(), 4096 * 2048 * 3);
}
