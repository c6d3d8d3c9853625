//! Environments that are read, and what is refused.

#![cfg(test)]

use std::fs;
use std::io::Cursor;

use exchange::{EnvironmentImage, read_environment, read_environment_bytes};
use image::{ImageFormat, Rgb, Rgb32FImage};

fn picture(width: u32, value: impl Fn(u32, u32) -> [f32; 3]) -> Rgb32FImage {
    Rgb32FImage::from_fn(width, width / 2, |x, y| Rgb(value(x, y)))
}

fn file(image: &Rgb32FImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    image.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

fn exr(value: impl Fn(u32, u32) -> [f32; 3]) -> Result<EnvironmentImage, String> {
    let bytes = file(&picture(8, value), ImageFormat::OpenExr);
    read_environment_bytes("sky.exr", &bytes).map_err(|error| error.to_string())
}

/// Radiance HDR without run lengths: Ward 1991, "Real Pixels".
fn hdr(lines: &str, texel: [u8; 4], count: usize) -> Vec<u8> {
    [lines.as_bytes(), &texel.repeat(count)].concat()
}

fn refused(name: &str, bytes: &[u8]) -> String {
    let error = read_environment_bytes(name, bytes).unwrap_err().to_string();
    assert!(error.starts_with(&format!("{name}: ")) && !error.contains('\n'), "{error}");
    error
}

#[test]
fn exr_is_read_as_it_is() {
    let value = |x: u32, y: u32| [x as f32 * 10.0, 0.25, 1000.0 * y as f32];
    let read = exr(value).unwrap();
    assert_eq!((read.width, read.height, read.notes.len()), (8, 4, 0));
    assert_eq!(read.texels[8 + 3], value(3, 1));
}

#[test]
fn radiance_hdr_is_read_with_its_shared_exponent() {
    for first in ["#?RADIANCE", "#?RGBE"] {
        let lines = format!("{first}\nFORMAT=32-bit_rle_rgbe\n\n-Y 2 +X 4\n");
        let read = read_environment_bytes("sky.hdr", &hdr(&lines, [128, 64, 0, 131], 8)).unwrap();
        // Ward 1991: mantissa / 256 * 2^(exponent - 128); half a step more or less is a matter of taste.
        let [r, g, b] = read.texels[5];
        assert!((r - 4.0).abs() < 0.02 && (g - 2.0).abs() < 0.02 && b.abs() < 0.02, "{r} {g} {b}");
    }
    let made = picture(16, |x, y| [x as f32, 1.0 + y as f32, 0.5]);
    let read = read_environment_bytes("sky.hdr", &file(&made, ImageFormat::Hdr)).unwrap();
    for (found, expected) in read.texels.iter().flatten().zip(made.as_raw()) {
        // 8 bits of mantissa are shared with the largest component.
        assert!((found - expected).abs() <= 16.0 / 128.0, "{found} {expected}");
    }
}

#[test]
fn what_is_no_radiance_is_mended_and_told() {
    let read = exr(|x, y| match (x, y) {
        (0, 0) => [f32::NAN, 1.0, 1.0],
        (1, 0) => [-2.0, f32::NEG_INFINITY, 1.0],
        (2, 0) => [f32::INFINITY, 50.0, 1e30],
        (3, 3) => [900.0, 1.0, 1.0],
        _ => [1.0; 3],
    })
    .unwrap();
    assert_eq!(read.texels[0], [0.0, 1.0, 1.0]);
    assert_eq!(read.texels[1], [0.0, 0.0, 1.0]);
    assert_eq!(read.texels[2], [900.0, 50.0, 900.0]);
    assert_eq!(read.notes.len(), 3, "{:?}", read.notes);
    for (note, word) in read.notes.iter().zip([
        "1 values are not numbers",
        "2 values are below 0",
        "2 values are infinite",
    ]) {
        assert!(note.starts_with("sky.exr: ") && note.contains(word), "{note}");
    }
}

#[test]
fn a_picture_without_light_is_refused() {
    for value in [0.0, -1.0, f32::NAN, f32::INFINITY] {
        let error = exr(|_, _| [value; 3]).unwrap_err();
        assert!(error.starts_with("sky.exr: ") && error.contains("no light"), "{error}");
    }
}

#[test]
fn what_is_no_environment_is_refused_in_one_line() {
    let header = "#?RADIANCE\nFORMAT=32-bit_rle_rgbe\n\n";
    let whole = file(&picture(64, |x, _| [x as f32; 3]), ImageFormat::OpenExr);
    let square = file(&Rgb32FImage::new(4, 4), ImageFormat::OpenExr);
    let cases: [(&str, Vec<u8>, &str); 13] = [
        ("empty.hdr", Vec::new(), "no Radiance HDR or EXR"),
        ("text.exr", b"not a picture".to_vec(), "no Radiance HDR or EXR"),
        ("map.png", b"\x89PNG\r\n\x1a\n".to_vec(), "no Radiance HDR or EXR"),
        ("start.hdr", b"#?RADIANCE\n".to_vec(), "can't be decoded"),
        ("cut.hdr", hdr(&format!("{header}-Y 4 +X 8\n"), [9; 4], 20), "can't be decoded"),
        ("turned.hdr", hdr(&format!("{header}+X 8 -Y 4\n"), [9; 4], 32), "can't be decoded"),
        ("square.hdr", hdr(&format!("{header}-Y 4 +X 4\n"), [9; 4], 16), "4 x 4"),
        ("none.hdr", hdr(&format!("{header}-Y 0 +X 0\n"), [9; 4], 0), "0 x 0"),
        ("wide.hdr", hdr(&format!("{header}-Y 20000 +X 40000\n"), [9; 4], 4), "40000 x 20000"),
        ("large.hdr", hdr(&format!("{header}-Y 8192 +X 16384\n"), [9; 4], 4), "16384 x 8192"),
        ("start.exr", whole[..40].to_vec(), "can't be decoded"),
        ("cut.exr", whole[..whole.len() / 2].to_vec(), "can't be decoded"),
        ("square.exr", square, "twice as wide as high"),
    ];
    for (name, bytes, word) in cases {
        let error = refused(name, &bytes);
        assert!(error.contains(word), "{error}");
    }
}

#[test]
fn bytes_that_were_changed_never_bring_it_down() {
    let whole = file(&picture(16, |x, _| [x as f32; 3]), ImageFormat::OpenExr);
    let radiance = file(&picture(16, |x, _| [x as f32; 3]), ImageFormat::Hdr);
    for bytes in [whole, radiance] {
        for at in 0..bytes.len() {
            for value in [0, 0x7f, 0xff] {
                let mut changed = bytes.clone();
                changed[at] = value;
                if let Ok(read) = read_environment_bytes("sky", &changed) {
                    let good = |v: &f32| v.is_finite() && *v >= 0.0;
                    assert!(read.texels.iter().flatten().all(good));
                    assert_eq!(read.texels.len(), read.width * read.height);
                }
            }
        }
    }
}

#[test]
fn a_file_is_read_by_its_path_and_a_missing_one_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sky.exr");
    fs::write(&path, file(&picture(8, |_, _| [2.0; 3]), ImageFormat::OpenExr)).unwrap();
    assert_eq!(read_environment(&path).unwrap().texels, [[2.0; 3]; 32]);
    let missing = read_environment(&folder.path().join("none.hdr")).unwrap_err().to_string();
    assert!(missing.contains("none.hdr: reading"), "{missing}");
}
