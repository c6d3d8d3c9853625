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
    /// How many sheets there are.
    sheets: usize,
    /// All pictures, the finest first: for each cell a number a sheet, as they are read together.
    pictures: Vec<f32>,
    /// Where the pictures hold anything: 1 or 0.
    there: Vec<f32>,
    /// What was gathered in the finest picture's cells.
    sums: Vec<f32>,
    /// How many texels that were.
    counts: Vec<f32>,
    /// The picture that was softened.
    soft: Vec<f32>,
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
#[derive(Clone, Copy)]
struct Four {
    cells: [usize; 4],
    weights: [f32; 4],
}

impl Four {
    const NOTHING: Self = Self { cells: [0; 4], weights: [0.0; 4] };
}

/// Those of a block's texels that are drawn on: a bit each.
struct Fours {
    of: [Four; BLOCK_TEXELS],
    there: u64,
}

/// What is drawn onto a block.
struct Drawing<'a> {
    fours: &'a Fours,
    weights: &'a Lane,
    block: &'a TexelBlock,
    picture: &'a [f32],
    /// Numbers a cell.
    stride: usize,
}

impl Drawing<'_> {
    /// Draws onto some sheets that follow one another from number `first` on.
    fn onto<const N: usize>(&self, sheets: &mut [&mut Sheet; N], first: usize, base: &[f32]) {
        let mut left = self.fours.there;
        while left != 0 {
            let n = left.trailing_zeros() as usize;
            left &= left - 1;
            let Four { cells, weights } = &self.fours.of[n];
            let mut difference = [0.0; N];
            for (cell, weight) in cells.iter().zip(weights) {
                let cell = &self.picture[cell * self.stride + first..][..N];
                for (sum, carried) in difference.iter_mut().zip(cell) {
                    *sum += carried * weight;
                }
            }
            let index = self.block.texel_index(n);
            for number in 0..N {
                let old = sheets[number][index];
                let wanted = base[number] + difference[number];
                sheets[number][index] = old + (wanted - old) * self.weights[n];
            }
        }
    }
}

impl Carried {
    pub(crate) fn new(sheets: usize, most: usize) -> Self {
        Self {
            most,
            edge: LEAST,
            base: None,
            sheets,
            pictures: Vec::new(),
            there: Vec::new(),
            sums: Vec::new(),
            counts: Vec::new(),
            soft: Vec::new(),
            soft_there: Vec::new(),
        }
    }

    /// Carries nothing, in cells that are as wide as the texels of a dab whose radius is that many.
    pub(crate) fn empty(&mut self, radius_texels: f32) {
        let wanted = (2.0 * radius_texels).clamp(LEAST as f32, self.most as f32) as usize;
        self.edge = wanted.next_power_of_two().min(self.most);
        self.base = None;
        let all = first_of(self.edge, levels(self.edge));
        self.pictures.clear();
        self.pictures.resize(all * self.sheets, 0.0);
        self.there.clear();
        self.there.resize(all, 0.0);
    }

    pub(crate) fn begin_gathering(&mut self) {
        let cells = self.edge * self.edge;
        self.sums.clear();
        self.sums.resize(cells * self.sheets, 0.0);
        self.counts.clear();
        self.counts.resize(cells, 0.0);
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
        for (n, &cell) in cells.iter().enumerate() {
            if wanted >> n & 1 == 1 {
                let index = block.texel_index(n);
                let sums = &mut self.sums[cell * self.sheets..][..self.sheets];
                for ((sum, sheet), base) in sums.iter_mut().zip(sheets).zip(&*base) {
                    *sum += sheet[index] - base;
                }
                self.counts[cell] += 1.0;
            }
        }
    }

    /// Takes up what was gathered, and keeps a share of what it carried before; with no share, nothing of it.
    pub(crate) fn take_up(&mut self, kept: f32) {
        // Where no cell has any paint there is nothing to carry.
        if self.sheets == 0 {
            return;
        }
        let cells = self.edge * self.edge;
        let (pictures, sums) =
            (self.pictures.chunks_exact_mut(self.sheets), self.sums.chunks_exact(self.sheets));
        for (((picture, sums), count), there) in
            pictures.zip(sums).zip(&self.counts).zip(&self.there)
        {
            if *count > 0.0 {
                let (share, kept) = (1.0 / count, kept * there);
                for (carried, sum) in picture.iter_mut().zip(sums) {
                    let gathered = sum * share;
                    *carried = gathered + (*carried - gathered) * kept;
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
                    // Coarser pictures stand behind.
                    let (finer, coarser) = self.pictures.split_at_mut(to * self.sheets);
                    let made = &mut coarser[..self.sheets];
                    made.fill(0.0);
                    for (cell, there) in four.into_iter().zip(there) {
                        let cell = &finer[cell * self.sheets..][..self.sheets];
                        for (made, carried) in made.iter_mut().zip(cell) {
                            *made += carried * (there * share);
                        }
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
        let picture = &self.pictures[from * self.sheets..][..edge * edge * self.sheets];
        // A Gaussian's deviation is half of its reach; nothing is left of it three deviations away.
        let kernel = gaussian(f64::from(cells) * 0.5);
        let across = one_way((picture, there), (edge, 1), edge, &kernel);
        (self.soft, self.soft_there) = one_way((&across.0, &across.1), (1, edge), edge, &kernel);
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
        let fours = self.fours((level, soft), (wanted, weights), [right, down]);
        let picture = if soft { &self.soft } else { &self.pictures };
        let drawn = Drawing { fours: &fours, weights, block, picture, stride: self.sheets };
        for (first, sheets) in (0..).step_by(4).zip(sheets.chunks_mut(4)) {
            let base = &base[first..];
            match sheets {
                [a, b, c, d] => drawn.onto(&mut [a, b, c, d], first, base),
                [a, b, c] => drawn.onto(&mut [a, b, c], first, base),
                [a, b] => drawn.onto(&mut [a, b], first, base),
                [a] => drawn.onto(&mut [a], first, base),
                _ => {}
            }
        }
        fours.there
    }

    /// The cells around each texel that is drawn on.
    fn fours(
        &self,
        (level, soft): (usize, bool),
        (wanted, weights): (u64, &Lane),
        [right, down]: [&Lane; 2],
    ) -> Fours {
        let mut fours = Fours { of: [Four::NOTHING; BLOCK_TEXELS], there: 0 };
        for n in 0..BLOCK_TEXELS {
            if wanted >> n & 1 == 1
                && weights[n] > 0.0
                && let Some(four) = self.four(level, soft, right[n], down[n])
            {
                fours.of[n] = four;
                fours.there |= 1 << n;
            }
        }
        fours
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
        let vectors = [&self.pictures, &self.sums, &self.soft];
        let all = vectors.into_iter().chain([&self.there, &self.counts, &self.soft_there]);
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

/// Softens rows of cells that are `step` apart; rows begin `row` apart. Cells count as much as `there` says; what holds
/// nothing is as its neighbours are. Gives the cells, and which of them hold anything.
fn one_way(
    (picture, there): (&[f32], &[f32]),
    (row, step): (usize, usize),
    edge: usize,
    kernel: &[f32],
) -> (Vec<f32>, Vec<f32>) {
    let sheets = picture.len() / there.len();
    let (mut values, mut held) = (vec![0.0; picture.len()], vec![0.0; there.len()]);
    let reach = kernel.len() / 2;
    for line in 0..edge {
        for n in 0..edge {
            let cell = line * row + n * step;
            let made = &mut values[cell * sheets..][..sheets];
            let mut weight = 0.0;
            for (k, &share) in kernel.iter().enumerate() {
                let Some(other) = (n + k).checked_sub(reach).filter(|other| *other < edge) else {
                    continue;
                };
                let other = line * row + other * step;
                let share = share * there[other];
                weight += share;
                for (made, carried) in made.iter_mut().zip(&picture[other * sheets..]) {
                    *made += carried * share;
                }
            }
            if weight > 0.0 {
                for made in made.iter_mut() {
                    *made /= weight;
                }
                held[cell] = 1.0;
            }
        }
    }
    (values, held)
}
