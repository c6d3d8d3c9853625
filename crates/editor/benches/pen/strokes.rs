//! Strokes over the plate, and how long each frame of them takes from sample to display texels.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

use brush::{
    BrushSettings, BrushSize, Camera, LeftOut, PenSample, Projection, Smoothing, StrokeKind,
    StrokeStart, StrokeView,
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
        kind: StrokeKind::Deposit,
        brush: BrushSettings { hardness: 0.3, flow: 0.5, ..BrushSettings::default() },
        seed: 1,
        left_out: LeftOut::default(),
        symmetry: None,
        stencil: None,
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
    PenSample::mouse(position_px, number as f64 / 240.0)
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

/// What the frames of a stroke took, in milliseconds each.
#[derive(Debug, Default)]
pub(crate) struct Frames {
    /// From the sample to display texels.
    pub(crate) whole: Vec<f64>,
    /// Of that: the sample's way onto the surface.
    pub(crate) taken: Vec<f64>,
    /// Of that: dabs stamped, and painted into the document that is shown.
    pub(crate) painted: Vec<f64>,
    /// Of that: composited and written out.
    pub(crate) shown: Vec<f64>,
}

/// Draws dabs of `radius` along spirals over the plate, a dab's spacing a frame. The first frame of each
/// stroke, which prepares more, is among them. `ready` says that the layer was chosen long enough ago for
/// what lies around it to be composited.
pub(crate) fn frames(
    editor: &mut Editor,
    layer: LayerId,
    radius: f64,
    count: usize,
    ready: bool,
) -> Result<Frames, EditorError> {
    display(editor)?;
    if ready {
        editor.make_ready(MATERIAL, layer, TileAt { x: 0, y: 0 })?;
        editor.wait_until_ready(MATERIAL)?;
    }
    let mut frames = Frames::default();
    while frames.whole.len() < count {
        editor.begin_stroke(&target(layer, 50_000), &start(radius), &Unobserved)?;
        let (mut out, mut turn) = (0.38_f64, 0.0_f64);
        while out > 0.05 && frames.whole.len() < count {
            let at = DVec2::new(0.5 + out * turn.cos(), 0.5 + out * turn.sin()) * VIEW_PX;
            let step = 0.2 * radius / out;
            (out, turn) = (out - step * 0.12 / std::f64::consts::TAU, turn + step);
            frames.draw(editor, sample(at, frames.whole.len()))?;
        }
        editor.cancel_stroke();
        display(editor)?;
    }
    Ok(frames)
}

impl Frames {
    fn draw(&mut self, editor: &mut Editor, sample: PenSample) -> Result<(), EditorError> {
        let milliseconds = |since: Instant| since.elapsed().as_secs_f64() * 1e3;
        let (started, mut since) = (Instant::now(), Instant::now());
        editor.extend_stroke(&[sample])?;
        self.taken.push(milliseconds(since));
        since = Instant::now();
        editor.stroke_frame()?;
        self.painted.push(milliseconds(since));
        since = Instant::now();
        display(editor)?;
        self.shown.push(milliseconds(since));
        self.whole.push(milliseconds(started));
        Ok(())
    }

    /// Prints the median and the 99th of a hundred.
    pub(crate) fn print(&self, name: &str) {
        for (share, called) in [(0.5, "p50"), (0.99, "p99")] {
            println!("@\t{name}, {called}\t{:.3}\tms", percentile(&self.whole, share));
            let parts = [&self.taken, &self.painted, &self.shown];
            let [taken, painted, shown] = parts.map(|part| percentile(part, share));
            println!("    sample {taken:.3}, paint {painted:.3}, display {shown:.3}");
        }
    }
}

/// The value that a share of all values, 0 to 1, do not exceed.
pub(crate) fn percentile(times: &[f64], share: f64) -> f64 {
    let mut sorted = times.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = (share * (sorted.len() - 1) as f64).round() as usize;
    sorted.get(place).copied().unwrap_or(f64::NAN)
}
