//! The sRGB transfer function against tables computed by colour-science 0.4.7 in float64
//! (IEC 61966-2-1); the first line of each table says how.

use std::path::Path;

use raster::{decode_srgb, encode_srgb, from_unit};

/// The rows of a table under its header, as numbers.
fn table(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name);
    let text = std::fs::read_to_string(path).unwrap_or_default();
    let rows = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.map(|row| row.split(',').filter_map(|number| number.parse().ok()).collect()).collect()
}

fn code8(encoded: f32) -> u8 {
    (encoded * 255.0).round() as u8
}

#[test]
fn all_256_codes_decode_as_the_table_says_and_come_back() {
    let rows = table("srgb_transfer.csv");
    assert_eq!(rows.len(), 256);
    for row in rows {
        let [code, encoded, linear, again] = row[..] else { panic!("{row:?}") };
        let decoded = decode_srgb((code / 255.0) as f32);
        assert!((f64::from(decoded) - linear).abs() < 1e-6, "{code}: {decoded} for {linear}");
        assert!((f64::from(encode_srgb(linear as f32)) - encoded).abs() < 1e-6, "{code}");
        assert_eq!(f64::from(code8(encode_srgb(decoded))), again);
        assert_eq!(again, code);
    }
}

#[test]
fn linear_values_encode_and_round_as_the_table_says() {
    let rows = table("srgb_encode.csv");
    assert!(rows.len() > 20);
    for row in rows {
        let [linear, encoded, byte, stored] = row[..] else { panic!("{row:?}") };
        let ours = encode_srgb(linear as f32);
        assert!((f64::from(ours) - encoded).abs() < 1e-6, "{linear}: {ours} for {encoded}");
        assert_eq!(f64::from(code8(ours)), byte, "{linear}");
        assert_eq!(f64::from(from_unit(ours)), stored, "{linear}");
    }
}

/// glTF 2.0, its own worked texel: 64, 124, 231 decode to 0.051, 0.202, 0.799.
#[test]
fn the_texel_that_gltf_works_out_decodes_as_printed() {
    for (code, printed) in [(64.0, 0.051), (124.0, 0.202), (231.0, 0.799)] {
        assert!((decode_srgb(code / 255.0) - printed).abs() < 5e-4);
    }
}
