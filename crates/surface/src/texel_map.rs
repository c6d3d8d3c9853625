//! The texel map: which point of the surface does each texel of a material show.
//!
//! A texel is *owned* by the triangle in which its centre lies; where several lie over each other, by
//! the lowest, so that stacked islands map to the first of them. Nothing wraps: what lies outside of
//! the square owns nothing. Around the islands, up to [`TexelMap::padding`] texels away, *padding*
//! texels show what lies across the border: see [`crate::padding`].
//!
//! Four bytes for each texel of a tile that owns any, an explicit entry for each padding texel, and
//! nothing where a tile shows nothing. Positions are computed when a tile is decoded.

mod band;

use raster::{Observer, TILE_EDGE, TILE_TEXELS, TextureSize, TileAt, texel_index};
use rayon::prelude::*;

use self::band::Plan;
use crate::affine::Affine;
use crate::border::{borders, sort_into_tiles};
use crate::bounds::Bounds;
use crate::ownership::rows_between;
use crate::{MaterialSlot, Surface, SurfaceError, SurfacePoint, TriangleId};

/// The owner of each texel of a tile.
pub(crate) type Owners = [u32; TILE_TEXELS];
/// No triangle.
pub(crate) const NOBODY: u32 = u32::MAX;
/// A way over the surface is cut off at this many times the padding's width at the island's mean
/// density: slivers can't throw texels far off. Ours, from the stretch that layouts in use have.
const LONGEST: f64 = 16.0;

/// A texel that shows what lies across its island's border.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct PaddingEntry {
    pub(crate) index: u16,
    /// The triangle that it shows.
    pub(crate) triangle: TriangleId,
    /// The triangle of the island that it borders.
    pub(crate) owner: TriangleId,
    first_weights: [f32; 2],
}

impl PaddingEntry {
    /// Weights of the corners of the triangle that it shows.
    pub(crate) fn weights(&self) -> [f64; 3] {
        let (a, b) = (f64::from(self.first_weights[0]), f64::from(self.first_weights[1]));
        [a, b, 1.0 - a - b]
    }
}

#[derive(Debug)]
pub(crate) struct Block {
    /// `None` where padding alone shows.
    pub(crate) owners: Option<Box<Owners>>,
    /// By ascending index.
    pub(crate) padding: Vec<PaddingEntry>,
    pub(crate) bounds: Bounds,
}

/// See the module. Belongs to the surface that it was built from.
#[derive(Debug)]
pub struct TexelMap {
    size: TextureSize,
    material: MaterialSlot,
    /// For each tile, row by row.
    blocks: Vec<Option<Box<Block>>>,
}

const STEPS: u64 = 2;

/// Texels of padding around islands: a bilinear look-up in mip L of a box-filtered chain reads up to
/// 1.5 x 2^L texels beyond a border (simulated, for chains of halved averages).
fn padding_of(size: TextureSize) -> u32 {
    (size.edge() / 128).max(4)
}

impl TexelMap {
    /// Builds the map of one material at one size. Any number of threads gives the same map.
    ///
    /// # Errors
    /// [`SurfaceError::Cancelled`] when the observer asks to stop.
    pub fn build(
        surface: &Surface,
        material: MaterialSlot,
        size: TextureSize,
        observer: &dyn Observer,
    ) -> Result<Self, SurfaceError> {
        observer.progress(0, STEPS);
        observer.check()?;
        let (rows, lengths) =
            rayon::join(|| Rows::new(surface, material, size), || longest(surface, size));
        let borders = borders(surface, material, size);
        let near = sort_into_tiles(&borders, size, f64::from(padding_of(size)));
        observer.progress(1, STEPS);
        let plan = Plan { surface, size, borders, near, lengths };
        let (_, down) = size.extent().tiles();
        let bands = (0..down).into_par_iter().map(|row| {
            observer.check()?;
            Ok(plan.band(row, rows.of(row)))
        });
        let bands = bands.collect::<Result<Vec<_>, SurfaceError>>()?;
        observer.progress(STEPS, STEPS);
        Ok(Self { size, material, blocks: bands.into_iter().flatten().collect() })
    }

    /// The texture's size.
    pub fn size(&self) -> TextureSize {
        self.size
    }

    /// The material whose texels these are.
    pub fn material(&self) -> MaterialSlot {
        self.material
    }

    /// How many texels around an island show what lies across its border, measured across or down,
    /// whichever is more: so many that mip L is exact while 1.5 x 2^L is not more.
    pub fn padding(&self) -> u32 {
        padding_of(self.size)
    }

    pub(crate) fn block(&self, at: TileAt) -> Option<&Block> {
        let (across, down) = self.size.extent().tiles();
        if at.x >= across || at.y >= down {
            return None;
        }
        self.blocks[(at.y * across + at.x) as usize].as_deref()
    }

    /// The triangle in which the texel's centre lies, the lowest of several; `None` for padding, for
    /// empty texels and outside of the texture.
    pub fn owner(&self, x: u32, y: u32) -> Option<TriangleId> {
        let owners = self.block(TileAt::of_texel(x, y))?.owners.as_ref()?;
        let owner = owners[texel_index(x, y)];
        (owner != NOBODY).then_some(TriangleId(owner))
    }

    /// The tiles that show anything, owned or padding, row by row.
    pub fn tiles(&self) -> impl Iterator<Item = TileAt> {
        self.size.extent().tile_places().filter(|&at| self.block(at).is_some())
    }

    /// Where the tile's texels lie and which way they face; `None` where it shows nothing.
    pub fn bounds(&self, at: TileAt) -> Option<Bounds> {
        self.block(at).map(|block| block.bounds)
    }

    /// True where padding texels of the tile show what lies across a border.
    pub fn shows_padding(&self, at: TileAt) -> bool {
        self.block(at).is_some_and(|block| !block.padding.is_empty())
    }

    /// True for each texel that shows anything, owned or padding, row by row.
    pub fn shown_texels(&self) -> Vec<bool> {
        let width = self.size.edge() as usize;
        let mut shown = vec![false; self.size.extent().texels()];
        for at in self.tiles() {
            let Some(block) = self.block(at) else { continue };
            let (left, top) = at.first_texel();
            let mut show = |index: usize| {
                let (x, y) = (left as usize + index % TILE_EDGE, top as usize + index / TILE_EDGE);
                shown[y * width + x] = true;
            };
            for (index, _) in owned_texels(block) {
                show(index);
            }
            block.padding.iter().for_each(|entry| show(entry.index as usize));
        }
        shown
    }

    /// The point itself, unless another island, earlier in order, owns the texels there (stacked
    /// islands): then that island's point with the same UV.
    pub fn primary_point(&self, surface: &Surface, point: &SurfacePoint) -> SurfacePoint {
        self.primary(surface, point).unwrap_or(*point)
    }

    fn primary(&self, surface: &Surface, point: &SurfacePoint) -> Option<SurfacePoint> {
        let uv = surface.uv(point.triangle, point.barycentric)?;
        let at = uv * f64::from(self.size.edge());
        let island = surface.islands().island_of(point.triangle)?;
        let (x, y) = (at.x.floor() as i64, at.y.floor() as i64);
        // The triangle that holds the point need not hold the centre of its texel.
        let around = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (x + dx, y + dy)));
        let owners =
            around.filter_map(|(x, y)| self.owner(u32::try_from(x).ok()?, u32::try_from(y).ok()?));
        owners
            .filter(|owner| *owner < point.triangle)
            .filter(|owner| surface.islands().island_of(*owner) != Some(island))
            .filter_map(|triangle| {
                let barycentric = Affine::new(surface.uvs_of(triangle)?, self.size)?.weights(at);
                let inside = barycentric.iter().all(|&weight| weight >= -1e-9);
                inside.then_some(SurfacePoint { triangle, barycentric })
            })
            .min_by_key(|found| found.triangle)
    }

    /// Bytes of memory that the map takes.
    pub fn bytes(&self) -> usize {
        let block = |block: &Block| {
            size_of::<Block>()
                + block.owners.as_ref().map_or(0, |_| size_of::<Owners>())
                + block.padding.capacity() * size_of::<PaddingEntry>()
        };
        let blocks: usize = self.blocks.iter().flatten().map(|held| block(held)).sum();
        size_of_val(&*self.blocks) + blocks
    }
}

/// Index in the tile and owner of each owned texel, by ascending index.
pub(crate) fn owned_texels(block: &Block) -> impl Iterator<Item = (usize, TriangleId)> {
    let owners = block.owners.iter().flat_map(|owners| owners.iter().enumerate());
    owners.filter(|(_, owner)| **owner != NOBODY).map(|(index, &owner)| (index, TriangleId(owner)))
}

/// For each row of tiles the triangles that may own texels there.
struct Rows {
    /// Where each row's begin in `listed`; one more entry than rows.
    starts: Vec<usize>,
    /// Ascending in each row.
    listed: Vec<u32>,
}

impl Rows {
    fn new(surface: &Surface, material: MaterialSlot, size: TextureSize) -> Self {
        let edge = TILE_EDGE as u32;
        let tiles_of = |id: u32| {
            let id = TriangleId(id);
            if surface.material_of(id) != material {
                return (0, 0);
            }
            let Some(uvs) = surface.uvs_of(id) else { return (0, 0) };
            let (from, to) = rows_between(uvs.map(|uv| uv.y * f64::from(size.edge())), size);
            if from < to { (from / edge, to.div_ceil(edge)) } else { (0, 0) }
        };
        let count = surface.triangle_count() as u32;
        let reached: Vec<(u8, u8)> = (0..count)
            .into_par_iter()
            .map(tiles_of)
            .map(|(from, to)| (from as u8, to as u8))
            .collect();
        let (_, down) = size.extent().tiles();
        let mut starts = vec![0usize; down as usize + 1];
        for &(from, to) in &reached {
            for row in from..to {
                starts[row as usize + 1] += 1;
            }
        }
        for row in 1..starts.len() {
            starts[row] += starts[row - 1];
        }
        let mut next = starts.clone();
        let mut listed = vec![0; starts[down as usize]];
        for (id, &(from, to)) in (0..).zip(&reached) {
            for next in &mut next[from as usize..to as usize] {
                listed[*next] = id;
                *next += 1;
            }
        }
        Self { starts, listed }
    }

    fn of(&self, row: u32) -> &[u32] {
        let row = row as usize;
        &self.listed[self.starts[row]..self.starts[row + 1]]
    }
}

/// For each island the longest way over the surface that a padding texel may take, in model units.
fn longest(surface: &Surface, size: TextureSize) -> Vec<f64> {
    let islands = surface.islands();
    let mut areas = vec![0.0; islands.list().len()];
    for id in (0..surface.triangle_count() as u32).map(TriangleId) {
        if let (Some(island), Some([a, b, c])) = (islands.island_of(id), surface.uvs_of(id)) {
            areas[island.0 as usize] += (b - a).perp_dot(c - a).abs() / 2.0;
        }
    }
    let reach = LONGEST * f64::from(padding_of(size)) / f64::from(size.edge());
    let list = islands.list().iter().zip(areas);
    list.map(|(island, area)| reach * (island.surface_area / area).sqrt()).collect()
}

#[cfg(test)]
mod tests;
