//! How long the derived structures of a dense model take: 500,000 triangles, a texture of 4096.
//! Run by `cargo bench -p surface`; prints a line for each step.

use std::error::Error;
use std::f64::consts::TAU;
use std::sync::Arc;
use std::time::Instant;

use glam::{DVec2, DVec3, Vec3};
use raster::{TextureSize, Unobserved};
use surface::{
    Corner, DecodedTile, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId, Ray, Sight, Surface,
    Sweep, TexelBlock, TexelMap, TriangleId, UvReport,
};

/// A torus with ripples, cut into `islands` x `islands` pieces of the layout.
fn torus(quads: u32, islands: u32) -> MeshData {
    let mut data = MeshData { face_starts: vec![0], ..MeshData::default() };
    let place = |u: f64, v: f64| {
        let (around, across) = (u * TAU, v * TAU);
        let thickness = 0.4 + 0.01 * (40.0 * across).sin() * (60.0 * around).cos();
        let out = 1.0 + thickness * across.cos();
        DVec3::new(out * around.cos(), thickness * across.sin(), -out * around.sin())
    };
    let step = 1.0 / f64::from(quads);
    let pieces = f64::from(islands);
    for y in 0..quads {
        for x in 0..quads {
            let piece = DVec2::new(f64::from(x * islands / quads), f64::from(y * islands / quads));
            for (i, j) in [(0, 0), (1, 0), (1, 1), (0, 1)] {
                let at = DVec2::new(f64::from((x + i) % quads), f64::from((y + j) % quads)) * step;
                let uv = DVec2::new(f64::from(x + i), f64::from(y + j)) * step;
                // Shrunk towards the piece's middle: a gap between all islands.
                let middle = (piece + 0.5) / pieces;
                data.positions.push(place(at.x, at.y).as_vec3());
                data.uvs.push((middle + (uv - middle) * 0.85).as_vec2());
                let index = data.positions.len() as u32 - 1;
                data.corners.push(Corner { position: index, uv: index, normal: NO_INDEX });
            }
            data.face_starts.push(data.corners.len() as u32);
            data.face_parts.push(PartId(0));
            data.face_materials.push(MaterialSlot(0));
        }
    }
    data.parts.push(Part { name: "torus".to_owned(), axis: Vec3::Y });
    data.material_names.push("bronze".to_owned());
    data
}

fn timed<T>(what: &str, work: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let result = work();
    println!("{what}: {:.3} s", start.elapsed().as_secs_f64());
    result
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

fn main() -> Result<(), Box<dyn Error>> {
    let mesh = Arc::new(Mesh::new(torus(500, 8))?);
    let size = TextureSize::new(4096)?;
    let surface = timed("prepare", || Surface::prepare(Arc::clone(&mesh), &Unobserved))?;
    println!("{} triangles, {} MB", surface.triangle_count(), surface.bytes() >> 20);
    let map = timed("texel map", || TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved))?;
    println!("{} tiles, {} MB", map.tiles().count(), map.bytes() >> 20);
    for _ in 0..3 {
        timed("decode every tile", || {
            let mut tile = DecodedTile::default();
            map.tiles()
                .map(|at| {
                    map.decode(&surface, at, &mut tile);
                    tile.blocks.iter().map(|block| block.shown.count_ones()).sum::<u32>()
                })
                .sum::<u32>()
        });
    }
    sight(&surface, &map);
    timed("UV report", || UvReport::of(&surface, size, &Unobserved))?;
    timed("a million rays", || {
        (0..1_000_000u32)
            .filter(|&k| {
                let (x, y) = (f64::from(k % 1000) / 500.0 - 1.0, f64::from(k / 1000) / 500.0 - 1.0);
                let ray = Ray { origin: DVec3::new(x, 3.0, y), direction: DVec3::NEG_Y };
                surface.raycast(&ray).is_some()
            })
            .count()
    });
    timed("100,000 nearest points, a hundredth off the surface", || {
        (0..100_000u32)
            .filter_map(|k| {
                let triangle = TriangleId(k * 5);
                let normal = surface.geometric_normal(triangle);
                surface.nearest(surface.position(triangle, [0.2, 0.3, 0.5]) + normal * 0.01)
            })
            .count()
    });
    timed("10,000 balls of a twentieth", || {
        let mut found = Vec::new();
        (0..10_000u32)
            .map(|k| {
                let centre = surface.position(TriangleId(k * 50), [0.2, 0.3, 0.5]);
                surface.triangles_in_ball(centre, 0.05, &mut found);
                found.len()
            })
            .sum::<usize>()
    });
    let mut connected = surface.connected();
    timed("1,000 floods in a ball of three tenths", || {
        (0..1_000u32)
            .map(|k| {
                let seed = TriangleId(k * 500);
                let centre = surface.position(seed, [0.2, 0.3, 0.5]);
                surface.connect_in_ball(&[seed], centre, 0.3, &mut connected);
                u32::from(connected.contains(seed))
            })
            .sum::<u32>()
    });
    Ok(())
}
