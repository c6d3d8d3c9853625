//! The borders of islands in the layout, and which border each unowned texel is nearest to.
//!
//! Exact and near-linear: the borders near a tile are sifted through ever smaller squares (64, 16, 4
//! texels, one), each keeping only those that can be nearest to one of its texels.

use glam::DVec2;
use raster::{TILE_EDGE, TextureSize, TileAt, texel_index};

use crate::affine::centre;
use crate::ownership::Outline;
use crate::texel_map::Owners;
use crate::{MaterialSlot, Surface, TriangleId};

/// One edge of a triangle across which the layout does not go on, in texel coordinates.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Border {
    /// The triangle.
    pub(crate) triangle: TriangleId,
    /// From corner `edge` to the next.
    pub(crate) edge: usize,
    from: DVec2,
    along: DVec2,
    /// Of unit length, away from the triangle.
    outward: DVec2,
}

/// The borders of a material's islands, by triangle and edge.
pub(crate) fn borders(surface: &Surface, material: MaterialSlot, size: TextureSize) -> Vec<Border> {
    let mut borders = Vec::new();
    for id in (0..surface.triangle_count() as u32).map(TriangleId) {
        if surface.material_of(id) != material {
            continue;
        }
        let Some(uvs) = surface.uvs_of(id) else { continue };
        if Outline::new(uvs, size).is_none() {
            continue;
        }
        let corners = uvs.map(|uv| uv * f64::from(size.edge()));
        for edge in (0..3).filter(|&edge| !surface.islands().goes_on(id, edge)) {
            let (from, to, tip) = (corners[edge], corners[(edge + 1) % 3], corners[(edge + 2) % 3]);
            let along = to - from;
            let normal = along.perp().normalize_or_zero();
            let outward = if normal.dot(tip - from) > 0.0 { -normal } else { normal };
            borders.push(Border { triangle: id, edge, from, along, outward });
        }
    }
    borders
}

impl Border {
    /// Where along the edge its nearest point to `at` lies: 0 to 1.
    pub(crate) fn share(&self, at: DVec2) -> f64 {
        ((at - self.from).dot(self.along) / self.along.length_squared()).clamp(0.0, 1.0)
    }

    fn distance_squared(&self, at: DVec2) -> f64 {
        // The ends are taken as they are, so that edges that meet there are equally near.
        let share = self.share(at);
        let nearest =
            if share == 1.0 { self.from + self.along } else { self.from + self.along * share };
        nearest.distance_squared(at)
    }

    /// How far `at` lies before the edge's line.
    fn before(&self, at: DVec2) -> f64 {
        (at - self.from).dot(self.outward)
    }

    /// True when the edge comes within `reach` of `at` both across and down.
    fn meets_square(&self, at: DVec2, reach: f64) -> bool {
        let middle = self.from + self.along / 2.0 - at;
        let half = self.along.abs() / 2.0;
        middle.x.abs() <= half.x + reach
            && middle.y.abs() <= half.y + reach
            && self.along.perp_dot(middle).abs()
                <= reach * (self.along.x.abs() + self.along.y.abs())
    }

    /// The part of the edge with y in `low..=high`: its lowest and highest x.
    fn columns_between(&self, low: f64, high: f64) -> Option<(f64, f64)> {
        let to = self.from + self.along;
        if self.from.y.min(to.y) > high || self.from.y.max(to.y) < low {
            return None;
        }
        let x_at = |y: f64| {
            let share = if self.along.y == 0.0 { 0.0 } else { (y - self.from.y) / self.along.y };
            self.from.x + self.along.x * share.clamp(0.0, 1.0)
        };
        let (a, b) =
            if self.along.y == 0.0 { (self.from.x, to.x) } else { (x_at(low), x_at(high)) };
        Some((a.min(b), a.max(b)))
    }
}

/// For each tile, row by row: the borders within `reach` texels of it.
pub(crate) fn sort_into_tiles(borders: &[Border], size: TextureSize, reach: f64) -> Vec<Vec<u32>> {
    let edge = TILE_EDGE as f64;
    let (across, down) = size.extent().tiles();
    let mut tiles = vec![Vec::new(); (across * down) as usize];
    let tile_of = |texel: f64, last: u32| ((texel / edge).floor().max(0.0) as u32).min(last);
    for (index, border) in borders.iter().enumerate() {
        let ends = [border.from.y, border.from.y + border.along.y];
        let (low, high) = (ends[0].min(ends[1]) - reach, ends[0].max(ends[1]) + reach);
        if high < 0.0 || low > f64::from(size.edge()) {
            continue;
        }
        for y in tile_of(low, down - 1)..=tile_of(high, down - 1) {
            let top = f64::from(y) * edge;
            let Some((left, right)) = border.columns_between(top - reach, top + edge + reach)
            else {
                continue;
            };
            if right + reach < 0.0 || left - reach > f64::from(size.edge()) {
                continue;
            }
            for x in tile_of(left - reach, across - 1)..=tile_of(right + reach, across - 1) {
                tiles[(y * across + x) as usize].push(index as u32);
            }
        }
    }
    tiles
}

/// Squares get a quarter of the edge at each level.
const FINER: usize = 4;

/// Finds the nearest border of each unowned texel of a tile.
pub(crate) struct Nearest<'a> {
    pub(crate) borders: &'a [Border],
    /// Texels; measured across and down, whichever is more.
    pub(crate) reach: f64,
    pub(crate) at: TileAt,
    pub(crate) owners: Option<&'a Owners>,
    /// Texel index and border, in any order.
    pub(crate) found: Vec<(u16, u32)>,
}

impl Nearest<'_> {
    /// Looks at the square of `edge` texels whose top left is (`left`, `top`) in the tile.
    pub(crate) fn look(&mut self, (left, top): (usize, usize), edge: usize, candidates: &[u32]) {
        if candidates.is_empty() || self.all_owned((left, top), edge) {
            return;
        }
        if edge == 1 {
            self.decide((left, top), candidates);
            return;
        }
        let half = (edge - 1) as f64 / 2.0;
        let (first_x, first_y) = self.at.first_texel();
        let middle = centre(first_x + left as u32, first_y + top as u32) + half;
        let kept = self.sift(middle, half, candidates);
        let finer = edge / FINER;
        for y in 0..FINER {
            for x in 0..FINER {
                self.look((left + x * finer, top + y * finer), finer, &kept);
            }
        }
    }

    /// The candidates that can be nearest to a texel within `half` of `middle`: none that some other,
    /// which all of those texels may take, beats everywhere.
    fn sift(&self, middle: DVec2, half: f64, candidates: &[u32]) -> Vec<u32> {
        let border = |index: &u32| &self.borders[*index as usize];
        let near =
            candidates.iter().filter(|index| border(index).meets_square(middle, self.reach + half));
        let measured: Vec<(u32, f64)> =
            near.map(|index| (*index, border(index).distance_squared(middle).sqrt())).collect();
        let least = measured
            .iter()
            .filter(|(index, _)| border(index).meets_square(middle, self.reach - half))
            .fold(f64::INFINITY, |least, (_, distance)| least.min(*distance));
        let within = least + 2.0 * half * std::f64::consts::SQRT_2 + 1e-6;
        measured
            .into_iter()
            .filter(|(_, distance)| *distance <= within)
            .map(|(index, _)| index)
            .collect()
    }

    fn all_owned(&self, (left, top): (usize, usize), edge: usize) -> bool {
        self.owners.is_some_and(|owners| {
            (top..top + edge).all(|y| {
                let row = y * TILE_EDGE + left;
                owners[row..row + edge].iter().all(|&owner| owner != crate::texel_map::NOBODY)
            })
        })
    }

    /// Nearest first; where edges meet in the nearest point, the one that the texel lies most before;
    /// then the lowest.
    fn decide(&mut self, (x, y): (usize, usize), candidates: &[u32]) {
        let (left, top) = self.at.first_texel();
        let at = centre(left + x as u32, top + y as u32);
        let mut best: Option<(f64, f64, u32)> = None;
        for &index in candidates {
            let border = &self.borders[index as usize];
            if border.meets_square(at, self.reach) {
                let key = (border.distance_squared(at), -border.before(at), index);
                if best.is_none_or(|best| key < best) {
                    best = Some(key);
                }
            }
        }
        if let Some((_, _, border)) = best {
            self.found.push((texel_index(x as u32, y as u32) as u16, border));
        }
    }
}
