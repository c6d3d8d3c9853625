//! Texels and their neighbours over the surface, for what spreads from texel to texel: flooding, growing, softening.
//!
//! Neighbours are told in texture space, within an island. A padding texel stands for the texel across the seam that
//! shows its point, so that what spreads into padding goes on there: over a seam as anywhere, but for the size of
//! texels, which is each island's own.

use raster::Observer;
use rayon::prelude::*;
use surface::{DecodedTile, Surface, TexelMap};

use crate::BrushError;

/// No island: the texel shows nothing.
const NONE: u32 = u32::MAX;

/// See the module. Values stand row by row, one for each texel of the texture.
#[derive(Debug)]
pub struct Neighbourhood {
    edge: usize,
    /// Texels around islands that show what lies across a seam.
    padding: usize,
    /// The island of each texel; of padding the one that it borders.
    islands: Vec<u32>,
    /// A padding texel and the texel across the seam that it stands for, by the first.
    across: Vec<(u32, u32)>,
}

/// A texel, its island, and the texel that it stands for.
type Known = (u32, u32, Option<u32>);

impl Neighbourhood {
    /// Of one material at one size.
    ///
    /// # Errors
    /// [`BrushError`] when the observer stops it.
    pub fn new(
        surface: &Surface,
        map: &TexelMap,
        observer: &dyn Observer,
    ) -> Result<Self, BrushError> {
        let edge = map.size().edge();
        let places: Vec<_> = map.tiles().collect();
        let known = places.par_iter().map_init(DecodedTile::default, |decoded, at| {
            observer.check()?;
            map.decode(surface, *at, decoded);
            let (left, top) = at.first_texel();
            let known = decoded.texels().map(|texel| {
                let index = u32::from(texel.index);
                let place = (top + index / 64) * edge + left + index % 64;
                let uv = texel.uv.as_dvec2() * f64::from(edge);
                let stands_for = texel.padding.then(|| nearest_owned(map, uv.to_array())).flatten();
                let island = surface.islands().island_of(texel.owner).map_or(NONE, |id| id.0);
                (place, island, stands_for)
            });
            Ok(known.collect::<Vec<Known>>())
        });
        let known: Vec<Vec<Known>> = known.collect::<Result<_, BrushError>>()?;
        let mut islands = vec![NONE; map.size().extent().texels()];
        let mut across = Vec::new();
        for (place, island, stands_for) in known.into_iter().flatten() {
            islands[place as usize] = island;
            across.extend(stands_for.map(|other| (place, other)));
        }
        across.sort_unstable();
        Ok(Self { edge: edge as usize, padding: map.padding() as usize, islands, across })
    }

    /// Takes away what stands in texels that show nothing.
    pub fn clear_unshown(&self, values: &mut [u16]) {
        let texels = values.par_iter_mut().zip(&self.islands);
        texels.filter(|(_, island)| **island == NONE).for_each(|(value, _)| *value = 0);
    }

    /// True when every texel that shows anything is full.
    pub fn is_full(&self, values: &[u16]) -> bool {
        let mut texels = values.iter().zip(&self.islands);
        texels.all(|(value, island)| *island == NONE || *value == u16::MAX)
    }

    /// The texels that hang together with one of them, side by side or across a seam, all of them `alike`.
    pub fn connected(&self, from: usize, alike: &[bool]) -> Vec<bool> {
        let mut alike = alike.to_vec();
        for (padding, other) in &self.across {
            alike[*padding as usize] = alike[*other as usize];
        }
        // Back again: the padding that stands for a texel.
        let mut back: Vec<(u32, u32)> = self.across.iter().map(|(a, b)| (*b, *a)).collect();
        back.sort_unstable();
        let mut found = vec![false; alike.len()];
        let mut waiting = vec![from];
        while let Some(at) = waiting.pop() {
            if found[at] || !alike[at] || self.islands[at] == NONE {
                continue;
            }
            found[at] = true;
            for pairs in [&self.across, &back] {
                let first = pairs.partition_point(|(key, _)| (*key as usize) < at);
                let same = pairs[first..].iter().take_while(|(key, _)| *key as usize == at);
                waiting.extend(same.map(|(_, other)| *other as usize));
            }
            waiting.extend(self.beside(at));
        }
        found
    }

    /// The four texels beside one, of the same island.
    fn beside(&self, at: usize) -> impl Iterator<Item = usize> {
        let (edge, x, y) = (self.edge, at % self.edge, at / self.edge);
        let left = (x > 0).then(|| at - 1);
        let right = (x + 1 < edge).then(|| at + 1);
        let above = (y > 0).then(|| at - edge);
        let below = (y + 1 < edge).then(|| at + edge);
        let all = [left, right, above, below].into_iter().flatten();
        all.filter(move |other| self.islands[*other] == self.islands[at])
    }

    /// Puts what lies across seams into padding.
    fn carry(&self, values: &mut [u16]) {
        let carried: Vec<u16> =
            self.across.par_iter().map(|(_, from)| values[*from as usize]).collect();
        for ((to, _), value) in self.across.iter().zip(carried) {
            values[*to as usize] = value;
        }
    }

    /// Spreads what is high by some texels, or what is low where `texels` is negative. Steps to four neighbours and to
    /// eight alternate, so that a point becomes an octagon (Rosenfeld and Pfaltz, 1968). Where the surface ends,
    /// nothing comes in.
    ///
    /// # Errors
    /// [`BrushError`] when the observer stops it.
    pub fn grow(
        &self,
        values: &mut Vec<u16>,
        texels: i32,
        observer: &dyn Observer,
    ) -> Result<(), BrushError> {
        let steps = texels.unsigned_abs();
        let flip = if texels < 0 { u16::MAX } else { 0 };
        values.par_iter_mut().for_each(|value| *value ^= flip);
        for step in 0..steps {
            observer.progress(u64::from(step), u64::from(steps));
            observer.check()?;
            self.carry(values);
            *values = self.spread(values, step % 2 == 1);
        }
        self.carry(values);
        values.par_iter_mut().for_each(|value| *value ^= flip);
        Ok(())
    }

    /// The highest of each texel and its neighbours in the island.
    fn spread(&self, values: &[u16], to_corners: bool) -> Vec<u16> {
        let (edge, islands) = (self.edge, &self.islands);
        let mut spread = values.to_vec();
        spread.par_chunks_exact_mut(edge).enumerate().for_each(|(y, row)| {
            for (x, highest) in row.iter_mut().enumerate() {
                let island = islands[y * edge + x];
                if island == NONE {
                    continue;
                }
                let (left, right) = (x.saturating_sub(1), (x + 1).min(edge - 1));
                for other in y.saturating_sub(1)..=(y + 1).min(edge - 1) {
                    let all = if to_corners || other == y { left..=right } else { x..=x };
                    let places = all.map(|x| other * edge + x);
                    for place in places.filter(|place| islands[*place] == island) {
                        *highest = values[place].max(*highest);
                    }
                }
            }
        });
        spread
    }

    /// Averages each texel with those around it, up to `texels` away: boxes one after the other, three or more, which
    /// come near to a Gaussian (Wells, 1986).
    ///
    /// # Errors
    /// [`BrushError`] when the observer stops it.
    pub fn soften(
        &self,
        values: &mut [u16],
        texels: u32,
        observer: &dyn Observer,
    ) -> Result<(), BrushError> {
        // No box reaches farther than padding tells of what lies across a seam.
        let passes = (texels as usize).div_ceil(self.padding.max(1)).max(3);
        let mut left = texels as usize;
        for pass in 0..passes {
            observer.progress(pass as u64, passes as u64);
            observer.check()?;
            let reach = left.div_ceil(passes - pass);
            left -= reach;
            self.carry(values);
            self.average(values, reach);
        }
        self.carry(values);
        Ok(())
    }

    /// Averages over a box, along rows and then along columns, as far as the island goes on there.
    fn average(&self, values: &mut [u16], reach: usize) {
        let (edge, islands) = (self.edge, &self.islands);
        let rows: Vec<(u64, u64)> = (0..edge)
            .into_par_iter()
            .flat_map_iter(|y| {
                let places = y * edge..(y + 1) * edge;
                let one = |place: usize| (u64::from(values[place]), 1);
                box_sums(places, islands, reach, one)
            })
            .collect();
        let columns: Vec<Vec<u16>> = (0..edge)
            .into_par_iter()
            .map(|x| {
                let places = (0..edge).map(|y| y * edge + x);
                let sums = box_sums(places, islands, reach, |place| rows[place]);
                let average = |(sum, count): (u64, u64)| (sum + count / 2) / count.max(1);
                sums.into_iter().map(|sums| average(sums) as u16).collect()
            })
            .collect();
        values.par_chunks_exact_mut(edge).enumerate().for_each(|(y, row)| {
            for (x, value) in row.iter_mut().enumerate() {
                if islands[y * edge + x] != NONE {
                    *value = columns[x][y];
                }
            }
        });
    }
}

/// For each of some places in a line the sums of what `one` gives from `reach` before it to `reach` after it, as far as
/// its island goes on.
fn box_sums(
    places: impl Iterator<Item = usize>,
    islands: &[u32],
    reach: usize,
    one: impl Fn(usize) -> (u64, u64),
) -> Vec<(u64, u64)> {
    let places: Vec<usize> = places.collect();
    let mut sums = Vec::with_capacity(places.len());
    let mut before = Vec::new();
    for run in places.chunk_by(|a, b| islands[*a] == islands[*b]) {
        before.clear();
        before.push((0, 0));
        let mut total = (0, 0);
        for place in run {
            let more = one(*place);
            total = (total.0 + more.0, total.1 + more.1);
            before.push(total);
        }
        sums.extend((0..run.len()).map(|at| {
            let (first, past) = (at.saturating_sub(reach), (at + reach + 1).min(run.len()));
            (before[past].0 - before[first].0, before[past].1 - before[first].1)
        }));
    }
    sums
}

/// The owned texel nearest to a place, in texels, of the one that holds it and those around it.
fn nearest_owned(map: &TexelMap, [x, y]: [f64; 2]) -> Option<u32> {
    let edge = map.size().edge();
    let around = |at: f64| {
        let middle = at.floor() as i64;
        let near = (middle - 1..=middle + 1).filter_map(|at| u32::try_from(at).ok());
        near.filter(move |at| *at < edge)
    };
    let near = around(y).flat_map(|row| around(x).map(move |column| (column, row)));
    let away = |(column, row): &(u32, u32)| {
        let (dx, dy) = (f64::from(*column) + 0.5 - x, f64::from(*row) + 0.5 - y);
        dx * dx + dy * dy
    };
    near.filter(|(column, row)| map.owner(*column, *row).is_some())
        .min_by(|a, b| away(a).total_cmp(&away(b)))
        .map(|(column, row)| row * edge + column)
}
