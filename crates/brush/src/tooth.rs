//! The texture inside a brush, as a canvas has tooth: a share of 0..1 for each point of the surface, by which
//! what a dab adds there is multiplied.
//!
//! It is a function of the point itself, not of where that lies in a layout: so it meets itself at seams, is
//! the same under any layout, and stays in place under repeated strokes. Patterns need no image and never repeat; an
//! image is laid on from the three sides of a box along the part's axis, and repeats only where that is asked for. A
//! tooth may also be stamped: then it belongs to the dab, as its outline does (`imprint`).
//!
//! It is worked out for the texels of a block at once, inlined by force into vector code.
#![expect(clippy::inline_always, reason = "a call would leave the vector code")]

mod hash;
mod laid_on;
mod noise;
mod on_block;

pub(crate) use hash::{hash3, unit};

use glam::Vec3;
use surface::BLOCK_TEXELS;

use crate::kernel::Lane;
use crate::{BrushError, GreyImage};
pub(crate) use noise::Space;
use noise::{cellular, gradient, specks, value};

/// What a tooth looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Pattern {
    /// Soft blotches: value noise in two sizes.
    Value,
    /// Clouds: gradient noise in four sizes.
    Gradient,
    /// Cells with dark borders, as dried mud has.
    Cellular,
    /// Long soft strands along the part's axis.
    Fibres,
    /// Round specks of many sizes.
    Speckle,
    /// Thin lines, along the part's axis or in all directions.
    Scratches,
    /// Small round holes.
    Pores,
}

impl Pattern {
    /// Every pattern.
    pub const ALL: [Self; 7] = [
        Self::Value,
        Self::Gradient,
        Self::Cellular,
        Self::Fibres,
        Self::Speckle,
        Self::Scratches,
        Self::Pores,
    ];

    /// True where it follows the part's axis.
    pub fn has_direction(self) -> bool {
        matches!(self, Self::Fibres | Self::Scratches)
    }
}

/// How an image is laid over a surface that is larger than it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tiling {
    /// In pieces of it that are scattered and blended (Heitz and Neyret 2018), so that nothing repeats: for rust,
    /// dirt, plaster.
    Unstructured,
    /// Side by side, so that what is built stays whole: for weave, planks, bricks.
    Structured,
}

/// What a tooth shows.
#[derive(Debug, Clone, PartialEq)]
pub enum Relief {
    /// One of ours.
    Pattern(Pattern),
    /// An image.
    Image(GreyImage, Tiling),
}

impl Relief {
    /// The image, where it is one.
    pub fn image(&self) -> Option<&GreyImage> {
        match self {
            Self::Image(image, _) => Some(image),
            Self::Pattern(_) => None,
        }
    }

    /// True where it follows the part's axis.
    pub fn has_direction(&self) -> bool {
        match self {
            Self::Image(..) => true,
            Self::Pattern(pattern) => pattern.has_direction(),
        }
    }
}

/// What a tooth belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hold {
    /// The surface: it stays where it is.
    Anchored,
    /// The dab: each brings it along, and it lies as the tip does.
    Stamped,
}

/// A brush's tooth. Copies share its image.
#[derive(Debug, Clone, PartialEq)]
pub struct Tooth {
    /// What it shows.
    pub relief: Relief,
    /// What it belongs to.
    pub hold: Hold,
    /// Size of its features, of an image the longer edge: in model units where it is anchored, in shares of the
    /// brush's radius where it is stamped; 1e-6 or more.
    pub scale: f32,
    /// How deep it is, 0..1: at 0 it does nothing, at 1 its valleys take no paint.
    pub depth: f32,
    /// How hard its edges are, 0..1: 0 as the noise is, 1 paint or none.
    pub contrast: f32,
    /// The share of the surface, 0..1, that takes more than half of the paint, roughly.
    pub level: f32,
    /// It runs along the part's axis, for what has a direction; else along +Y, or all ways.
    pub along_axis: bool,
    /// Which of many alike.
    pub seed: u32,
}

impl Default for Tooth {
    fn default() -> Self {
        Self {
            relief: Relief::Pattern(Pattern::Gradient),
            hold: Hold::Anchored,
            scale: 0.02,
            depth: 1.0,
            contrast: 0.5,
            level: 0.5,
            along_axis: true,
            seed: 1,
        }
    }
}

/// A point of the surface, as a tooth sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToothPoint {
    /// Where it is, in model units.
    pub position: Vec3,
    /// The surface's normal there, unit length.
    pub normal: Vec3,
    /// The part's axis, unit length, where it is to be followed.
    pub axis: Option<Vec3>,
}

impl Tooth {
    /// # Errors
    /// [`BrushError::Setting`] naming the first setting outside of its range.
    pub fn check(&self) -> Result<(), BrushError> {
        let wanted = [
            ("size of the tooth", self.scale, 1e-6..=1e6, "1e-6 to 1e6 model units"),
            ("depth of the tooth", self.depth, 0.0..=1.0, "0 to 1"),
            ("contrast of the tooth", self.contrast, 0.0..=1.0, "0 to 1"),
            ("level of the tooth", self.level, 0.0..=1.0, "0 to 1"),
        ];
        for (what, value, allowed, range) in wanted {
            if !allowed.contains(&value) {
                return Err(BrushError::Setting { what, value: f64::from(value), range });
            }
        }
        Ok(())
    }

    /// True where it belongs to the dab.
    pub fn is_stamped(&self) -> bool {
        self.hold == Hold::Stamped
    }

    /// The share of a dab that a point takes, 0..1, where it is anchored.
    pub fn at(&self, point: &ToothPoint) -> f32 {
        let normal = Space::of(|_| point.normal);
        let axis = point.axis.map(|axis| Space::of(|_| axis));
        let places = Places { position: Space::of(|_| point.position), normal, axis };
        self.shares(&places)[0]
    }

    /// The shares that the texels of a block take.
    #[inline(always)]
    pub(crate) fn shares(&self, places: &Places) -> Lane {
        let mut shares = self.heights(places);
        // The level is where the slope is steepest: low levels leave only the peaks.
        let (from, width) = (1.0 - self.level, 1.0 - 0.98 * self.contrast);
        for share in &mut shares {
            let taken = ((*share - from) / width + 0.5).clamp(0.0, 1.0);
            *share = 1.0 - self.depth * (1.0 - taken);
        }
        shares
    }

    /// The noise itself, 0..1.
    #[inline(always)]
    fn heights(&self, places: &Places) -> Lane {
        let (scale, seed) = (self.scale, self.seed);
        let p = places.position.map(|p| p / scale);
        let pattern = match &self.relief {
            Relief::Pattern(pattern) => pattern,
            Relief::Image(image, tiling) => {
                return laid_on::heights(image, *tiling, &p, places, seed);
            }
        };
        match pattern {
            Pattern::Value => blotches(&p, seed),
            Pattern::Gradient => clouds(&p, seed),
            Pattern::Cellular => {
                let (first, second) = cellular(&p, seed);
                lane(|n| ((second[n] - first[n]) * 2.5).min(1.0))
            }
            Pattern::Fibres => fibres(&p, places.axis.as_ref(), seed),
            Pattern::Speckle => specks(&p, seed, |its| 0.06 + 0.44 * its * its),
            Pattern::Scratches => scratches(&p, places, seed),
            Pattern::Pores => {
                let holes = specks(&p, seed, |its| 0.08 + 0.22 * its);
                lane(|n| 1.0 - holes[n])
            }
        }
    }
}

/// What a tooth needs to know of a block's texels.
pub(crate) struct Places {
    /// In model units.
    pub(crate) position: Space,
    pub(crate) normal: Space,
    /// Where it is followed.
    pub(crate) axis: Option<Space>,
}

#[inline(always)]
fn lane(value: impl Fn(usize) -> f32) -> Lane {
    let mut lane = [0.0; BLOCK_TEXELS];
    for (n, kept) in lane.iter_mut().enumerate() {
        *kept = value(n);
    }
    lane
}

/// Turned by an angle whose cosine is 0.8, and its axes exchanged.
#[inline(always)]
fn turned(p: Vec3) -> Vec3 {
    Vec3::new(0.8 * p.y + 0.6 * p.z, 0.8 * p.z - 0.6 * p.y, p.x)
}

/// Value noise in three sizes, each lattice turned another way: alone it shows its cubes.
#[inline(always)]
fn blotches(p: &Space, seed: u32) -> Lane {
    let first = p.map(turned).map(turned);
    let second = first.map(turned).map(|p| turned(p) * 1.93);
    let third = second.map(turned).map(|p| turned(p) * 2.12);
    let (a, b, c) = (value(&first, seed), value(&second, seed ^ 1), value(&third, seed ^ 2));
    lane(|n| a[n] * 0.5 + b[n] * 0.3 + c[n] * 0.2)
}

/// Four octaves of gradient noise, each of half the size and half the height; 0..1, mean 1/2.
#[inline(always)]
fn clouds(p: &Space, seed: u32) -> Lane {
    let (mut sum, mut height, mut scaled) = ([0.5; BLOCK_TEXELS], 0.5, *p);
    for octave in 0..4 {
        let noise = gradient(&scaled, seed.wrapping_add(octave));
        sum = lane(|n| sum[n] + height * noise[n]);
        // Not twice, lest the lattices meet where all are 0.
        (height, scaled) = (height * 0.5, scaled.map(|p| p * 2.03 + Vec3::splat(0.37)));
    }
    lane(|n| sum[n].clamp(0.0, 1.0))
}

/// How much longer than thick fibres are.
const STRETCH: f32 = 14.0;

/// Gradient noise in two sizes, stretched along the axis, or +Y, and a little wavy.
#[inline(always)]
fn fibres(p: &Space, axis: Option<&Space>, seed: u32) -> Lane {
    let waves = gradient(&p.map(|p| p * 0.1), seed ^ 7);
    let strands = Space::of(|n| {
        let (p, axis) = (p.at(n), axis.map_or(Vec3::Y, |axis| axis.at(n)));
        let across = Vec3::new(axis.y, axis.z, axis.x);
        p - axis * (p.dot(axis) * (1.0 - 1.0 / STRETCH)) + across * waves[n]
    });
    let (coarse, fine) = (gradient(&strands, seed), gradient(&strands.map(|p| p * 2.7), seed ^ 1));
    lane(|n| (0.5 + 0.7 * coarse[n] + 0.45 * fine[n]).clamp(0.0, 1.0))
}

/// Sheets through space cut the surface in lines; each sheet comes and goes along its way.
#[inline(always)]
fn scratches(p: &Space, places: &Places, seed: u32) -> Lane {
    const DIRECTIONS: u32 = 5;
    const HALF_WIDTH: f32 = 0.035;
    let mut most = [0.0; BLOCK_TEXELS];
    // One for all directions, as sheets of different ones meet in points only.
    let bends = gradient(&p.map(|p| p * 0.15), seed);
    let there = value(&p.map(|p| p * 0.22), seed ^ 0xA5);
    for direction in 0..DIRECTIONS {
        let random = hash3([seed, direction, 0x5C]).map(|word| 2.0 * unit(word) - 1.0);
        let across = Vec3::from_array(random);
        for n in 0..BLOCK_TEXELS {
            let mut across = across;
            if let Some(axis) = &places.axis {
                let axis = axis.at(n);
                across -= axis * across.dot(axis) * 0.97;
            }
            let across = across / across.length().max(1e-6);
            // A sheet that lies flat on the surface would be a blotch, not a line.
            let cosine = across.dot(places.normal.at(n));
            let slant = (1.0 - cosine * cosine).max(1e-6).sqrt();
            let bent = p.at(n).dot(across) + (0.3 + 0.1 * direction as f32) * bends[n];
            let sheet = bent.floor();
            let random = hash3([sheet as i32 as u32, direction, seed]).map(unit);
            let distance = (bent - sheet - (0.1 + 0.8 * random[0])).abs() / slant;
            let width = HALF_WIDTH * (0.4 + 1.2 * random[1]);
            // Each sheet shows where the noise is near a height of its own.
            let strength = 1.6 - (there[n] - 0.25 - 0.5 * random[2]).abs() * 12.0;
            let line = strength.clamp(0.0, 1.0) * (1.0 - distance / width).clamp(0.0, 1.0);
            let line = if slant < 0.35 { 0.0 } else { line };
            most[n] = if line > most[n] { line } else { most[n] };
        }
    }
    most
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(x: f32, y: f32) -> ToothPoint {
        ToothPoint { position: Vec3::new(x, y, 0.3), normal: Vec3::Z, axis: None }
    }

    fn of(pattern: Pattern) -> Tooth {
        Tooth { relief: Relief::Pattern(pattern), ..Tooth::default() }
    }

    /// All points of a square of 8 features edge, in rows.
    fn sheet(tooth: &Tooth, edge: u32) -> Vec<f32> {
        let step = 8.0 * tooth.scale / edge as f32;
        let places = (0..edge * edge).map(|n| ((n % edge) as f32 * step, (n / edge) as f32 * step));
        places.map(|(x, y)| tooth.at(&point(x, y))).collect()
    }

    #[test]
    fn every_pattern_takes_some_and_leaves_some_within_its_range() {
        for pattern in Pattern::ALL {
            let tooth = of(pattern);
            let all = sheet(&tooth, 128);
            assert!(all.iter().all(|share| (0.0..=1.0).contains(share)), "{pattern:?}");
            let mean = all.iter().sum::<f32>() / all.len() as f32;
            let spread =
                all.iter().map(|share| (share - mean).powi(2)).sum::<f32>() / all.len() as f32;
            assert!((0.01..0.99).contains(&mean) && spread > 0.003, "{pattern:?} {mean} {spread}");
        }
    }

    #[test]
    fn depth_0_takes_all_and_a_higher_level_takes_more() {
        for pattern in Pattern::ALL {
            let flat = Tooth { depth: 0.0, ..of(pattern) };
            assert!(sheet(&flat, 16).iter().all(|share| *share == 1.0));
            let taken = |level| -> f32 { sheet(&Tooth { level, ..of(pattern) }, 64).iter().sum() };
            assert!(taken(0.2) <= taken(0.5) && taken(0.5) < taken(0.9), "{pattern:?}");
        }
    }

    #[test]
    fn fibres_and_scratches_run_along_the_axis() {
        for pattern in [Pattern::Fibres, Pattern::Scratches] {
            let tooth = Tooth { scale: 1.0, ..of(pattern) };
            let change = |step: Vec3| -> f32 {
                let at = |p: Vec3| {
                    tooth.at(&ToothPoint { position: p, normal: Vec3::Z, axis: Some(Vec3::X) })
                };
                (0..4000)
                    .map(|n| Vec3::new((n % 63) as f32 * 0.31, (n / 63) as f32 * 0.17, 0.4))
                    .map(|p| (at(p + step) - at(p)).abs())
                    .sum()
            };
            let (along, across) = (change(Vec3::X * 0.05), change(Vec3::Y * 0.05));
            assert!(along * 2.5 < across, "{pattern:?}: {along} along, {across} across");
        }
    }

    #[test]
    fn a_size_of_0_or_no_number_is_told() {
        for scale in [0.0, -1.0, f32::NAN, f32::INFINITY] {
            let refused = Tooth { scale, ..Tooth::default() }.check().unwrap_err();
            assert!(refused.to_string().starts_with("size of the tooth"), "{refused}");
        }
        assert!(Tooth::default().check().is_ok());
    }
}
