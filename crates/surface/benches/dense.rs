//! How long the derived structures of a dense model take, at a texture of 4096.
//!
//! `cargo bench -p surface -- [--quick] [--triangles NUMBER]`; 500,000 triangles unless told. Each figure
//! is the best of a few tries, on as many threads as there are unless it says otherwise. Prints a line
//! for each: `@`, name, value and unit, with tabs between.

#[path = "mesh/grid.rs"]
mod grid;

use std::error::Error;
use std::f64::consts::TAU;
use std::sync::Arc;
use std::time::Instant;

use glam::DVec3;
use raster::{TextureSize, Unobserved};
use surface::{
    DecodedTile, MaterialSlot, Mesh, MeshData, Ray, Sight, Surface, Sweep, TexelBlock, TexelMap,
    TriangleId, UvReport,
};

use crate::grid::grid;

/// A torus with ripples.
fn torus(triangles: u32) -> MeshData {
    let quads = f64::from(triangles / 2).sqrt() as u32;
    grid(quads, 8, 0.85, |u, v| {
        let (around, across) = (u.fract() * TAU, v.fract() * TAU);
        let thickness = 0.4 + 0.01 * (40.0 * across).sin() * (60.0 * around).cos();
        let out = 1.0 + thickness * across.cos();
        DVec3::new(out * around.cos(), thickness * across.sin(), out * around.sin())
    })
}

/// What was asked for on the command line.
struct Asked {
    quick: bool,
    triangles: u32,
}

impl Asked {
    fn read() -> Result<Self, Box<dyn Error>> {
        let mut asked = Self { quick: false, triangles: 500_000 };
        let mut words = std::env::args().skip(1);
        while let Some(word) = words.next() {
            match word.as_str() {
                "--quick" => asked.quick = true,
                "--triangles" => {
                    asked.triangles = words.next().ok_or("how many triangles?")?.parse()?;
                }
                // cargo says so.
                "--bench" => {}
                _ => return Err(format!("{word}: not known; --quick, --triangles NUMBER").into()),
            }
        }
        Ok(asked)
    }

    /// Times the work, the best of so many tries as fit, and prints a line.
    fn time<T>(&self, what: &str, mut work: impl FnMut() -> T) -> T {
        let tries = if self.quick { 2 } else { 5 };
        let mut best = f64::INFINITY;
        let mut result = None;
        for _ in 0..tries {
            // Freed first: two at once would take twice the memory.
            drop(result.take());
            let start = Instant::now();
            result = Some(work());
            best = best.min(start.elapsed().as_secs_f64());
        }
        print(&format!("{what}, {} triangles", self.count()), &format!("{best:.3}"), "s");
        result.unwrap_or_else(&mut work)
    }

    fn count(&self) -> String {
        match self.triangles {
            count if count >= 1_000_000 => format!("{}M", count / 1_000_000),
            count => format!("{}k", count / 1000),
        }
    }
}

fn print(name: &str, value: &str, unit: &str) {
    println!("@\t{name}\t{value}\t{unit}");
}

/// The most memory that the process has held, where the system says so.
fn print_peak() {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    if let Some(Ok(kib)) = line.map(|line| line.trim_end_matches("kB").trim().parse::<u64>()) {
        print("peak memory so far", &(kib >> 10).to_string(), "MiB");
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let asked = Asked::read()?;
    let mesh = Arc::new(Mesh::new(torus(asked.triangles))?);
    let size = TextureSize::new(4096)?;
    print_peak();
    let surface = asked.time("prepare", || Surface::prepare(Arc::clone(&mesh), &Unobserved))?;
    print_peak();
    print("derived structures", &(surface.bytes() >> 20).to_string(), "MiB");
    let build = || TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved);
    let map = asked.time("texel map, 4096", build)?;
    print("texel map, 4096", &(map.bytes() >> 20).to_string(), "MiB");
    drop(map);
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build()?;
    let map = asked.time("texel map, 4096, one thread", || one.install(build))?;
    if !asked.quick {
        reads(&asked, &surface, &map)?;
    }
    print_peak();
    Ok(())
}

/// Of all blocks that face an eye outside, how many are free of doubt, and what asking takes.
fn sight(surface: &Surface, map: &TexelMap) {
    let eye = DVec3::new(2.5, 2.0, 1.5);
    let mut tiles = Vec::new();
    for at in map.tiles().step_by(7) {
        let mut tile = DecodedTile::default();
        map.decode(surface, at, &mut tile);
        tiles.push(tile);
    }
    let lit = |tile: &DecodedTile, block: &TexelBlock| {
        let towards = (eye - tile.origin - block.centre.as_dvec3()).as_vec3().normalize_or_zero();
        // The ripples turn normals by up to 35 degrees.
        block.facing.dot(towards) > 0.5
    };
    let (mut asked, mut free) = (0u32, 0u32);
    let start = Instant::now();
    for tile in &tiles {
        for block in tile.blocks.iter().filter(|block| lit(tile, block)) {
            let centre = tile.origin + block.centre.as_dvec3();
            let sweep = Sweep { centre, radius: block.radius.into(), sight: Sight::Eye(eye) };
            let ground = block.frame.iter().map(|&frame| tile.frames[frame as usize].triangle);
            asked += 1;
            free += u32::from(!surface.may_be_blocked(&sweep, 1.0, &ground));
        }
    }
    let each = start.elapsed().as_secs_f64() / f64::from(asked.max(1));
    println!("{free} of {asked} lit blocks are free of doubt: {:.2} us each", each * 1e6);
    let (mut asked, mut free) = (0u32, 0u32);
    let start = Instant::now();
    for (at, tile) in map.tiles().step_by(7).zip(&tiles) {
        let Some(bounds) = map.bounds(at) else { continue };
        if !tile.blocks.iter().all(|block| lit(tile, block)) {
            continue;
        }
        let centre = bounds.centre();
        let radius = bounds.low.distance(bounds.high) / 2.0;
        let sweep = Sweep { centre, radius, sight: Sight::Eye(eye) };
        let ground = tile.frames.iter().map(|frame| frame.triangle);
        asked += 1;
        free += u32::from(!surface.may_be_blocked(&sweep, 1.0, &ground));
    }
    let each = start.elapsed().as_secs_f64() / f64::from(asked.max(1));
    println!("{free} of {asked} lit tiles are free of doubt: {:.2} us each", each * 1e6);
    let (mut rays, mut blocked) = (0u32, 0u32);
    let start = Instant::now();
    for tile in &tiles {
        for block in tile.blocks.iter().filter(|block| lit(tile, block)) {
            let triangle = tile.frames[block.frame[0] as usize].triangle;
            let point = tile.origin + block.offset_of(0).as_dvec3();
            let (away, lift) = ((eye - point).normalize_or_zero(), 1e-5);
            rays += 1;
            blocked += u32::from(surface.is_blocked(point + away * lift, away, 9.0, triangle));
        }
    }
    let each = start.elapsed().as_secs_f64() / f64::from(rays.max(1));
    println!("{blocked} of {rays} rays are blocked: {:.2} us each", each * 1e6);
}

/// What is asked of the surface and the map once they are there.
fn reads(asked: &Asked, surface: &Surface, map: &TexelMap) -> Result<(), Box<dyn Error>> {
    let count = surface.triangle_count() as u32;
    let mut tile = DecodedTile::default();
    asked.time("decode every tile", || {
        let tiles = map.tiles().map(|at| {
            map.decode(surface, at, &mut tile);
            tile.blocks.iter().map(|block| block.shown.count_ones()).sum::<u32>()
        });
        tiles.sum::<u32>()
    });
    sight(surface, map);
    asked.time("UV report", || UvReport::of(surface, map.size(), &Unobserved))?;
    asked.time("a million rays", || {
        let hits = (0..1_000_000u32).filter(|&k| {
            let (x, y) = (f64::from(k % 1000) / 500.0 - 1.0, f64::from(k / 1000) / 500.0 - 1.0);
            let ray = Ray { origin: DVec3::new(x, 3.0, y), direction: DVec3::NEG_Y };
            surface.raycast(&ray).is_some()
        });
        hits.count()
    });
    asked.time("100,000 nearest points, a hundredth off the surface", || {
        let found = (0..100_000u32).filter_map(|k| {
            let triangle = TriangleId(k * 5 % count);
            let normal = surface.geometric_normal(triangle);
            surface.nearest(surface.position(triangle, [0.2, 0.3, 0.5]) + normal * 0.01)
        });
        found.count()
    });
    let mut found = Vec::new();
    asked.time("10,000 balls of a twentieth", || {
        let sizes = (0..10_000u32).map(|k| {
            let centre = surface.position(TriangleId(k * 50 % count), [0.2, 0.3, 0.5]);
            surface.triangles_in_ball(centre, 0.05, &mut found);
            found.len()
        });
        sizes.sum::<usize>()
    });
    let mut connected = surface.connected();
    asked.time("1,000 floods in a ball of three tenths", || {
        let reached = (0..1_000_u32).map(|k| {
            let seed = TriangleId(k * 500 % count);
            let centre = surface.position(seed, [0.2, 0.3, 0.5]);
            surface.connect_in_ball(&[seed], centre, 0.3, &mut connected);
            u32::from(connected.contains(seed))
        });
        reached.sum::<u32>()
    });
    Ok(())
}
