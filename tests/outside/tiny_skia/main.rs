//! Times what the compositor is compared with in soft-light: tiny-skia on one thread, layers of 4096 x 4096.
//! `--quick` lays three layers of ten: their cost is the same, and each still comes from memory.
//!
//! The work differs: 8-bit premultiplied RGBA, layer by layer through memory. It is built for the processor
//! at hand, as tiny-skia chooses its vectors when it is built.

use std::error::Error;
use std::time::Instant;

use tiny_skia::{
    BlendMode, Color, FilterQuality, Pixmap, PixmapPaint, PremultipliedColorU8, Transform,
};

const EDGE: u32 = 4096;
const RUNS: usize = 3;

/// Random texels whose coverage varies from nothing to full.
fn random_layer(seed: u32) -> Option<Pixmap> {
    let mut state = seed;
    let mut next = || {
        // xorshift (Marsaglia 2003, "Xorshift RNGs", section 3).
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        state
    };
    let mut layer = Pixmap::new(EDGE, EDGE)?;
    for texel in layer.pixels_mut() {
        let [red, green, blue, coverage] = next().to_le_bytes();
        let times = |value: u8| (u32::from(value) * u32::from(coverage) / 255) as u8;
        *texel = PremultipliedColorU8::from_rgba(times(red), times(green), times(blue), coverage)?;
    }
    Some(layer)
}

fn main() -> Result<(), Box<dyn Error>> {
    let count = if std::env::args().any(|argument| argument == "--quick") { 3 } else { 10 };
    let layers: Option<Vec<Pixmap>> = (1..=count).map(random_layer).collect();
    let layers = layers.ok_or("no memory for the layers")?;
    let mut backdrop = Pixmap::new(EDGE, EDGE).ok_or("no memory for the backdrop")?;
    let mut laid = |blend_mode: BlendMode| {
        backdrop.fill(Color::from_rgba8(120, 130, 140, 255));
        let paint = PixmapPaint { opacity: 1.0, blend_mode, quality: FilterQuality::Nearest };
        let started = Instant::now();
        for layer in &layers {
            backdrop.draw_pixmap(0, 0, layer.as_ref(), &paint, Transform::identity(), None);
        }
        started.elapsed().as_secs_f64()
    };
    println!("tiny-skia, one thread, {count} layers of {EDGE} x {EDGE}, drawn as pixmaps");
    for (name, blend_mode) in
        [("over", BlendMode::SourceOver), ("soft-light", BlendMode::SoftLight)]
    {
        let best = (0..RUNS).map(|_| laid(blend_mode)).fold(f64::INFINITY, f64::min);
        let rate = f64::from(count * EDGE * EDGE) / best / 1e6;
        println!("@\ttiny-skia {name}\t{rate:.6}\tMpx-layers/s");
    }
    Ok(())
}
