//! What a brush carries: a square picture in the dab's own frame, with coarser ones of half the edge each.
//!
//! It holds differences from the first texel that was gathered: of a field that is the same everywhere they are all
//! 0, so that however often it is smudged, it stays what it was.

use surface::{BLOCK_TEXELS, TexelBlock};

use super::working_tile::Sheet;
use crate::kernel::Lane;

const LEAST: usize = 8;

/// See the module.
#[derive(Debug)]
pub(crate) struct Carried {
    /// The most cells that an edge may have, a power of two.
    most: usize,
    /// Cells along an edge of the finest picture, a power of two.
    edge: usize,
    /// What differences are taken from, a number a sheet; none before anything was gathered.
    base: Option<Vec<f32>>,
    /// For each sheet all pictures, the finest first.
    pictures: Vec<Vec<f32>>,
    /// Where the pictures hold anything: 1 or 0.
    there: Vec<f32>,
    /// For each sheet what was gathered in the finest picture's cells.
    sums: Vec<Vec<f32>>,
    /// How many texels that were.
    counts: Vec<f32>,
    /// The picture that was softened.
    soft: Vec<Vec<f32>>,
    soft_there: Vec<f32>,
}

/// How it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Drawn {
    /// From the finest picture, or one that suits larger texels.
    AsItIs,
    /// From that level, softened.
    Softened(usize),
    /// From that level.
    Level(usize),
}

/// Four cells and their weights.
struct Four {
    cells: [usize; 4],
    weights: [f32; 4],
}

impl Carried {
    pub(crate) fn new(sheets: usize, most: usize) -> Self {
        Self {
            most,
            edge: LEAST,
            base: None,
            pictures: vec![Vec::new(); sheets],
            there: Vec::new(),
            sums: vec![Vec::new(); sheets],
            counts: Vec::new(),
            soft: vec![Vec::new(); sheets],
            soft_there: Vec::new(),
        }
    }

    /// Carries nothing, in cells that are as wide as the texels of a dab whose radius is that many.
    pub(crate) fn empty(&mut self, radius_texels: f32) {
        let wanted = (2.0 * radius_texels).clamp(LEAST as f32, self.most as f32) as usize;
        self.edge = wanted.next_power_of_two().min(self.most);
        self.base = None;
        let all = first_of(self.edge, levels(self.edge));
        for picture in &mut self.pictures {
            picture.clear();
            picture.resize(all, 0.0);
        }
        self.there.clear();
        self.there.resize(all, 0.0);
    }

    pub(crate) fn begin_gathering(&mut self) {
        let cells = self.edge * self.edge;
        for sum in self.sums.iter_mut().chain([&mut self.counts]) {
            sum.clear();
            sum.resize(cells, 0.0);
        }
    }

    /// Adds the wanted texels of a block, which lie at `at`, to the cells that they lie in.
    pub(crate) fn gather(
        &mut self,
        wanted: u64,
        [right, down]: &[Lane; 2],
        (block, sheets): (&TexelBlock, &[Sheet]),
    ) {
        if wanted == 0 {
            return;
        }
        let half = self.edge as f32 * 0.5;
        let last = self.edge as f32 - 1.0;
        let mut cells = [0; BLOCK_TEXELS];
        for n in 0..BLOCK_TEXELS {
            let x = ((right[n] + 1.0) * half).clamp(0.0, last);
            let y = ((down[n] + 1.0) * half).clamp(0.0, last);
            cells[n] = y as usize * self.edge + x as usize;
        }
        let first = block.texel_index(wanted.trailing_zeros() as usize);
        let base = self
            .base
            .get_or_insert_with(|| sheets.iter().map(|sheet| sheet[first]).collect::<Vec<f32>>());
        for ((sum, sheet), base) in self.sums.iter_mut().zip(sheets).zip(base) {
            for (n, &cell) in cells.iter().enumerate() {
                if wanted >> n & 1 == 1 {
                    sum[cell] += sheet[block.texel_index(n)] - *base;
                }
            }
        }
        for (n, &cell) in cells.iter().enumerate() {
            self.counts[cell] += (wanted >> n & 1) as f32;
        }
    }

    /// Takes up what was gathered, and keeps a share of what it carried before; with no share, nothing of it.
    pub(crate) fn take_up(&mut self, kept: f32) {
        let cells = self.edge * self.edge;
        for (picture, sums) in self.pictures.iter_mut().zip(&self.sums) {
            for cell in 0..cells {
                if self.counts[cell] > 0.0 {
                    let gathered = sums[cell] / self.counts[cell];
                    let kept = kept * self.there[cell];
                    picture[cell] = gathered + (picture[cell] - gathered) * kept;
                }
            }
        }
        for (there, count) in self.there[..cells].iter_mut().zip(&self.counts) {
            let before = if kept > 0.0 { *there } else { 0.0 };
            *there = if *count > 0.0 { 1.0 } else { before };
        }
        self.make_coarser();
    }

    /// Each cell of a coarser picture is the mean of those of its four that hold anything.
    fn make_coarser(&mut self) {
        for level in 1..levels(self.edge) {
            let (from, to) = (first_of(self.edge, level - 1), first_of(self.edge, level));
            let (fine, edge) = (self.edge >> (level - 1), self.edge >> level);
            for y in 0..edge {
                for x in 0..edge {
                    let corner = from + 2 * y * fine + 2 * x;
                    let four = [corner, corner + 1, corner + fine, corner + fine + 1];
                    let there = four.map(|cell| self.there[cell]);
                    let count = there[0] + there[1] + there[2] + there[3];
                    let to = to + y * edge + x;
                    self.there[to] = count.min(1.0);
                    let share = if count > 0.0 { 1.0 / count } else { 0.0 };
                    for picture in &mut self.pictures {
                        let mut sum = 0.0;
                        for (cell, there) in four.into_iter().zip(there) {
                            sum += picture[cell] * there;
                        }
                        picture[to] = sum * share;
                    }
                }
            }
        }
    }

    /// Softens the picture in which `reach` radii are two to four cells; gives its level.
    pub(crate) fn soften(&mut self, reach: f32) -> usize {
        let mut level = 0;
        let mut cells = reach * self.edge as f32 * 0.5;
        while cells > 4.0 && level + 1 < levels(self.edge) {
            (cells, level) = (cells * 0.5, level + 1);
        }
        let (from, edge) = (first_of(self.edge, level), self.edge >> level);
        let there = &self.there[from..from + edge * edge];
        // A Gaussian's deviation is half of its reach; nothing is left of it three deviations away.
        let kernel = gaussian(f64::from(cells) * 0.5);
        let ones = vec![1.0; edge * edge];
        self.soft_there = softened(there, &ones, edge, &kernel);
        for (soft, picture) in self.soft.iter_mut().zip(&self.pictures) {
            *soft = softened(&picture[from..from + edge * edge], there, edge, &kernel);
        }
        level
    }

    /// Drawn from cells that are no smaller than texels of this width, in radii.
    pub(crate) fn level_for(&self, drawn: Drawn, texel: f32) -> Drawn {
        if drawn != Drawn::AsItIs {
            return drawn;
        }
        let mut cells = texel * self.edge as f32 * 0.5;
        let mut level = 0;
        while cells > 1.5 && level + 1 < levels(self.edge) {
            (cells, level) = (cells * 0.5, level + 1);
        }
        Drawn::Level(level)
    }

    /// Moves the wanted texels of a block, which lie at `at`, towards what is carried there, by their weights. Gives
    /// those that it has written.
    pub(crate) fn draw(
        &self,
        drawn: Drawn,
        (wanted, weights): (u64, &Lane),
        [right, down]: &[Lane; 2],
        (block, sheets): (&TexelBlock, &mut [Sheet]),
    ) -> u64 {
        let Some(base) = &self.base else { return 0 };
        let (level, soft) = match drawn {
            Drawn::AsItIs => (0, false),
            Drawn::Level(level) => (level, false),
            Drawn::Softened(level) => (level, true),
        };
        let mut written = 0;
        for n in 0..BLOCK_TEXELS {
            if wanted >> n & 1 == 0 || weights[n] <= 0.0 {
                continue;
            }
            let Some(four) = self.four(level, soft, right[n], down[n]) else { continue };
            let index = block.texel_index(n);
            for (number, sheet) in sheets.iter_mut().enumerate() {
                let picture = if soft { &self.soft[number] } else { &self.pictures[number] };
                let mut difference = 0.0;
                for (cell, weight) in four.cells.into_iter().zip(four.weights) {
                    difference += picture[cell] * weight;
                }
                let old = sheet[index];
                sheet[index] = old + (base[number] + difference - old) * weights[n];
            }
            written |= 1 << n;
        }
        written
    }

    /// The cells around a place, and how much each counts; none where they hold nothing.
    fn four(&self, level: usize, soft: bool, right: f32, down: f32) -> Option<Four> {
        let edge = self.edge >> level;
        let (first, there) =
            if soft { (0, &self.soft_there) } else { (first_of(self.edge, level), &self.there) };
        let last = (edge - 1) as f32;
        let x = ((right + 1.0) * 0.5 * edge as f32 - 0.5).clamp(0.0, last);
        let y = ((down + 1.0) * 0.5 * edge as f32 - 0.5).clamp(0.0, last);
        let (left, top) = (x as usize, y as usize);
        let (next, below) = ((left + 1).min(edge - 1), (top + 1).min(edge - 1));
        let (fx, fy) = (x - left as f32, y - top as f32);
        let at = |x: usize, y: usize| first + y * edge + x;
        let cells = [at(left, top), at(next, top), at(left, below), at(next, below)];
        let mut weights = [(1.0 - fx) * (1.0 - fy), fx * (1.0 - fy), (1.0 - fx) * fy, fx * fy];
        for (weight, &cell) in weights.iter_mut().zip(&cells) {
            *weight *= there[cell];
        }
        let sum = weights[0] + weights[1] + weights[2] + weights[3];
        (sum > 1e-3).then(|| Four { cells, weights: weights.map(|weight| weight / sum) })
    }

    pub(crate) fn bytes(&self) -> usize {
        let vectors = self.pictures.iter().chain(&self.sums).chain(&self.soft);
        let all = vectors.chain([&self.there, &self.counts, &self.soft_there]);
        all.map(|vector| vector.capacity() * size_of::<f32>()).sum()
    }
}

fn levels(edge: usize) -> usize {
    edge.ilog2() as usize + 1
}

/// Where a level's picture begins.
fn first_of(edge: usize, level: usize) -> usize {
    (0..level).map(|level| (edge >> level) * (edge >> level)).sum()
}

fn gaussian(deviation: f64) -> Vec<f32> {
    let reach = (3.0 * deviation).ceil().max(1.0) as i32;
    let at = |n: i32| libm::exp(-0.5 * (f64::from(n) / deviation.max(1e-3)).powi(2)) as f32;
    (-reach..=reach).map(at).collect()
}

/// A picture whose cells count as much as `there` says, softened across, then down. What holds nothing is as its
/// neighbours are.
fn softened(picture: &[f32], there: &[f32], edge: usize, kernel: &[f32]) -> Vec<f32> {
    let across = one_way((picture, there), (edge, 1), edge, kernel);
    let down = one_way((&across.0, &across.1), (1, edge), edge, kernel);
    down.0
}

/// Softens rows of cells that are `step` apart; rows begin `row` apart.
fn one_way(
    (picture, there): (&[f32], &[f32]),
    (row, step): (usize, usize),
    edge: usize,
    kernel: &[f32],
) -> (Vec<f32>, Vec<f32>) {
    let (mut values, mut weights) = (vec![0.0; picture.len()], vec![0.0; picture.len()]);
    let reach = kernel.len() / 2;
    for line in 0..edge {
        for n in 0..edge {
            let (mut sum, mut weight) = (0.0, 0.0);
            for (k, &share) in kernel.iter().enumerate() {
                let Some(other) = (n + k).checked_sub(reach).filter(|other| *other < edge) else {
                    continue;
                };
                let cell = line * row + other * step;
                sum += picture[cell] * (share * there[cell]);
                weight += share * there[cell];
            }
            let cell = line * row + n * step;
            if weight > 0.0 {
                (values[cell], weights[cell]) = (sum / weight, weight.min(1.0));
            }
        }
    }
    (values, weights)
}
