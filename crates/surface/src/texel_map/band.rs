//! A row of tiles of the texel map in the making.
//!
//! Each triangle is taken once, lowest first, and each texel goes to the first that holds its centre.
//! So what a tile gathers from a triangle's texels, it gathers while the triangle is at hand.

use std::ops::Range;

use glam::{DVec2, DVec3, Vec3};
use raster::{Lanes, TILE_EDGE, TILE_TEXELS, TextureSize, TileAt, texel_index};

use super::{Block, NOBODY, Owners, PaddingEntry, padding_of};
use crate::affine::{Affine, centre, weighted};
use crate::border::{Border, NO_BORDER, Nearest};
use crate::bounds::Gather;
use crate::ownership::{Outline, Spans};
use crate::padding::{End, Met, Walker};
use crate::{Surface, TriangleId};

/// What the tiles of all rows are made from.
pub(super) struct Plan<'a> {
    pub(super) surface: &'a Surface,
    pub(super) size: TextureSize,
    pub(super) borders: Vec<Border>,
    /// For each tile, row by row: the borders that come near it, ascending.
    pub(super) near: Vec<Vec<u32>>,
    /// For each island the longest way over the surface that a padding texel may take.
    pub(super) lengths: Vec<f64>,
}

/// The owners of a tile in the making.
struct Sheet {
    owners: Option<Box<Owners>>,
    /// A bit for each texel of a row, the first one lowest: 1 where it is owned.
    owned: [u64; TILE_EDGE],
    /// Texels that nobody owns yet.
    free: u32,
    gather: Gather,
}

/// The texels that a triangle got in a tile: a bit for each column, first and last row.
#[derive(Default)]
struct Won {
    columns: u64,
    rows: Option<(u32, u32)>,
}

/// A border that padding texels begin at.
struct Launch {
    met: Met,
    affine: Affine,
    longest: f64,
}

impl Plan<'_> {
    /// The blocks of the tiles of one row, by the triangles that may own texels there, in ascending
    /// order.
    pub(super) fn band(&self, row: u32, triangles: &[u32]) -> Vec<Option<Box<Block>>> {
        let (across, _) = self.size.extent().tiles();
        let sheet = || Sheet {
            owners: None,
            owned: [0; TILE_EDGE],
            free: TILE_TEXELS as u32,
            gather: Gather::new(),
        };
        let mut sheets: Vec<Sheet> = (0..across).map(|_| sheet()).collect();
        self.own(row * TILE_EDGE as u32, triangles, &mut sheets);
        let mut padder = Padder::new(self);
        let places = (0..across).map(|x| TileAt { x, y: row });
        sheets.into_iter().zip(places).map(|(sheet, at)| padder.block(at, sheet)).collect()
    }

    fn own(&self, top: u32, triangles: &[u32], sheets: &mut [Sheet]) {
        let mut spans = Spans::new();
        for id in triangles.iter().copied().map(TriangleId) {
            let Some(uvs) = self.surface.uvs_of(id) else { continue };
            let Some(outline) = Outline::new(uvs, self.size) else { continue };
            outline.span(top..top + TILE_EDGE as u32, self.size, &mut spans);
            self.give(id, uvs, &spans, sheets);
        }
    }

    /// Gives a triangle those of its texels that no lower one has.
    fn give(&self, id: TriangleId, uvs: [DVec2; 3], spans: &Spans, sheets: &mut [Sheet]) {
        let reach = |(low, high): (u32, u32), (_, left, right)| (low.min(left), high.max(right));
        let (low, high) = spans.rows().fold((u32::MAX, 0), reach);
        let edge = TILE_EDGE as u32;
        let mut normals = None;
        for tile in low / edge..high.div_ceil(edge) {
            let sheet = &mut sheets[tile as usize];
            if sheet.free == 0 {
                continue;
            }
            let won = sheet.give(id, tile * edge, spans);
            let Some(rows) = won.rows else { continue };
            let columns = won.columns.trailing_zeros()..64 - won.columns.leading_zeros();
            let columns = tile * edge + columns.start..tile * edge + columns.end;
            let corners = self.surface.positions_of(id);
            if let Some(affine) = Affine::new(uvs, self.size) {
                gather_texels(&mut sheet.gather, corners, &affine, columns, rows);
                let normals = normals.get_or_insert_with(|| normals_of(self.surface, id));
                for normal in normals {
                    sheet.gather.normal(*normal);
                }
            }
        }
    }
}

impl Sheet {
    /// Gives a triangle the free ones of its texels; `left` is the first column.
    #[inline]
    fn give(&mut self, id: TriangleId, left: u32, spans: &Spans) -> Won {
        let mut won = Won::default();
        for (row, from, to) in spans.rows() {
            let (from, to) = (from.max(left), to.min(left + TILE_EDGE as u32));
            if from >= to {
                continue;
            }
            let span = (u64::MAX >> (TILE_EDGE as u32 - (to - from))) << (from - left);
            let owned = &mut self.owned[row as usize % TILE_EDGE];
            let new = span & !*owned;
            if new == 0 {
                continue;
            }
            *owned |= span;
            self.free -= new.count_ones();
            let owners = self.owners.get_or_insert_with(|| Box::new([NOBODY; TILE_TEXELS]));
            let first = texel_index(from, row);
            let texels = &mut owners[first..first + (to - from) as usize];
            if new == span {
                texels.fill(id.0);
            } else {
                for owner in texels {
                    *owner = (*owner).min(id.0);
                }
            }
            won.columns |= new;
            won.rows = Some((won.rows.map_or(row, |(first, _)| first), row));
        }
        won
    }
}

/// The corners of the rectangle of a triangle's texels bound them; so do the triangle's own.
fn gather_texels(
    gather: &mut Gather,
    corners: [DVec3; 3],
    affine: &Affine,
    columns: Range<u32>,
    (top, bottom): (u32, u32),
) {
    let (left, right) = (columns.start, columns.end - 1);
    let [a, b, c, d] = [(left, top), (right, top), (left, bottom), (right, bottom)]
        .map(|(x, y)| weighted(corners, affine.weights(centre(x, y))));
    let low = a.min(b).min(c).min(d);
    let high = a.max(b).max(c).max(d);
    let [a, b, c] = corners;
    gather.span(low.max(a.min(b).min(c)), high.min(a.max(b).max(c)));
}

/// The geometric normal of a triangle and those of its vertices.
fn normals_of(surface: &Surface, id: TriangleId) -> [DVec3; 4] {
    let [a, b, c] = surface.vertex_normals_of(id).map(Vec3::as_dvec3);
    [surface.geometric_normal(id), a, b, c]
}

/// Adds the padding to the tiles of a row, from left to right: what ways over the surface meet for one
/// tile, they often meet for the next.
struct Padder<'a> {
    plan: &'a Plan<'a>,
    walker: Walker<'a>,
    ends: Vec<End>,
}

impl<'a> Padder<'a> {
    fn new(plan: &'a Plan<'a>) -> Self {
        Self { plan, walker: Walker::new(plan.surface), ends: Vec::new() }
    }

    /// `None` where the tile shows nothing.
    fn block(&mut self, at: TileAt, sheet: Sheet) -> Option<Box<Block>> {
        let mut gather = sheet.gather;
        let (across, _) = self.plan.size.extent().tiles();
        let near = &self.plan.near[(at.y * across + at.x) as usize];
        let padding = if sheet.free > 0 && !near.is_empty() {
            self.padding(at, &sheet.owned, near, &mut gather)
        } else {
            Vec::new()
        };
        if sheet.owners.is_none() && padding.is_empty() {
            return None;
        }
        Some(Box::new(Block { owners: sheet.owners, padding, bounds: gather.finish() }))
    }

    fn padding(
        &mut self,
        at: TileAt,
        owned: &[u64; TILE_EDGE],
        near: &[u32],
        gather: &mut Gather,
    ) -> Vec<PaddingEntry> {
        let borders: Vec<Border> =
            near.iter().map(|&index| self.plan.borders[index as usize]).collect();
        let reach = f64::from(padding_of(self.plan.size));
        let found = Box::new([NO_BORDER; TILE_TEXELS]);
        let lanes = Lanes::widest();
        let mut nearest = Nearest { borders: &borders, reach, at, owned, lanes, found };
        nearest.look();
        let begun = self.begin(at, &borders, &nearest.found);
        self.walker.follow(&mut self.ends);
        let entries = begun.iter().zip(&self.ends).map(|(&(index, owner), end)| PaddingEntry {
            index,
            triangle: self.walker.triangle(end.triangle).0,
            owner,
            first_weights: [end.weights[0] as f32, end.weights[1] as f32],
        });
        let entries: Vec<_> = entries.collect();
        self.gather(gather, &entries);
        entries
    }

    /// Begins a way for each texel that has a border, by ascending index: gives its index, and the
    /// triangle that it borders.
    fn begin(
        &mut self,
        at: TileAt,
        borders: &[Border],
        found: &[u32; TILE_TEXELS],
    ) -> Vec<(u16, TriangleId)> {
        let (left, top) = at.first_texel();
        let mut launches: Vec<Option<Launch>> = Vec::new();
        launches.resize_with(borders.len(), || None);
        let texels = found.iter().filter(|&&border| border != NO_BORDER).count();
        let mut begun = Vec::with_capacity(texels);
        for (index, &border) in found.iter().enumerate() {
            if border == NO_BORDER {
                continue;
            }
            let launch = &mut launches[border as usize];
            let border = &borders[border as usize];
            if launch.is_none() {
                *launch = self.launch(border.triangle);
            }
            let Some(launch) = launch else { continue };
            let (x, y) = (index % TILE_EDGE, index / TILE_EDGE);
            let texel = centre(left + x as u32, top + y as u32);
            let start = (launch.met, border.edge, border.share(texel));
            self.walker.begin(start, launch.affine.weights(texel), launch.longest);
            begun.push((index as u16, border.triangle));
        }
        begun
    }

    fn launch(&mut self, owner: TriangleId) -> Option<Launch> {
        let Plan { surface, size, ref lengths, .. } = *self.plan;
        let affine = Affine::new(surface.uvs_of(owner)?, size)?;
        let longest = lengths[surface.islands().island_of(owner)?.0 as usize];
        Some(Launch { met: self.walker.meet(owner), affine, longest })
    }

    fn gather(&mut self, gather: &mut Gather, entries: &[PaddingEntry]) {
        let mut shown: Vec<Met> = Vec::new();
        for (entry, end) in entries.iter().zip(&self.ends) {
            let (_, corners) = self.walker.triangle(end.triangle);
            gather.point(weighted(*corners, entry.weights()));
            if shown.last() != Some(&end.triangle) {
                shown.push(end.triangle);
            }
        }
        let mut shown: Vec<TriangleId> =
            shown.into_iter().map(|met| self.walker.triangle(met).0).collect();
        shown.sort_unstable();
        shown.dedup();
        for id in shown {
            for normal in normals_of(self.plan.surface, id) {
                gather.normal(normal);
            }
        }
    }
}
