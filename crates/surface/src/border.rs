//! The borders of islands in the layout, and which border each unowned texel is nearest to.
//!
//! Exact and near-linear: the borders near a tile are sifted through ever smaller squares (16, then 4
//! texels wide), each keeping only those that can be nearest to one of its texels.

use glam::DVec2;
use raster::{Lanes, TILE_EDGE, TILE_TEXELS, TextureSize, TileAt, Work};

use crate::affine::centre;
use crate::ownership::Outline;
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
        if surface.islands().is_inner(id) || surface.material_of(id) != material {
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
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn share(&self, at: DVec2) -> f64 {
        ((at - self.from).dot(self.along) / self.along.length_squared()).clamp(0.0, 1.0)
    }

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn distance_squared(&self, at: DVec2) -> f64 {
        // The ends are taken as they are, so that edges that meet there are equally near.
        let share = self.share(at);
        let nearest =
            if share == 1.0 { self.from + self.along } else { self.from + self.along * share };
        nearest.distance_squared(at)
    }

    /// How far `at` lies before the edge's line.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn before(&self, at: DVec2) -> f64 {
        (at - self.from).dot(self.outward)
    }

    /// True when the edge comes within `reach` of `at` both across and down.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn meets_square(&self, at: DVec2, reach: f64) -> bool {
        let middle = self.from + self.along / 2.0 - at;
        let half = self.along.abs() / 2.0;
        (middle.x.abs() <= half.x + reach)
            & (middle.y.abs() <= half.y + reach)
            & (self.along.perp_dot(middle).abs()
                <= reach * (self.along.x.abs() + self.along.y.abs()))
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

/// Squares are cut into this many, across and down, at each level.
const FINER: usize = 4;
const CELLS: usize = FINER * FINER;

/// A number for each of the smaller squares of a square, row by row.
type Cells = [f64; CELLS];

/// Finds the nearest border of each unowned texel of a tile.
pub(crate) struct Nearest<'a> {
    /// Those that come near the tile.
    pub(crate) borders: &'a [Border],
    /// Texels; measured across and down, whichever is more.
    pub(crate) reach: f64,
    pub(crate) at: TileAt,
    /// A bit for each texel of a row, the first one lowest: 1 where it is owned.
    pub(crate) owned: &'a [u64; TILE_EDGE],
    pub(crate) lanes: Lanes,
    /// The nearest border of each texel, [`NO_BORDER`] where there is none within reach.
    pub(crate) found: Box<[u32; TILE_TEXELS]>,
}

/// What [`Nearest::found`] has where no border is within reach.
pub(crate) const NO_BORDER: u32 = u32::MAX;

/// The best of the borders that were offered to each texel of a square.
struct Choice {
    border: [u32; CELLS],
    /// Squared.
    distance: Cells,
    /// How far the texel lies before it.
    ahead: Cells,
}

impl Choice {
    fn new() -> Self {
        let (distance, ahead) = ([f64::INFINITY; CELLS], [f64::NEG_INFINITY; CELLS]);
        Self { border: [NO_BORDER; CELLS], distance, ahead }
    }
}

/// A border as it lies to the smaller squares of a square.
struct Measured {
    border: u32,
    /// To the squares' middles; infinite where no texel of the square is within reach.
    distances: Cells,
}

/// Measures an edge from several places. Each distance is infinite where the edge does not come within the
/// wider reach; the nearest of all edges is kept that comes within the narrower one.
struct Measure<'a> {
    border: &'a Border,
    /// Across and down.
    places: &'a [Cells; 2],
    /// The wider, the narrower.
    reach: (f64, f64),
    distances: &'a mut Cells,
    nearest: &'a mut Cells,
}

impl Work for Measure<'_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) {
        let Self { border, places: [across, down], reach: (wider, narrower), .. } = self;
        let places = across.iter().zip(down);
        for ((x, y), (distance, nearest)) in places.zip(self.distances.iter_mut().zip(self.nearest))
        {
            let at = DVec2::new(*x, *y);
            let measured = border.distance_squared(at).sqrt();
            *distance = if border.meets_square(at, wider) { measured } else { f64::INFINITY };
            let sure = if border.meets_square(at, narrower) { *distance } else { f64::INFINITY };
            *nearest = if sure < *nearest { sure } else { *nearest };
        }
    }
}

/// Lets texels take an edge, as `index`, where it is better than what they have.
struct Offer<'a> {
    border: &'a Border,
    index: u32,
    /// Across and down.
    centres: &'a [Cells; 2],
    reach: f64,
    choice: &'a mut Choice,
}

impl Work for Offer<'_> {
    type Done = ();

    #[expect(clippy::needless_bitwise_bool, reason = "a loop without branches is vectorised")]
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) {
        let Self { border, index, centres: [across, down], reach, choice } = self;
        let places = across.iter().zip(down);
        let best = choice.distance.iter_mut().zip(&mut choice.ahead).zip(&mut choice.border);
        for ((x, y), ((nearest, furthest), taken)) in places.zip(best) {
            let at = DVec2::new(*x, *y);
            let (distance, ahead) = (border.distance_squared(at), border.before(at));
            let (nearer, equal) = (distance < *nearest, distance == *nearest);
            let further = ahead > *furthest;
            let allowed = border.meets_square(at, reach);
            let better = allowed & (nearer | equal & further);
            *nearest = if better { distance } else { *nearest };
            *furthest = if better { ahead } else { *furthest };
            *taken = if better { index } else { *taken };
        }
    }
}

impl Nearest<'_> {
    /// Looks at the whole tile.
    pub(crate) fn look(&mut self) {
        let all: Vec<u32> = (0..self.borders.len() as u32).collect();
        self.sift((0, 0), TILE_EDGE, &all);
    }

    /// Hands each smaller square of the square of `edge` texels, whose top left is (`left`, `top`) in
    /// the tile, those borders that can be nearest to one of its texels.
    fn sift(&mut self, (left, top): (usize, usize), edge: usize, candidates: &[u32]) {
        let finer = edge / FINER;
        let half = (finer - 1) as f64 / 2.0;
        let mut measured = Vec::with_capacity(candidates.len());
        let middles = self.places((left, top), finer, half);
        let within = self.measure(&middles, half, candidates, &mut measured);
        let mut kept = Vec::with_capacity(measured.len());
        for (cell, within) in within.into_iter().enumerate() {
            let corner = (left + cell % FINER * finer, top + cell / FINER * finer);
            kept.clear();
            let can_be = measured
                .iter()
                .filter(|one| one.distances[cell] < f64::INFINITY && one.distances[cell] <= within);
            kept.extend(can_be.map(|one| one.border));
            if kept.is_empty() || self.all_owned(corner, finer) {
                continue;
            }
            if finer == FINER {
                self.decide(corner, &kept);
            } else {
                self.sift(corner, finer, &kept);
            }
        }
    }

    /// Points in even steps of `step` texels: of each cell, the one `inset` texels from the centre of
    /// its first texel.
    fn places(&self, (left, top): (usize, usize), step: usize, inset: f64) -> [Cells; 2] {
        let (first_x, first_y) = self.at.first_texel();
        let mut places = [[0.0; CELLS]; 2];
        let [across, down] = &mut places;
        for (cell, (across, down)) in across.iter_mut().zip(down).enumerate() {
            let (x, y) = (left + cell % FINER * step, top + cell / FINER * step);
            let at = centre(first_x + x as u32, first_y + y as u32) + inset;
            (*across, *down) = (at.x, at.y);
        }
        places
    }

    /// Measures each border, and how far off one may be and still be nearest to a texel within `half`
    /// of a middle: no farther than one that all of those texels may take.
    fn measure(
        &self,
        middles: &[Cells; 2],
        half: f64,
        candidates: &[u32],
        measured: &mut Vec<Measured>,
    ) -> Cells {
        let mut within = [f64::INFINITY; CELLS];
        for &index in candidates {
            let border = &self.borders[index as usize];
            let mut distances = [f64::INFINITY; CELLS];
            let reach = (self.reach + half, self.reach - half);
            self.lanes.run(Measure {
                border,
                places: middles,
                reach,
                distances: &mut distances,
                nearest: &mut within,
            });
            if distances.iter().any(|distance| *distance < f64::INFINITY) {
                measured.push(Measured { border: index, distances });
            }
        }
        within.map(|within| within + 2.0 * half * std::f64::consts::SQRT_2 + 1e-6)
    }

    fn all_owned(&self, (left, top): (usize, usize), edge: usize) -> bool {
        let columns = (u64::MAX >> (TILE_EDGE - edge)) << left;
        self.owned[top..top + edge].iter().all(|row| row & columns == columns)
    }

    /// Nearest first; where edges meet in the nearest point, the one that the texel lies most before;
    /// then the lowest. For the texels of a square of [`FINER`] texels.
    fn decide(&mut self, (left, top): (usize, usize), candidates: &[u32]) {
        let centres = self.places((left, top), 1, 0.0);
        let mut choice = Choice::new();
        for &index in candidates {
            let border = &self.borders[index as usize];
            self.lanes.run(Offer {
                border,
                index,
                centres: &centres,
                reach: self.reach,
                choice: &mut choice,
            });
        }
        for (cell, border) in choice.border.into_iter().enumerate() {
            let (x, y) = (left + cell % FINER, top + cell / FINER);
            if self.owned[y] >> x & 1 == 0 {
                self.found[y * TILE_EDGE + x] = border;
            }
        }
    }
}
