//! From the pointer's sample to the submitted frame: what the whole window spends on it, with a texture of
//! 4096 x 4096, a stack of 10 layers, and 500,000 triangles. Nothing is drawn, as the processor's drawing would weigh on
//! all else; `--draw` draws, for a machine with a graphics card.
//!
//! Run by `cargo bench -p app --bench hand`; `--quick` takes fewer frames. Each figure stands on a line of its own:
//! `@`, name, value, unit, parted by tabs.

#[path = "../../surface/benches/mesh/grid.rs"]
mod grid;
#[path = "../../editor/benches/pen/scene.rs"]
#[expect(dead_code, reason = "another bench has use for all of it")]
mod scene;

use std::error::Error;
use std::sync::Arc;

use app::{Spent, Unseen};
use document::Model;
use editor::Settings;
use layers::BlendMode;
use raster::TextureSize;
use viewport::Gpu;

use crate::scene::{Scene, plate};

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// The window, in pixels.
const SIZE: [u32; 2] = [1920, 1080];

const MODES: &[BlendMode] = &[
    BlendMode::Normal,
    BlendMode::Multiply,
    BlendMode::Overlay,
    BlendMode::Screen,
    BlendMode::Normal,
];

fn main() -> Result<(), Box<dyn Error>> {
    let is_told = |switch: &str| std::env::args().any(|argument| argument == switch);
    let (quick, draws) = (is_told("--quick"), is_told("--draw"));
    let model = Arc::new(Model::new(Arc::new(plate(500_000)?), Vec::new()));
    let size = TextureSize::new(4096)?;
    let scene = Scene { model, size, below: 4, above: 5, modes: MODES, tiles: 256 };
    let gpu = if draws { Gpu::headless()? } else { Gpu::idle()? };
    let mut window = Unseen::open(scene.open(Settings::default())?, SIZE, gpu)?;
    window.choose_layer(scene.painted());
    println!("drawn by {}", window.adapter());
    let first = window.rest()?;
    println!("@\tfirst frame with everything\t{:.3}\tms", first.time.as_secs_f64() * 1e3);
    while window.is_busy() {
        window.rest()?;
    }
    for radius in if quick { &[32.0][..] } else { &[8.0, 32.0, 128.0] } {
        window.set_brush_radius(*radius);
        // Where no one painted yet, layers above and below are composited for the first time.
        for place in ["where no one painted yet", "there again"] {
            let name = format!("sample to submitted frame, radius {radius}, {place}");
            stroke(&mut window, &name, if quick { 120 } else { 600 })?;
        }
    }
    Ok(())
}

/// A stroke in loops, a sample a frame.
fn stroke(window: &mut Unseen, name: &str, count: u32) -> Result<(), Box<dyn Error>> {
    let middle = window.model_middle();
    let place = |step: u32| {
        let angle = step as f32 * 0.06;
        middle + egui::Vec2::angled(angle) * (40.0 + 20.0 * (angle * 0.37).sin())
    };
    window.hover(place(0))?;
    window.press(place(0), true)?;
    if !window.is_painting() {
        return Err("the pen met nothing to paint".into());
    }
    let frames: Vec<Spent> =
        (1..=count).map(|step| window.hover(place(step))).collect::<Result<_, _>>()?;
    let lifted = window.press(place(count), false)?;
    let mut times: Vec<f64> = frames.iter().map(|spent| spent.time.as_secs_f64() * 1e3).collect();
    times.sort_by(f64::total_cmp);
    for share in [50, 95, 99] {
        let at = (times.len() * share / 100).min(times.len() - 1);
        println!("@\t{name}, p{share}\t{:.3}\tms", times[at]);
    }
    println!("@\t{name}, pen up\t{:.3}\tms", lifted.time.as_secs_f64() * 1e3);
    let bytes: u64 = frames.iter().map(|spent| spent.uploaded_bytes).sum();
    println!("@\t{name}, uploaded a frame\t{:.1}\tKiB", bytes as f64 / 1024.0 / f64::from(count));
    Ok(())
}
