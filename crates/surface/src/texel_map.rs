//! The texel map: which point of the surface does each texel of a material show.
//!
//! A texel is *owned* by the triangle in which its centre lies; where several lie over each other, by
//! the lowest, so that stacked islands map to the first of them. Nothing wraps: what lies outside of
//! the square owns nothing. Around the islands, up to [`TexelMap::padding`] texels away, *padding*
//! texels show what lies across the border: see [`crate::padding`].
//!
//! Four bytes for each texel of a tile that owns any, an explicit entry for each padding texel, and
//! nothing where a tile shows nothing. Positions are computed when a tile is decoded.

use raster::{Observer, TILE_EDGE, TILE_TEXELS, TextureSize, TileAt, texel_index};
use rayon::prelude::*;

use crate::affine::{Affine, centre, weighted};
use crate::border::{Border, Nearest, borders, sort_into_tiles};
use crate::bounds::{Bounds, Gather};
use crate::ownership::Outline;
use crate::padding::Walker;
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
        observer.progress(0, 3);
        observer.check()?;
        let owned = own(surface, material, size, observer)?;
        observer.progress(1, 3);
        let borders = borders(surface, material, size);
        let near = sort_into_tiles(&borders, size, f64::from(padding_of(size)));
        observer.progress(2, 3);
        let builder = BlockBuilder { surface, size, borders, lengths: longest(surface, size) };
        let tiles: Vec<TileAt> = size.extent().tile_places().collect();
        let blocks = owned
            .into_par_iter()
            .zip(near)
            .zip(tiles)
            .map(|((owners, near), at)| {
                observer.check()?;
                Ok(builder.block(at, owners, &near).map(Box::new))
            })
            .collect::<Result<_, SurfaceError>>()?;
        observer.progress(3, 3);
        Ok(Self { size, material, blocks })
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

/// The owners of every tile, row by row.
fn own(
    surface: &Surface,
    material: MaterialSlot,
    size: TextureSize,
    observer: &dyn Observer,
) -> Result<Vec<Option<Box<Owners>>>, SurfaceError> {
    let outline = |id: TriangleId| Outline::new(surface.uvs_of(id)?, size);
    let (across, down) = size.extent().tiles();
    let edge = TILE_EDGE as u32;
    let mut rows: Vec<Vec<TriangleId>> = vec![Vec::new(); down as usize];
    for id in (0..surface.triangle_count() as u32).map(TriangleId) {
        if surface.material_of(id) != material {
            continue;
        }
        let Some((from, to)) = outline(id).map(|outline| outline.rows(size)) else { continue };
        for row in from / edge..to.div_ceil(edge).max(from / edge) {
            rows[row as usize].push(id);
        }
    }
    let bands = rows.into_par_iter().enumerate().map(|(row, triangles)| {
        observer.check()?;
        let mut band: Vec<Option<Box<Owners>>> = vec![None; across as usize];
        let top = row as u32 * edge;
        for id in triangles {
            let Some(outline) = outline(id) else { continue };
            outline.for_each_texel((top, top + edge), size, |x, y, _| {
                let owners = band[(x / edge) as usize]
                    .get_or_insert_with(|| Box::new([NOBODY; TILE_TEXELS]));
                let owner = &mut owners[texel_index(x, y)];
                *owner = (*owner).min(id.0);
            });
        }
        Ok(band)
    });
    let bands = bands.collect::<Result<Vec<_>, SurfaceError>>()?;
    Ok(bands.into_iter().flatten().collect())
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

struct BlockBuilder<'a> {
    surface: &'a Surface,
    size: TextureSize,
    borders: Vec<Border>,
    /// By island.
    lengths: Vec<f64>,
}

impl BlockBuilder<'_> {
    /// `None` where the tile shows nothing.
    fn block(&self, at: TileAt, owners: Option<Box<Owners>>, near: &[u32]) -> Option<Block> {
        let padding = self.padding(at, owners.as_deref(), near);
        if owners.is_none() && padding.is_empty() {
            return None;
        }
        let none = Gather::new().finish();
        let mut block = Block { owners, padding, bounds: none };
        block.bounds = self.bounds(at, &block);
        Some(block)
    }

    fn padding(&self, at: TileAt, owners: Option<&Owners>, near: &[u32]) -> Vec<PaddingEntry> {
        let reach = f64::from(padding_of(self.size));
        let borders = &self.borders;
        let mut nearest = Nearest { borders, reach, at, owners, found: Vec::new() };
        nearest.look((0, 0), TILE_EDGE, near);
        let mut found = nearest.found;
        found.sort_unstable();
        let mut walker = Walker::new(self.surface);
        let entries = found.iter().filter_map(|&(index, border)| {
            self.entry(&mut walker, at, index, &borders[border as usize])
        });
        entries.collect()
    }

    fn entry(
        &self,
        walker: &mut Walker<'_>,
        tile: TileAt,
        index: u16,
        border: &Border,
    ) -> Option<PaddingEntry> {
        let (left, top) = tile.first_texel();
        let (x, y) = (index as u32 % TILE_EDGE as u32, index as u32 / TILE_EDGE as u32);
        let at = centre(left + x, top + y);
        let owner = border.triangle;
        let target = Affine::new(self.surface.uvs_of(owner)?, self.size)?.weights(at);
        let longest = self.lengths[self.surface.islands().island_of(owner)?.0 as usize];
        let start = (owner, border.edge, border.share(at));
        let (triangle, weights) = walker.carry(start, target, longest);
        let first_weights = [weights[0] as f32, weights[1] as f32];
        Some(PaddingEntry { index, triangle, owner, first_weights })
    }

    fn bounds(&self, at: TileAt, block: &Block) -> Bounds {
        let mut gather = Gather::new();
        for texels in extents(block) {
            self.gather_owned(&mut gather, at, &texels);
        }
        for entry in &block.padding {
            gather.point(weighted(self.surface.positions_of(entry.triangle), entry.weights()));
        }
        let mut shown: Vec<TriangleId> = block.padding.iter().map(|entry| entry.triangle).collect();
        shown.sort_unstable();
        shown.dedup();
        for triangle in shown {
            self.gather_normals(&mut gather, triangle);
        }
        gather.finish()
    }

    /// The corners of the rectangle of a triangle's texels bound them; so do the triangle's own.
    fn gather_owned(&self, gather: &mut Gather, at: TileAt, texels: &Extents) {
        let corners = self.surface.positions_of(texels.owner);
        let uvs = self.surface.uvs_of(texels.owner);
        let Some(affine) = uvs.and_then(|uvs| Affine::new(uvs, self.size)) else { return };
        let (left, top) = at.first_texel();
        let ((x0, y0), (x1, y1)) = (texels.first, texels.last);
        let [a, b, c, d] = [(x0, y0), (x1, y0), (x0, y1), (x1, y1)]
            .map(|(x, y)| weighted(corners, affine.weights(centre(left + x, top + y))));
        let low = a.min(b).min(c).min(d);
        let high = a.max(b).max(c).max(d);
        let [a, b, c] = corners;
        gather.span(low.max(a.min(b).min(c)), high.min(a.max(b).max(c)));
        self.gather_normals(gather, texels.owner);
    }

    fn gather_normals(&self, gather: &mut Gather, id: TriangleId) {
        gather.normal(self.surface.geometric_normal(id));
        for normal in self.surface.vertex_normals_of(id) {
            gather.normal(normal.as_dvec3());
        }
    }
}

/// The texels of one owner in a block: first and last column and row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Extents {
    owner: TriangleId,
    first: (u32, u32),
    last: (u32, u32),
}

/// By owner.
fn extents(block: &Block) -> Vec<Extents> {
    let edge = TILE_EDGE as u32;
    let mut runs: Vec<Extents> = Vec::new();
    for (index, owner) in owned_texels(block) {
        let at = (index as u32 % edge, index as u32 / edge);
        match runs.last_mut() {
            Some(run) if run.owner == owner && run.last.1 == at.1 => run.last = at,
            _ => runs.push(Extents { owner, first: at, last: at }),
        }
    }
    runs.sort_unstable();
    runs.dedup_by(|run, kept| {
        let same = run.owner == kept.owner;
        if same {
            kept.first = (kept.first.0.min(run.first.0), kept.first.1.min(run.first.1));
            kept.last = (kept.last.0.max(run.last.0), kept.last.1.max(run.last.1));
        }
        same
    });
    runs
}

#[cfg(test)]
mod tests;
