//! A picture in the dab's own frame: a square of cells, each of which holds numbers or nothing.

use glam::Vec4;
use rayon::prelude::*;

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Picture {
    /// Cells along an edge.
    pub(crate) edge: usize,
    /// For each four sheets their numbers, cell by cell, row by row.
    pub(crate) fours: Vec<Vec<Vec4>>,
    /// 1 where a cell holds anything, else 0.
    pub(crate) there: Vec<f32>,
}

impl Picture {
    /// Makes it hold nothing.
    pub(crate) fn empty(&mut self, edge: usize, fours: usize) {
        let cells = edge * edge;
        self.edge = edge;
        self.fours.resize_with(fours, Vec::new);
        for four in &mut self.fours {
            four.clear();
            four.resize(cells, Vec4::ZERO);
        }
        self.there.clear();
        self.there.resize(cells, 0.0);
    }

    /// Makes it the one of half the edge: each cell is the mean of those of its four that hold anything.
    pub(crate) fn halve(&mut self, finer: &Self) {
        let (edge, fine) = (self.edge, finer.edge);
        let corners = |x: usize, y: usize| {
            let corner = 2 * y * fine + 2 * x;
            [corner, corner + 1, corner + fine, corner + fine + 1]
        };
        let share = |count: f32| if count > 0.0 { 1.0 / count } else { 0.0 };
        for (cells, finest) in self.fours.iter_mut().zip(&finer.fours) {
            cells.par_chunks_mut(edge).enumerate().for_each(|(y, row)| {
                for (x, cell) in row.iter_mut().enumerate() {
                    let (mut sum, mut count) = (Vec4::ZERO, 0.0);
                    for corner in corners(x, y) {
                        sum += finest[corner] * finer.there[corner];
                        count += finer.there[corner];
                    }
                    *cell = sum * share(count);
                }
            });
        }
        for (number, there) in self.there.iter_mut().enumerate() {
            let four = corners(number % edge, number / edge).map(|cell| finer.there[cell]);
            *there = four.iter().sum::<f32>().min(1.0);
        }
    }

    /// Makes it a coarser one, drawn smoothly in its own cells.
    pub(crate) fn resample(&mut self, coarse: &Self) {
        let edge = self.edge;
        let step = coarse.edge as f32 / edge as f32;
        let last = (coarse.edge - 1) as f32;
        // The cell before, and how far beyond it.
        let along = |n: usize| {
            let at = ((n as f32 + 0.5) * step - 0.5).clamp(0.0, last);
            let first = (at as usize).min(coarse.edge - 2);
            (first, at - first as f32)
        };
        for cell in 0..edge * edge {
            let ((x, right), (y, below)) = (along(cell % edge), along(cell / edge));
            let first = y * coarse.edge + x;
            let cells = [first, first + 1, first + coarse.edge, first + coarse.edge + 1];
            let shares = [
                (1.0 - right) * (1.0 - below),
                right * (1.0 - below),
                (1.0 - right) * below,
                right * below,
            ];
            let held = |n: usize| shares[n] * coarse.there[cells[n]];
            let all = (0..4).map(held).sum::<f32>();
            if all > 0.0 {
                self.there[cell] = 1.0;
                for (fine, coarse) in self.fours.iter_mut().zip(&coarse.fours) {
                    let sum: Vec4 = (0..4).map(|n| coarse[cells[n]] * held(n)).sum();
                    fine[cell] = sum / all;
                }
            }
        }
    }

    /// Makes it a softened one, `kernel` wide; `between` is softened one way only. Cells that hold nothing become as
    /// their neighbours are.
    pub(crate) fn soften(&mut self, sharp: &Self, between: &mut Self, kernel: &[f32]) {
        between.empty(sharp.edge, sharp.fours.len());
        between.soften_one_way(sharp, 1, kernel);
        self.empty(sharp.edge, sharp.fours.len());
        self.soften_one_way(between, sharp.edge, kernel);
    }

    /// Softens along cells that are `step` apart.
    fn soften_one_way(&mut self, sharp: &Self, step: usize, kernel: &[f32]) {
        let (edge, reach) = (sharp.edge, kernel.len() / 2);
        // The numbers of a cell's neighbours that hold anything, and how much each counts.
        let around = |cell: usize| {
            let along = if step == 1 { cell % edge } else { cell / edge };
            let first = cell - along * step;
            let from = along.saturating_sub(reach);
            (from..edge.min(along + reach + 1)).map(move |n| {
                let other = first + n * step;
                (other, kernel[n + reach - along] * sharp.there[other])
            })
        };
        let weight = |cell: usize| around(cell).map(|(_, share)| share).sum::<f32>();
        self.there.par_chunks_mut(edge).enumerate().for_each(|(y, row)| {
            for (x, there) in row.iter_mut().enumerate() {
                *there = weight(y * edge + x);
            }
        });
        for (soft, sharp) in self.fours.iter_mut().zip(&sharp.fours) {
            soft.par_chunks_mut(edge).enumerate().for_each(|(y, row)| {
                for (x, soft) in row.iter_mut().enumerate() {
                    let cell = y * edge + x;
                    if self.there[cell] > 0.0 {
                        let sum: Vec4 = around(cell).map(|(o, share)| sharp[o] * share).sum();
                        *soft = sum / self.there[cell];
                    }
                }
            });
        }
        for there in &mut self.there {
            *there = if *there > 0.0 { 1.0 } else { 0.0 };
        }
    }

    pub(crate) fn bytes(&self) -> usize {
        let fours = self.fours.iter().map(|four| four.capacity() * size_of::<Vec4>());
        fours.sum::<usize>() + self.there.capacity() * size_of::<f32>()
    }
}

/// The shares of a Gaussian of this deviation, in cells; nothing is left of it three deviations away.
pub(crate) fn gaussian(deviation: f64) -> Vec<f32> {
    let reach = (3.0 * deviation).ceil().max(1.0) as i32;
    let at = |n: i32| libm::exp(-0.5 * (f64::from(n) / deviation.max(1e-3)).powi(2)) as f32;
    (-reach..=reach).map(at).collect()
}
