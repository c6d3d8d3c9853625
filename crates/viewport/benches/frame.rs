//! A frame of the model view over picture size, triangles, texture size, and bringing up a brush's tiles.
//!
//! Run by `cargo bench -p viewport --bench frame`; `--quick` leaves out what takes long where the processor
//! draws. The program needs no file: copy it to a machine with a graphics card and run it there. Each figure
//! stands on a line of its own: `@`, name, value, unit, parted by tabs.

#[path = "../../surface/benches/mesh/grid.rs"]
mod grid;

use std::error::Error;
use std::f64::consts::TAU;
use std::sync::Arc;
use std::time::Instant;

use glam::{DVec2, DVec3};
use raster::{TILE_TEXELS, TextureSize, TileAt, Unobserved};
use surface::{MaterialSlot, Mesh, MeshData, Part, PartId, Surface};
use viewport::navigation::{first_look, orbit};
use viewport::{
    Gpu, Lighting, MeshBuffers, ModelView, Renderer, Scene, Shown, Target, TextureKind, TilePixels,
};

type Done = Result<(), Box<dyn Error>>;

const MATERIALS: u32 = 4;

/// What is measured.
#[derive(Debug, Clone, Copy)]
struct Setting {
    size: [u32; 2],
    triangles: u32,
    texture: u32,
}

const FULL: Setting = Setting { size: [3840, 2160], triangles: 2_000_000, texture: 4096 };
const SMALL: Setting = Setting { size: [1280, 800], triangles: 60_000, texture: 1024 };

fn main() -> Done {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let gpu = Gpu::headless()?;
    println!("{gpu}, {} samples a pixel", gpu.samples());
    // What a graphics card does in a blink takes the processor minutes.
    let small = quick || gpu.is_cpu();
    let whole = if small { SMALL } else { FULL };
    let frames = if small { 12 } else { 240 };
    measure(&gpu, "frame", whole, frames)?;
    over_sizes(&gpu, whole, frames, small)?;
    over_triangles(&gpu, whole, frames, small)?;
    over_textures(&gpu, whole, frames, small)?;
    tiles(&gpu, if small { 1024 } else { 4096 }, if quick { 20 } else { 100 })
}

fn figure(name: &str, value: f64, unit: &str) {
    println!("@\t{name}\t{value:.3}\t{unit}");
}

/// Frames of an orbit, then with the light turned too, so that shadows are drawn anew.
fn measure(gpu: &Gpu, name: &str, setting: Setting, frames: u32) -> Done {
    let mut stage = Stage::new(gpu, setting)?;
    stage.frames(gpu, 3, false)?;
    let still = stage.frames(gpu, frames, false)?;
    figure(&format!("{name}, p50"), percentile(&still, 50), "ms");
    figure(&format!("{name}, p95"), percentile(&still, 95), "ms");
    // What of it is the adapter's own: the same triangles with one texture, and without a shadow.
    stage.view.shown = Shown::Colour;
    let channel = stage.frames(gpu, frames, false)?;
    figure(&format!("{name}, one channel, p50"), percentile(&channel, 50), "ms");
    stage.view.shown = Shown::Lit;
    stage.view.lighting.key.strength = 0.0;
    let unshadowed = stage.frames(gpu, frames, false)?;
    figure(&format!("{name}, no key light, p50"), percentile(&unshadowed, 50), "ms");
    stage.view.lighting = Lighting::WORKING;
    let turned = stage.frames(gpu, frames, true)?;
    figure(&format!("{name} with the light turned, p50"), percentile(&turned, 50), "ms");
    figure(
        &format!("{name}, memory on the adapter"),
        stage.scene.bytes() as f64 / f64::from(1 << 20),
        "MiB",
    );
    Ok(())
}

fn median(gpu: &Gpu, setting: Setting, frames: u32) -> Result<f64, Box<dyn Error>> {
    let mut stage = Stage::new(gpu, setting)?;
    stage.frames(gpu, 3, false)?;
    Ok(percentile(&stage.frames(gpu, frames, false)?, 50))
}

fn over_sizes(gpu: &Gpu, setting: Setting, frames: u32, small: bool) -> Done {
    let sizes: &[[u32; 2]] = if small {
        &[[640, 400], [1280, 800]]
    } else {
        &[[1280, 800], [1920, 1080], [2560, 1440], [3840, 2160]]
    };
    for &size in sizes {
        let time = median(gpu, Setting { size, ..setting }, frames)?;
        figure(&format!("curve frame over size/{} x {}", size[0], size[1]), time, "ms");
    }
    Ok(())
}

fn over_triangles(gpu: &Gpu, setting: Setting, frames: u32, small: bool) -> Done {
    let counts: &[u32] =
        if small { &[20_000, 60_000, 200_000] } else { &[100_000, 500_000, 2_000_000, 5_000_000] };
    for &triangles in counts {
        let time = median(gpu, Setting { triangles, ..setting }, frames)?;
        figure(&format!("curve frame over triangles/{}k", triangles / 1000), time, "ms");
    }
    Ok(())
}

fn over_textures(gpu: &Gpu, setting: Setting, frames: u32, small: bool) -> Done {
    let edges: &[u32] = if small { &[512, 1024, 2048] } else { &[1024, 2048, 4096, 8192] };
    for &texture in edges {
        let time = median(gpu, Setting { texture, ..setting }, frames)?;
        figure(&format!("curve frame over texture size/{texture}"), time, "ms");
    }
    Ok(())
}

/// The tiles under a brush of 250 texels radius at 4096: all three channels of 8 x 8 tiles.
fn tiles(gpu: &Gpu, texture: u32, rounds: u32) -> Done {
    let mut scene = Scene::new(gpu);
    let size = TextureSize::new(texture)?;
    scene.set_material(gpu, MaterialSlot(0), size);
    let (mut made, mut sent, mut arrived) = (Vec::new(), Vec::new(), Vec::new());
    let mut bytes = 0;
    for round in 0..rounds {
        let start = Instant::now();
        let places = (0..64).map(|n| TileAt { x: n % 8 + round % 7, y: n / 8 + round % 5 });
        let tiles: Vec<TilePixels> = places.map(|at| tile(at, round)).collect();
        made.push(milliseconds(start));
        let start = Instant::now();
        bytes = scene.upload_tiles(gpu, MaterialSlot(0), &tiles);
        sent.push(milliseconds(start));
        gpu.queue().submit([]);
        gpu.wait()?;
        arrived.push(milliseconds(start));
    }
    figure("64 tiles, levels made, one thread", percentile(&made, 50), "ms");
    figure("64 tiles, sent, p50", percentile(&sent, 50), "ms");
    figure("64 tiles, sent, p99", percentile(&sent, 99), "ms");
    figure("64 tiles, arrived, p50", percentile(&arrived, 50), "ms");
    figure("64 tiles, bytes", bytes as f64 / 1024.0, "KiB");
    Ok(())
}

fn tile(at: TileAt, seed: u32) -> TilePixels {
    let value = |index: usize| {
        let mixed = (index as u32 ^ at.x << 13 ^ at.y << 19).wrapping_add(seed);
        (mixed.wrapping_mul(2_654_435_761) >> 26) as u8 + 96
    };
    let rgba: [u8; 4 * TILE_TEXELS] = std::array::from_fn(value);
    let scalar: [u8; TILE_TEXELS] = std::array::from_fn(value);
    TilePixels::new(at)
        .with_base_colour(&rgba)
        .with_scalar(TextureKind::Roughness, &scalar)
        .with_scalar(TextureKind::Metalness, &scalar.map(|v| if v > 140 { 255 } else { 0 }))
}

fn milliseconds(start: Instant) -> f64 {
    start.elapsed().as_secs_f64() * 1000.0
}

fn percentile(times: &[f64], percent: usize) -> f64 {
    let mut sorted = times.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[(sorted.len() - 1) * percent / 100]
}

/// Four lumpy balls that fill the picture, each of its own material.
struct Stage {
    scene: Scene,
    renderer: Renderer,
    target: Target,
    view: ModelView,
    turn: f64,
}

impl Stage {
    fn new(gpu: &Gpu, setting: Setting) -> Result<Self, Box<dyn Error>> {
        let surface = Surface::prepare(Arc::new(balls(setting.triangles)?), &Unobserved)?;
        let (low, high) = surface.mesh().bounds();
        let mut scene = Scene::new(gpu);
        scene.set_mesh(gpu, &MeshBuffers::build(&surface, &Unobserved)?)?;
        let size = TextureSize::new(setting.texture)?;
        for material in (0..MATERIALS).map(MaterialSlot) {
            scene.set_material(gpu, material, size);
            let places: Vec<TileAt> = size.extent().tile_places().collect();
            for some in places.chunks(256) {
                let tiles: Vec<TilePixels> = some.iter().map(|&at| tile(at, material.0)).collect();
                scene.upload_tiles(gpu, material, &tiles);
                gpu.queue().submit([]);
                gpu.wait()?;
            }
        }
        let viewport_px = DVec2::from(setting.size.map(f64::from));
        let view = ModelView {
            camera: first_look(low.as_dvec3(), high.as_dvec3(), 0.5, viewport_px),
            mirrored: false,
            shown: Shown::Lit,
            wire: false,
            lighting: Lighting::WORKING,
            hidden_parts: Vec::new(),
            footprint: None,
            background: [0.27; 3],
        };
        let mut renderer = Renderer::new(gpu);
        renderer.prepare(gpu);
        Ok(Self { scene, renderer, target: Target::new(gpu, setting.size)?, view, turn: 0.0 })
    }

    fn frames(
        &mut self,
        gpu: &Gpu,
        count: u32,
        with_light: bool,
    ) -> Result<Vec<f64>, Box<dyn Error>> {
        let camera = self.view.camera;
        let mut times = Vec::new();
        for _ in 0..count {
            self.turn += 0.013;
            self.view.camera = orbit(&camera, camera.target, self.turn, 0.0);
            if with_light {
                self.view.lighting.key.azimuth_rad += 0.01;
            }
            let start = Instant::now();
            self.renderer.draw_model(gpu, &self.scene, &self.view, &mut self.target);
            gpu.wait()?;
            times.push(milliseconds(start));
        }
        self.view.camera = camera;
        if let Some(fault) = gpu.take_fault() {
            return Err(fault.into());
        }
        Ok(times)
    }
}

fn balls(triangles: u32) -> Result<Mesh, Box<dyn Error>> {
    let quads = (f64::from(triangles) / 2.0 / f64::from(MATERIALS)).sqrt() as u32;
    let mut all = MeshData { face_starts: vec![0], ..MeshData::default() };
    for ball in 0..MATERIALS {
        let middle = DVec3::new(f64::from(ball % 2) - 0.5, f64::from(ball / 2) - 0.5, 0.0) * 1.7;
        let made = grid::grid(quads, 4, 0.96, |x, y| {
            let (around, down) = (x * TAU, (y * 0.96 + 0.02) * TAU / 2.0);
            let lumps = 1.0 + 0.06 * (around * 7.0).sin() * (down * 9.0).sin();
            let out = DVec3::new(around.cos() * down.sin(), down.cos(), -around.sin() * down.sin());
            middle + out * lumps
        });
        append(&mut all, made, ball);
    }
    Ok(Mesh::new(all)?)
}

fn append(all: &mut MeshData, mut more: MeshData, ball: u32) {
    let (positions, uvs) = (all.positions.len() as u32, all.uvs.len() as u32);
    let corners = all.corners.len() as u32;
    all.positions.append(&mut more.positions);
    all.uvs.append(&mut more.uvs);
    all.corners.extend(more.corners.into_iter().map(|mut corner| {
        corner.position += positions;
        corner.uv += uvs;
        corner
    }));
    all.face_starts.extend(more.face_starts.iter().skip(1).map(|start| start + corners));
    all.face_parts.extend(more.face_parts.iter().map(|_| PartId(ball)));
    all.face_materials.extend(more.face_materials.iter().map(|_| MaterialSlot(ball)));
    all.parts.push(Part { name: format!("ball {ball}"), axis: glam::Vec3::Y });
    all.material_names.push(format!("material {ball}"));
}
