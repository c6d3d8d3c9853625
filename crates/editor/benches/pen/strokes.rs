//! Strokes over the plate, and how long each frame of them takes from sample to display texels.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

use brush::{
    BrushSettings, BrushSize, Camera, PenSample, Projection, Smoothing, StrokeStart, StrokeView,
};
use document::{Deposit, MaterialId};
use editor::{Editor, EditorError, StrokeTarget};
use glam::{DVec2, DVec3};
use layers::{ChannelId, DisplayTile, LayerId, Value};
use raster::{TILE_TEXELS, TileAt, Unobserved};

/// Pixels along the viewport's edge, which shows the whole plate.
pub(crate) const VIEW_PX: f64 = 2000.0;
const MATERIAL: MaterialId = MaterialId(0);

/// The plate seen from above.
fn camera() -> Camera {
    Camera {
        eye: DVec3::new(0.5, 2.0, 0.5),
        target: DVec3::new(0.5, 0.0, 0.5),
        up: DVec3::NEG_Z,
        projection: Projection::Orthographic { height: 1.0 },
        viewport_px: DVec2::splat(VIEW_PX),
    }
}

/// A soft brush of a radius in model units.
pub(crate) fn start(radius: f64) -> StrokeStart {
    StrokeStart {
        view: StrokeView::Model { camera: camera(), size: BrushSize::Object(radius) },
        smoothing: Smoothing::Off,
        brush: BrushSettings { hardness: 0.3, flow: 0.5, ..BrushSettings::default() },
        seed: 1,
    }
}

/// All three channels of a layer.
pub(crate) fn target(layer: LayerId, tone: u16) -> StrokeTarget {
    let values = BTreeMap::from([
        (ChannelId::BASE_COLOUR, Value::Colour([tone, 30_000, 9_000])),
        (ChannelId::ROUGHNESS, Value::Scalar(tone / 2)),
        (ChannelId::METALNESS, Value::Scalar(65_535 - tone)),
    ]);
    StrokeTarget { material: MATERIAL, layer, deposit: Deposit::Paint(values) }
}

pub(crate) fn sample(position_px: DVec2, number: usize) -> PenSample {
    PenSample {
        position_px,
        pressure: 1.0,
        tilt_rad: [0.0; 2],
        eraser: false,
        time_secs: number as f64 / 240.0,
    }
}

/// Composites what changed and writes it out as a view would upload it; gives how many tiles.
pub(crate) fn display(editor: &mut Editor) -> Result<usize, EditorError> {
    let seen = AtomicU64::new(0);
    let sink = |_: TileAt, tile: &DisplayTile| {
        let (mut rgba, mut grey) = ([0; 4 * TILE_TEXELS], [0; TILE_TEXELS]);
        let mut sum = 0;
        if tile.write_rgba(ChannelId::BASE_COLOUR, &mut rgba) {
            sum += u64::from(rgba[0]);
        }
        for channel in [ChannelId::ROUGHNESS, ChannelId::METALNESS] {
            if tile.write_r(channel, &mut grey) {
                sum += u64::from(grey[0]);
            }
        }
        seen.fetch_add(sum, Ordering::Relaxed);
    };
    let count = editor.display(MATERIAL, &sink)?;
    std::hint::black_box(seen.into_inner());
    Ok(count)
}

/// Draws a zigzag of dabs of `radius` over the plate, a dab's spacing a frame, and gives the milliseconds
/// that each frame took. The first frame of a stroke, which prepares more, is among them.
pub(crate) fn frames(
    editor: &mut Editor,
    layer: LayerId,
    radius: f64,
    frames: usize,
) -> Result<Vec<f64>, EditorError> {
    display(editor)?;
    editor.begin_stroke(&target(layer, 50_000), &start(radius), &Unobserved)?;
    let step_px = 0.2 * radius * VIEW_PX;
    let across_px = 0.8 * VIEW_PX;
    let mut times = Vec::with_capacity(frames);
    for frame in 0..frames {
        let gone = frame as f64 * step_px;
        let (line, along) = ((gone / across_px).floor(), gone % across_px);
        let x = if line % 2.0 == 0.0 { along } else { across_px - along };
        let y = (line * 0.13 * VIEW_PX) % across_px;
        let at = DVec2::new(x, y) + 0.1 * VIEW_PX;
        let started = Instant::now();
        editor.extend_stroke(&[sample(at, frame)])?;
        editor.stroke_frame()?;
        display(editor)?;
        times.push(started.elapsed().as_secs_f64() * 1e3);
    }
    editor.cancel_stroke();
    display(editor)?;
    Ok(times)
}

/// The value that a share of all values, 0 to 1, do not exceed.
pub(crate) fn percentile(times: &[f64], share: f64) -> f64 {
    let mut sorted = times.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = (share * (sorted.len() - 1) as f64).round() as usize;
    sorted.get(place).copied().unwrap_or(f64::NAN)
}
