//! Light, end to end.

use raster::{decode_srgb, encode_srgb};
use surface::MaterialSlot;
use viewport::Shown;

use crate::stage::{Stage, facing, quads, square};

fn linear(value: u8) -> f32 {
    decode_srgb(f32::from(value) / 255.0)
}

/// Base (0.5, 0.2, 0.1), dielectric, roughness 0.1, facing the camera, in unit white light from everywhere:
/// within 0.005 of what is stored, as the tone mapping's authors promise (Khronos PBR Neutral).
#[test]
fn base_colour_comes_back_true() {
    let mut stage = Stage::with_mesh(4, quads(&[(square(0.0), 0)]));
    let base = [0.5, 0.2, 0.1].map(|v| (encode_srgb(v) * 255.0).round() as u8);
    stage.put_material(MaterialSlot(0), base, [26, 0]);
    let drawn = stage.model(&facing(Shown::Lit, 32));
    // Rounding is scattered, so what is seen is the average.
    let middle = || (8..24).flat_map(|y| (8..24).map(move |x| (x, y)));
    for (channel, stored) in base.iter().enumerate() {
        let seen = middle().map(|(x, y)| linear(drawn.texel(x, y)[channel])).sum::<f32>() / 256.0;
        assert!((seen - linear(*stored)).abs() < 0.005, "{stored} comes back as {seen}");
    }
}
