//! What a renderer looks up of an environment: reflections by roughness, and irradiance.

use std::sync::atomic::{AtomicU64, Ordering};

use glam::{Mat3A, Vec3, Vec3A};
use half::f16;
use raster::{Cancelled, Observer};
use rayon::prelude::*;

use super::Environment;
use super::cube::{CubeLevel, CubeTexel, FACES, solid_angles};
use super::lobe::{LobeSample, lobe};
use crate::shading::ShIrradiance;

/// Texels on an edge of a face of the sharpest level.
pub const CUBE_EDGE: usize = 256;

/// Levels: 256, 128, .. 8 texels on an edge. Level l shows roughness `1 - sqrt(1 - l/5)`, which
/// [`crate::shading::reflection_lod`] undoes.
pub const CUBE_LEVELS: usize = 6;

/// Samples of each texel of the blurred levels: with the widths of their lobes they are about even in what they
/// miss, half a percent of a lamp's radiance at its rim.
const SAMPLES: [u32; CUBE_LEVELS - 1] = [32, 128, 256, 512, 512];

/// Edge of the level from which irradiance is taken: nine harmonics see nothing finer.
const IRRADIANCE_EDGE: usize = 32;

/// An environment, ready for upload.
#[derive(Debug, Clone, PartialEq)]
pub struct Prefiltered {
    /// For a cube texture `Rgba16Float` of [`CUBE_EDGE`] and [`CUBE_LEVELS`]: level by level, in each the faces +X,
    /// -X, +Y, -Y, +Z, -Z, row by row. Bits of half floats; alpha is 1.
    pub levels: Vec<Vec<[u16; 4]>>,
    /// Irradiance about each normal.
    pub irradiance: ShIrradiance,
}

impl Prefiltered {
    /// Filters an environment over all threads of the pool that it is called in.
    ///
    /// # Errors
    /// [`Cancelled`] if the observer asks to stop.
    pub fn new(environment: &Environment, observer: &dyn Observer) -> Result<Self, Cancelled> {
        let mut pyramid = vec![environment.sky.clone()];
        while let Some(half) = pyramid.last().filter(|level| level.edge > 1).map(CubeLevel::halved)
        {
            observer.check()?;
            pyramid.push(half);
        }
        let blurs: Vec<Blur> = SAMPLES.into_iter().enumerate().map(Blur::new).collect();
        let work =
            Work { observer, done: AtomicU64::new(0), total: blurs.iter().map(Blur::cost).sum() };
        let mut levels = vec![halves(&environment.sky)];
        for blur in &blurs {
            levels.push(blur.run(&pyramid, &work)?);
        }
        let irradiance = pyramid.iter().find(|level| level.edge == IRRADIANCE_EDGE);
        let irradiance = irradiance.unwrap_or(&environment.sky);
        Ok(Self { levels, irradiance: irradiance_of(irradiance) })
    }
}

struct Work<'a> {
    observer: &'a dyn Observer,
    done: AtomicU64,
    total: u64,
}

/// One blurred level: its lobe, and from which level of the pyramid each sample is read.
struct Blur {
    edge: usize,
    samples: Vec<(LobeSample, usize)>,
}

impl Blur {
    fn new((at, count): (usize, u32)) -> Self {
        let level = at + 1;
        let share = level as f32 / (CUBE_LEVELS - 1) as f32;
        let roughness = 1.0 - (1.0 - share).sqrt();
        let placed = |sample: LobeSample| (sample, sample.level(CUBE_EDGE));
        let samples = lobe(roughness * roughness, count).into_iter().map(placed).collect();
        Self { edge: CUBE_EDGE >> level, samples }
    }

    fn row_cost(&self) -> u64 {
        (self.edge * self.samples.len()) as u64
    }

    fn cost(&self) -> u64 {
        (FACES * self.edge) as u64 * self.row_cost()
    }

    fn run(&self, pyramid: &[CubeLevel], work: &Work<'_>) -> Result<Vec<[u16; 4]>, Cancelled> {
        let mut texels = vec![[0; 4]; FACES * self.edge * self.edge];
        texels.par_chunks_mut(self.edge).enumerate().try_for_each(|(at, row)| {
            work.observer.check()?;
            for (column, texel) in row.iter_mut().enumerate() {
                let place = CubeTexel {
                    edge: self.edge,
                    face: at / self.edge,
                    row: at % self.edge,
                    column,
                };
                *texel = half_floats(self.seen(pyramid, place.middle()));
            }
            let done = work.done.fetch_add(self.row_cost(), Ordering::Relaxed) + self.row_cost();
            work.observer.progress(done, work.total);
            Ok(())
        })?;
        Ok(texels)
    }

    /// Radiance that a surface of this roughness mirrors from about a direction.
    fn seen(&self, pyramid: &[CubeLevel], direction: Vec3) -> Vec3A {
        let (x, y) = direction.any_orthonormal_pair();
        let frame = Mat3A::from_cols(x.into(), y.into(), direction.into());
        let mut sum = Vec3A::ZERO;
        for (sample, level) in &self.samples {
            let source = &pyramid[(*level).min(pyramid.len() - 1)];
            sum += source.sample(frame * sample.direction) * sample.weight;
        }
        sum
    }
}

fn irradiance_of(level: &CubeLevel) -> ShIrradiance {
    let areas = solid_angles(level.edge);
    ShIrradiance::from_radiance(CubeTexel::all(level.edge).map(|texel| {
        let radiance = level.texels[level.index(texel)];
        (texel.middle(), radiance.into(), areas[texel.row * level.edge + texel.column])
    }))
}

fn halves(level: &CubeLevel) -> Vec<[u16; 4]> {
    CubeTexel::all(level.edge).map(|texel| half_floats(level.texels[level.index(texel)])).collect()
}

fn half_floats(radiance: Vec3A) -> [u16; 4] {
    radiance.extend(1.0).to_array().map(|value| f16::from_f32(value).to_bits())
}
