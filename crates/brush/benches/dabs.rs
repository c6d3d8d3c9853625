//! How fast a stroke is while the pen is down. `cargo bench -p brush`; `-- --quick` leaves out what is large.
//!
//! Each figure is a line: `@`, name, value, unit, with tabs between. A brush is soft (hardness 0.5), builds up
//! gradually, flow 0.5, a dab every tenth of a diameter, seen by a camera. *Warm* is a stroke that goes over
//! tiles which it has touched before; *decoded* is one over tiles that an earlier stroke has touched: it is
//! found out what is seen of them; *first* is over tiles that are decoded too.

#[path = "../../surface/benches/mesh/grid.rs"]
mod grid;

use std::error::Error;
use std::f64::consts::TAU;
use std::sync::Arc;
use std::time::{Duration, Instant};

use brush::{
    BrushSettings, BrushSize, Camera, FlatCamera, LeftOut, LiveStroke, Pattern, PenSample,
    Projection, Relief, Smoothing, StrokeBuffers, StrokeKind, StrokeStart, StrokeView, Tooth,
};
use glam::{DVec2, DVec3};
use raster::{TextureSize, Unobserved};
use rayon::{ThreadPool, ThreadPoolBuilder};
use surface::{DecodedTiles, MaterialSlot, Mesh, Ray, Surface, TexelMap};

use crate::grid::grid;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// How much of its piece of the layout an island fills, across and down.
const FILLED: f64 = 0.96;

fn print(name: &str, value: f64, unit: &str) {
    println!("@\t{name}\t{value:.3}\t{unit}");
}

fn plane() -> Outcome<Arc<Mesh>> {
    Ok(Arc::new(Mesh::new(grid(8, 1, FILLED, |u, v| DVec3::new(u, 0.0, v)))?))
}

/// A torus with ripples of a hundredth of its size.
fn torus(triangles: u32) -> Outcome<Arc<Mesh>> {
    let quads = (f64::from(triangles) / 2.0).sqrt() as u32;
    let data = grid(quads, 4, FILLED, |u, v| {
        let (around, across) = (u.fract() * TAU, v.fract() * TAU);
        let thickness = 0.4 + 0.004 * (40.0 * across).sin() * (60.0 * around).cos();
        let out = 1.0 + thickness * across.cos();
        DVec3::new(out * around.cos(), thickness * across.sin(), out * around.sin())
    });
    Ok(Arc::new(Mesh::new(data)?))
}

/// A surface, its texels, and a place to paint, seen from above it.
struct Easel {
    tiles: Arc<DecodedTiles>,
    camera: Camera,
    /// The width of a texel where the camera looks.
    texel: f64,
    tooth: Option<Tooth>,
}

impl Easel {
    /// The camera looks at the topmost point above `(x, z)`, a pixel a texel.
    fn new(mesh: Arc<Mesh>, edge: u32, (x, z): (f64, f64)) -> Outcome<Self> {
        let surface = Arc::new(Surface::prepare(mesh, &Unobserved)?);
        let size = TextureSize::new(edge)?;
        let map = Arc::new(TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved)?);
        let ray = Ray { origin: DVec3::new(x, 100.0, z), direction: DVec3::NEG_Y };
        let hit = surface.raycast(&ray).ok_or("nothing to paint on")?;
        let target = surface.position(hit.triangle, hit.barycentric);
        let [a, b, c] = surface.positions_of(hit.triangle);
        let [s, t, u] = surface.uvs_of(hit.triangle).ok_or("no layout")?;
        let (on_surface, in_layout) = ((b - a).cross(c - a).length(), (t - s).perp_dot(u - s));
        let texel = (on_surface / in_layout.abs()).sqrt() / f64::from(edge);
        let camera = Camera {
            eye: target + DVec3::Y * 10.0,
            target,
            up: DVec3::NEG_Z,
            projection: Projection::Orthographic { height: 1000.0 * texel },
            viewport_px: DVec2::splat(1000.0),
        };
        let tiles = Arc::new(DecodedTiles::new(surface, map, 2 << 30));
        Ok(Self { tiles, camera, texel, tooth: None })
    }

    /// On the model, with a radius in texels.
    fn model(&self, radius: f64) -> StrokeView {
        StrokeView::Model { camera: self.camera, size: BrushSize::Object(radius * self.texel) }
    }

    /// On the flat texture, a pixel a texel.
    fn flat(&self, radius: f64) -> StrokeView {
        let uv_per_px = 1.0 / f64::from(self.tiles.map().size().edge());
        let top_left = DVec2::splat(0.5 - 500.0 * uv_per_px);
        let camera = FlatCamera { top_left, uv_per_px };
        StrokeView::Flat { camera, radius: radius * uv_per_px }
    }

    fn begin(&self, view: StrokeView, buffers: StrokeBuffers) -> Outcome<LiveStroke> {
        let tooth = self.tooth.clone();
        let brush = BrushSettings { hardness: 0.5, flow: 0.5, tooth, ..BrushSettings::default() };
        let start = StrokeStart {
            view,
            smoothing: Smoothing::Off,
            kind: StrokeKind::Deposit,
            brush,
            seed: 0,
            left_out: LeftOut::default(),
            symmetry: None,
            stencil: None,
        };
        Ok(LiveStroke::begin(&start, Arc::clone(&self.tiles), buffers)?)
    }
}

/// A hand that goes to and fro over 500 pixels, 10 pixels from sample to sample.
fn samples(from: usize, count: usize) -> Vec<PenSample> {
    let sample = |number: usize| {
        let along = number % 100;
        let x = 250.0 + 10.0 * if along < 50 { along } else { 100 - along } as f64;
        let position_px = DVec2::new(x, 480.0 + 0.5 * along as f64);
        PenSample::mouse(position_px, number as f64 / 133.0)
    };
    (from..from + count).map(sample).collect()
}

/// Dabs a second of a warm stroke, the path's own cost left out, and microseconds of that for each dab.
fn rate(easel: &Easel, view: StrokeView, per_frame: usize, frames: usize) -> Outcome<(f64, f64)> {
    let mut stroke = easel.begin(view, StrokeBuffers::default())?;
    stroke.extend(&samples(0, 200))?;
    stroke.changed()?;
    let (before, mut best) = (stroke.dabs(), f64::INFINITY);
    let mut path = Duration::ZERO;
    let mut dabs = before;
    for frame in 0..frames {
        let samples = samples(200 + frame * per_frame, per_frame);
        let start = Instant::now();
        stroke.extend(&samples)?;
        let middle = Instant::now();
        stroke.changed()?;
        let taken = middle.elapsed().as_secs_f64();
        path += middle - start;
        let new = stroke.dabs() - dabs;
        dabs += new;
        if new > 0 {
            best = best.min(taken / new as f64);
        }
    }
    Ok((1.0 / best, path.as_secs_f64() * 1e6 / (dabs - before) as f64))
}

fn rates(name: &str, easel: &Easel, flat: bool, pools: &[(u32, ThreadPool)]) -> Outcome<()> {
    for (radius, per_frame) in [(32.0, 40), (128.0, 40), (512.0, 60)] {
        let view = if flat { easel.flat(radius) } else { easel.model(radius) };
        for (threads, pool) in pools {
            let (rate, path) =
                pool.install(|| rate(easel, view, per_frame, 40).map_err(|e| e.to_string()))?;
            print(&format!("{name}, radius {radius}, {threads} threads, warm"), rate, "dabs/s");
            if *threads == 1 {
                print(&format!("{name}, radius {radius}, the path"), path, "us/dab");
            }
        }
    }
    Ok(())
}

/// Milliseconds of frames that each bring one dab of 250 texels radius: over tiles that are neither decoded
/// nor seen before, over decoded ones, and warm.
fn frames(easel: &mut Easel, count: usize) -> Outcome<[Vec<f64>; 3]> {
    let mut taken = [Vec::new(), Vec::new(), Vec::new()];
    let mut buffers = StrokeBuffers::default();
    while taken[2].len() < count {
        let (surface, map) = (Arc::clone(easel.tiles.surface()), Arc::clone(easel.tiles.map()));
        easel.tiles = Arc::new(DecodedTiles::new(surface, map, 2 << 30));
        for first in 0..2 {
            let mut stroke = easel.begin(easel.model(250.0), buffers)?;
            for frame in 0..30 {
                let samples = samples(frame * 5, 5);
                let start = Instant::now();
                stroke.extend(&samples)?;
                stroke.changed()?;
                let elapsed = start.elapsed().as_secs_f64() * 1e3;
                // After ten frames the hand turns.
                taken[if frame < 10 { first } else { 2 }].push(elapsed);
            }
            buffers = stroke.finish()?.buffers;
        }
    }
    for taken in &mut taken {
        taken.sort_by(f64::total_cmp);
    }
    Ok(taken)
}

fn frame(name: &str, mut easel: Easel, count: usize) -> Outcome<Easel> {
    let taken = frames(&mut easel, count)?;
    for (taken, which) in taken.iter().zip(["first", "decoded", "warm"]) {
        let at = |share: f64| taken[(taken.len() as f64 * share) as usize];
        print(&format!("{name}, one dab of 250, {which}, p50"), at(0.5), "ms");
        print(&format!("{name}, one dab of 250, {which}, p99"), at(0.99), "ms");
    }
    Ok(easel)
}

/// Frames with each tooth, its grain 8 texels, held against those without: a stroke over tiles that are decoded,
/// of which the tooth is worked out as they are touched, and a warm one.
fn teeth(easel: &mut Easel, count: usize) -> Outcome<()> {
    let mut plain = [0.0; 2];
    for pattern in std::iter::once(None).chain(Pattern::ALL.map(Some)) {
        let scale = (8.0 * easel.texel) as f32;
        let with = |pattern| Tooth { relief: Relief::Pattern(pattern), scale, ..Tooth::default() };
        easel.tooth = pattern.map(with);
        let [_, decoded, warm] = frames(easel, count)?;
        let name = pattern.map_or("no tooth".to_owned(), |pattern| format!("{pattern:?}"));
        for (index, (taken, which)) in [(decoded, "decoded"), (warm, "warm")].iter().enumerate() {
            let at = |share: f64| taken[(taken.len() as f64 * share) as usize];
            print(&format!("{name}, one dab of 250, {which}, p99"), at(0.99), "ms");
            if pattern.is_none() {
                plain[index] = at(0.5);
            } else {
                let ratio = at(0.5) / plain[index];
                print(&format!("{name}, one dab of 250, {which}, against none"), ratio, "x");
            }
        }
    }
    easel.tooth = None;
    Ok(())
}

fn main() -> Outcome<()> {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let pool = |threads| {
        let pool = ThreadPoolBuilder::new().num_threads(threads as usize).build();
        pool.map(|pool| (threads, pool))
    };
    let pools = [pool(1)?, pool(2)?];
    let count = if quick { 60 } else { 400 };
    let flat = Easel::new(plane()?, 4096, (0.5, 0.5))?;
    rates("plane 4096", &flat, false, &pools)?;
    rates("flat view 4096", &flat, true, &pools[..1])?;
    drop(frame("plane 4096", flat, count)?);
    let mut model = Easel::new(torus(500_000)?, 4096, (1.0, 0.0))?;
    teeth(&mut model, count)?;
    rates("torus of 500k, 4096", &model, false, &pools)?;
    drop(frame("torus of 500k, 4096", model, count)?);
    for edge in [1024, 2048, 8192] {
        if !(quick && edge == 8192) {
            frame(&format!("plane {edge}"), Easel::new(plane()?, edge, (0.5, 0.5))?, count)?;
        }
    }
    for triangles in [50_000, 5_000_000] {
        if !(quick && triangles > 1_000_000) {
            let easel = Easel::new(torus(triangles)?, 4096, (1.0, 0.0))?;
            frame(&format!("torus of {}k, 4096", triangles / 1000), easel, count)?;
        }
    }
    Ok(())
}
