//! How much a stroke covers: its dabs, built up over the texel map.
//!
//! Each tile is worked on alone, its dabs in order, so the result does not depend on threads. Coverage
//! builds up in `f32` (16 bits would stall at low flow) and is rounded once, when the stroke is done.

use glam::{DVec3, Vec2, Vec3};
use raster::{Extent, Observer, PageError, TILE_TEXELS, Texels, Tile, TileAt};
use rayon::prelude::*;
use surface::{Bounds, DecodedTile, Surface, SurfaceTexel, TexelFrame, TexelMap, TriangleId};

use crate::dab::{Dab, Touch, dabs};
use crate::falloff::{dab_reach, dab_weight, facing_weight};
use crate::texture_coverage::texture_coverage;
use crate::{BrushError, BrushSettings, BuildUp, Path, Reach, Stroke, SurfacePath};

/// What a stroke or a fill covers: 0..1 for each texel, its opacity included. Tiles that are not listed
/// are not covered.
#[derive(Debug, Clone)]
pub struct Coverage {
    /// The plane's size.
    pub extent: Extent,
    /// Covered tiles, row by row.
    pub tiles: Vec<(TileAt, Tile)>,
}

impl Coverage {
    /// The covered share of a texel, as stored.
    ///
    /// # Errors
    /// [`PageError`] when a tile can't be read.
    pub fn texel(&self, x: u32, y: u32) -> Result<u16, PageError> {
        let at = TileAt::of_texel(x, y);
        match self.tiles.binary_search_by_key(&(at.y, at.x), |(at, _)| (at.y, at.x)) {
            Ok(found) => Ok(self.tiles[found].1.read()?.at(raster::texel_index(x, y))),
            Err(_) => Ok(0),
        }
    }
}

/// What a stroke covers on the material of a texel map.
///
/// # Errors
/// [`BrushError`] for a stroke that is not valid, too many dabs, or when the observer stops it.
pub fn stroke_coverage(
    stroke: &Stroke,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    stroke.check(surface.triangle_count())?;
    match &stroke.path {
        Path::Surface(path) => surface_coverage(path, &stroke.brush, surface, map, observer),
        Path::Texture(runs) => texture_coverage(runs, &stroke.brush, surface, map, observer),
    }
}

fn surface_coverage(
    path: &SurfacePath,
    brush: &BrushSettings,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    let dabs = dabs(path, brush, surface, map)?;
    let work =
        Work { dabs: &dabs, connected: connected(&dabs, brush, surface), path, brush, surface };
    let touched: Vec<(TileAt, Vec<u32>)> = map
        .tiles()
        .filter_map(|at| {
            let bounds = map.bounds(at)?;
            let near: Vec<u32> = (0u32..)
                .zip(&dabs)
                .filter(|(_, dab)| touches(&bounds, dab))
                .map(|(number, _)| number)
                .collect();
            (!near.is_empty()).then_some((at, near))
        })
        .collect();
    covered_tiles(map, surface, &touched, brush.opacity, observer, |near, buffers| {
        for &number in near {
            work.stamp(number as usize, buffers);
        }
    })
}

/// The box may lack a little of what its outermost texels stand for: a tenth of its size is allowed.
fn touches(bounds: &Bounds, dab: &Dab) -> bool {
    let reach = dab.touch.radius + 0.1 * bounds.low.distance(bounds.high);
    bounds.distance_squared(dab.centre) <= reach * reach
}

/// Covers each touched tile with `stamp`, in parallel, and rounds what built up.
pub(crate) fn covered_tiles<Near: Sync + Send>(
    map: &TexelMap,
    surface: &Surface,
    touched: &[(TileAt, Near)],
    opacity: f32,
    observer: &dyn Observer,
    stamp: impl Fn(&Near, &mut Buffers) + Sync,
) -> Result<Coverage, BrushError> {
    let tiles: Vec<(TileAt, Tile)> = touched
        .par_iter()
        .map_init(Buffers::default, |buffers, (at, near)| {
            observer.check()?;
            map.decode(surface, *at, &mut buffers.decoded);
            buffers.begin_tile();
            stamp(near, buffers);
            Ok((*at, buffers.rounded(opacity)))
        })
        .collect::<Result<_, BrushError>>()?;
    let tiles = tiles.into_iter().filter(|(_, tile)| !tile.same(&Tile::Uniform(0))).collect();
    Ok(Coverage { extent: map.size().extent(), tiles })
}

/// One worker's buffers, used again for each tile.
#[derive(Debug)]
pub(crate) struct Buffers {
    pub(crate) decoded: DecodedTile,
    built_up: Box<[f32; TILE_TEXELS]>,
    seen: Box<[Seen; TILE_TEXELS]>,
    reached: Vec<bool>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Seen {
    Unknown,
    Visible,
    Hidden,
}

impl Default for Buffers {
    fn default() -> Self {
        Self {
            decoded: DecodedTile::default(),
            built_up: Box::new([0.0; TILE_TEXELS]),
            seen: Box::new([Seen::Unknown; TILE_TEXELS]),
            reached: Vec::new(),
        }
    }
}

impl Buffers {
    /// Nothing is covered yet of the tile that was decoded.
    fn begin_tile(&mut self) {
        self.built_up.fill(0.0);
        self.seen.fill(Seen::Unknown);
    }

    /// Calls `visit` with the texels of every block that lies within `reach` of a UV, and perhaps others.
    pub(crate) fn near_uv(
        &mut self,
        uv: Vec2,
        reach: f32,
        mut visit: impl FnMut(&mut Self, SurfaceTexel),
    ) {
        let wide = Vec2::splat(reach * 1.0001);
        for place in 0..self.decoded.blocks.len() {
            let block = &self.decoded.blocks[place];
            if uv.cmpge(block.uv_low - wide).all() && uv.cmple(block.uv_high + wide).all() {
                for number in block.numbers() {
                    let texel = self.decoded.blocks[place].texel(number);
                    visit(self, texel);
                }
            }
        }
    }

    /// Coverage as stored. It is rounded to the nearest value that does not exceed the opacity: a ceiling
    /// is a ceiling.
    fn rounded(&self, opacity: f32) -> Tile {
        let most = (opacity * 65_535.0) as u16;
        let texels: Texels = std::array::from_fn(|index| {
            raster::from_unit(self.built_up[index] * opacity).min(most)
        });
        Tile::of(&texels)
    }

    pub(crate) fn build_up(&mut self, index: u16, weight: f32, touch: &Touch, how: BuildUp) {
        let before = &mut self.built_up[index as usize];
        let after = match how {
            BuildUp::Gradual => *before + touch.flow * weight * (touch.ceiling - *before),
            BuildUp::Even => weight * touch.ceiling,
        };
        *before = before.max(after);
    }
}

/// What connected reach allows each dab: sorted triangles; empty for other reaches.
fn connected(dabs: &[Dab], brush: &BrushSettings, surface: &Surface) -> Vec<Vec<TriangleId>> {
    if brush.reach != Reach::Connected {
        return Vec::new();
    }
    dabs.par_iter()
        .map_init(
            || surface.connected(),
            |connected, dab| {
                let (centre, radius) = (dab.centre, dab.touch.radius);
                surface.connect_in_ball(&dab.triangles, centre, radius, connected);
                let mut found: Vec<_> = connected.triangles().collect();
                found.sort_unstable();
                found
            },
        )
        .collect()
}

struct Work<'a> {
    dabs: &'a [Dab],
    connected: Vec<Vec<TriangleId>>,
    path: &'a SurfacePath,
    brush: &'a BrushSettings,
    surface: &'a Surface,
}

impl Work<'_> {
    fn stamp(&self, number: usize, buffers: &mut Buffers) {
        let dab = &self.dabs[number];
        self.note_reached(number, buffers);
        if self.path.eye.is_none() {
            buffers.seen.fill(Seen::Unknown);
        }
        let centre = (dab.centre - buffers.decoded.origin).as_vec3();
        let widest = widest_texel(&buffers.decoded.frames);
        let farthest = dab_reach(dab.touch.radius as f32, widest);
        for place in 0..buffers.decoded.blocks.len() {
            let block = &buffers.decoded.blocks[place];
            let reach = farthest * 1.0001 + block.radius;
            if (block.centre - centre).length_squared() <= reach * reach {
                self.stamp_block(dab, place, centre, farthest, buffers);
            }
        }
    }

    fn stamp_block(
        &self,
        dab: &Dab,
        place: usize,
        centre: Vec3,
        farthest: f32,
        buffers: &mut Buffers,
    ) {
        let (radius, normal) = (dab.touch.radius as f32, dab.normal.as_vec3());
        for number in buffers.decoded.blocks[place].numbers() {
            let texel = buffers.decoded.blocks[place].texel(number);
            let away = texel.offset - centre;
            let distance_squared = away.length_squared();
            if distance_squared > farthest * farthest || !buffers.reached[texel.frame as usize] {
                continue;
            }
            let frame = buffers.decoded.frames[texel.frame as usize];
            let distance = distance_squared.sqrt();
            let step = texel_step(&frame, away, distance);
            let facing = facing_weight(dab.side * texel.normal.dot(normal));
            let weight = dab_weight(distance, radius, self.brush.hardness, step) * facing;
            if weight > 0.0 && self.sees(dab, &texel, &frame, buffers) {
                buffers.build_up(texel.index, weight, &dab.touch, self.brush.build_up);
            }
        }
    }

    fn note_reached(&self, number: usize, buffers: &mut Buffers) {
        let Buffers { decoded, reached, .. } = buffers;
        reached.clear();
        let dab = &self.dabs[number];
        reached.extend(decoded.frames.iter().map(|frame| match self.brush.reach {
            Reach::Material => true,
            Reach::Part => self.surface.part_of(frame.triangle) == dab.part,
            Reach::Connected => self.connected[number].binary_search(&frame.triangle).is_ok(),
        }));
    }

    fn sees(
        &self,
        dab: &Dab,
        texel: &SurfaceTexel,
        frame: &TexelFrame,
        buffers: &mut Buffers,
    ) -> bool {
        let index = texel.index as usize;
        if buffers.seen[index] == Seen::Unknown {
            let point = buffers.decoded.origin + texel.offset.as_dvec3();
            let seen = self.is_visible(dab, point, frame);
            buffers.seen[index] = if seen { Seen::Visible } else { Seen::Hidden };
        }
        buffers.seen[index] == Seen::Visible
    }

    /// From the eye, or, where a stroke has none, from above the dab along its normal as far as the
    /// dab's own width.
    fn is_visible(&self, dab: &Dab, point: DVec3, frame: &TexelFrame) -> bool {
        let towards =
            self.path.eye.map_or(dab.normal * (2.0 * dab.touch.radius), |eye| eye - point);
        let distance = towards.length();
        let direction = towards / distance.max(f64::MIN_POSITIVE);
        let outward = frame.geometric_normal.as_dvec3() * f64::from(dab.side);
        if outward != DVec3::ZERO && outward.dot(direction) <= 0.0 {
            return false;
        }
        let lift = 0.01 * f64::from(frame.du.length().min(frame.dv.length()));
        !self.surface.is_blocked(point + direction * lift, direction, distance, frame.triangle)
    }
}

/// How much the distance from a dab's centre changes from one texel to the next, at its steepest.
fn texel_step(frame: &TexelFrame, away: Vec3, distance: f32) -> f32 {
    if distance <= 0.0 {
        return 0.0;
    }
    let across = frame.du.dot(away) / distance;
    let down = frame.dv.dot(away) / distance;
    (across * across + down * down).sqrt()
}

fn widest_texel(frames: &[TexelFrame]) -> f32 {
    frames.iter().map(|frame| frame.du.length() + frame.dv.length()).fold(0.0, f32::max)
}
