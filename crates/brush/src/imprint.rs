//! What a dab presses on the surface where that is more than a disc or an oval: an image, or an outline with a tooth
//! that belongs to the dab.

use std::sync::Arc;

use glam::{DVec3, Vec3};
use raster::{Extent, Lanes, Work, from_unit};
use rayon::prelude::*;
use surface::BLOCK_TEXELS;

use crate::falloff::{Edge, Falloff};
use crate::image::{Level, Levels};
use crate::kernel::Lane;
use crate::tooth::{Places, Space, Tooth};
use crate::{BrushSettings, GreyImage, Tip};

/// Edge of the image that is made of an outline and its tooth, in pixels.
const EDGE: usize = 512;

/// See the module.
#[derive(Clone)]
pub(crate) struct Imprint {
    shown: Shown,
    /// Half of its width and half of its height, in radii.
    half: [f32; 2],
}

#[derive(Clone)]
enum Shown {
    Image(GreyImage),
    Made(Arc<Levels>),
}

impl std::fmt::Debug for Imprint {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Imprint").field("half", &self.half).finish_non_exhaustive()
    }
}

/// What an imprint depends on.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Pressed {
    tip: Tip,
    hardness: f32,
    tooth: Option<Tooth>,
}

impl Pressed {
    /// None for a brush that presses a disc or an oval.
    pub(crate) fn of(brush: &BrushSettings) -> Option<Self> {
        let tooth = brush.tooth.as_ref().filter(|tooth| tooth.is_stamped()).cloned();
        let (tip, hardness) = (brush.tip.clone(), brush.hardness);
        (tooth.is_some() || tip.image.is_some()).then_some(Self { tip, hardness, tooth })
    }
}

impl Imprint {
    /// That of a brush, if it has one.
    pub(crate) fn of_brush(brush: &BrushSettings) -> Option<Self> {
        Pressed::of(brush).map(|pressed| Self::of(&pressed))
    }

    /// That of what is pressed.
    pub(crate) fn of(pressed: &Pressed) -> Self {
        let Pressed { tip, tooth, .. } = pressed;
        let mut half = [tip.aspect, 1.0];
        if let Some(image) = &tip.image {
            let Extent { width, height } = image.extent();
            let longer = width.max(height) as f32;
            half = [width as f32 / longer * tip.aspect, height as f32 / longer];
            if tooth.is_none() {
                return Self { shown: Shown::Image(image.clone()), half };
            }
        }
        Self { shown: Shown::Made(Arc::new(made(pressed, half))), half }
    }

    fn levels(&self) -> &Levels {
        match &self.shown {
            Shown::Image(image) => image.levels(),
            Shown::Made(levels) => levels,
        }
    }

    /// How far it reaches from its middle, in radii: its corners, and as far above and below as it is pressed.
    pub(crate) fn reach(&self) -> f64 {
        let [x, y] = self.half.map(f64::from);
        (x * x + y * y + 1.0).sqrt()
    }

    /// It, pressed at a radius; `texel` is the width of a texel there.
    pub(crate) fn pressed(&self, radius: f32, texel: f32) -> Print<'_> {
        let levels = self.levels();
        let Extent { width, height } = levels.extent();
        let [across, down] = self.half.map(|half| 2.0 * half * radius);
        let (width, height) = (width as f32, height as f32);
        let (number, level) = levels.fitting((width / across).max(height / down) * texel);
        let shrunk = 1.0 / (1_u32 << number) as f32;
        let (width, height) = (width * shrunk, height * shrunk);
        Print {
            level,
            scale: [width / across, height / down],
            size: [width, height],
            // A texel, in pixels, at its edges.
            slope: [across / (width * texel), down / (height * texel)],
            depth: 1.0 / radius,
        }
    }
}

/// An imprint at one size.
#[derive(Clone, Copy)]
pub(crate) struct Print<'a> {
    level: &'a Level,
    /// Pixels a unit, across and down.
    scale: [f32; 2],
    /// In pixels.
    size: [f32; 2],
    /// How steep its edges are, a pixel.
    slope: [f32; 2],
    /// 1 / the depth to which it is pressed.
    depth: f32,
}

/// How a print lies.
#[derive(Clone, Copy)]
pub(crate) struct Lying<'a> {
    print: Print<'a>,
    right: Vec3,
    down: Vec3,
    out: Vec3,
}

impl<'a> Print<'a> {
    /// Laid with its upper edge towards `long`, across `normal`, both of unit length; turned over or not.
    pub(crate) fn lying(self, long: DVec3, normal: DVec3, mirrored: bool) -> Lying<'a> {
        let right = if mirrored { normal.cross(long) } else { long.cross(normal) }.as_vec3();
        Lying {
            print: self,
            right: right * self.scale[0],
            down: -long.as_vec3() * self.scale[1],
            out: normal.as_vec3() * self.depth,
        }
    }
}

impl Lying<'_> {
    /// False where nothing of it falls into a ball, seen from its middle.
    pub(crate) fn meets(&self, away: Vec3, radius: f32) -> bool {
        let Self { print, right, down, out } = self;
        // Half a texel beyond its edges it may still be seen.
        let side = |way: &Vec3, n: usize| {
            let half = 0.5 * print.size[n] + 0.5 / print.slope[n];
            away.dot(*way).abs() <= half + radius * way.length()
        };
        side(right, 0) && side(down, 1) && away.dot(*out).abs() <= 1.0 + radius * out.length()
    }

    /// How much of a dab falls on each of these points, seen from its middle, 0..1.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    pub(crate) fn shares(&self, away: impl Fn(usize) -> Vec3) -> Lane {
        let Self { print, right, down, out } = self;
        let half = print.size.map(|pixels| 0.5 * pixels);
        // Along one side: the place between pixels, counted from that before the first, and how much lies within.
        let along = |at: f32, side: usize| {
            let within = (half[side] - at.abs()) * print.slope[side] + 0.5;
            let within = if within > 0.0 { within } else { 0.0 };
            let within = if within < 1.0 { within } else { 1.0 };
            (at + (half[side] + 0.5), within)
        };
        let (mut across, mut under) = ([0.0; BLOCK_TEXELS], [0.0; BLOCK_TEXELS]);
        let mut share = [0.0; BLOCK_TEXELS];
        for n in 0..BLOCK_TEXELS {
            let away = away(n);
            let x = away.x * right.x + away.y * right.y + away.z * right.z;
            let y = away.x * down.x + away.y * down.y + away.z * down.z;
            let ((x, within_x), (y, within_y)) = (along(x, 0), along(y, 1));
            (across[n], under[n]) = (x, y);
            // Fully down to half of the depth.
            let deep = away.x * out.x + away.y * out.y + away.z * out.z;
            let left = 2.0 - 2.0 * deep.abs();
            let left = if left > 0.0 { left } else { 0.0 };
            let left = if left < 1.0 { left } else { 1.0 };
            let fading = left * left * (3.0 - 2.0 * left);
            share[n] = fading * within_x * within_y;
        }
        let pressed = print.level.between(&across, &under);
        for n in 0..BLOCK_TEXELS {
            share[n] *= pressed[n];
        }
        share
    }
}

/// An image of the outline and the tooth within, which share the dab's own measures: in radii, +Y where the tip
/// points.
fn made(pressed: &Pressed, half: [f32; 2]) -> Levels {
    let rows: Vec<Vec<u16>> = (0..EDGE)
        .into_par_iter()
        .map(|row| {
            let blocks = 0..EDGE / BLOCK_TEXELS;
            let shares = blocks.flat_map(|block| {
                Lanes::widest().run(Piece { pressed, half, row, first: block * BLOCK_TEXELS })
            });
            shares.map(from_unit).collect()
        })
        .collect();
    Levels::new(Extent { width: EDGE as u32, height: EDGE as u32 }, rows.concat())
}

/// A piece of a row of [`made`].
struct Piece<'a> {
    pressed: &'a Pressed,
    half: [f32; 2],
    row: usize,
    first: usize,
}

impl Work for Piece<'_> {
    type Done = Lane;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "a call would leave the vector code")]
    fn work(self) -> Lane {
        let Self { pressed, half, row, first } = self;
        let share = |n: usize| 2.0 * (n as f32 + 0.5) / EDGE as f32 - 1.0;
        let at = Space::of(|n| Vec3::new(share(first + n) * half[0], -share(row) * half[1], 0.0));
        let mut shares = match &pressed.tip.image {
            Some(image) => {
                let pixel = 2.0 * half[0].max(half[1]) / EDGE as f32;
                let whole = Imprint { shown: Shown::Image(image.clone()), half };
                whole.pressed(1.0, pixel).lying(DVec3::Y, DVec3::Z, false).shares(|n| at.at(n))
            }
            None => outline(&at, pressed.hardness, half),
        };
        if let Some(tooth) = &pressed.tooth {
            let (normal, axis) = (Space::of(|_| Vec3::Z), None);
            let taken = tooth.shares(&Places { position: at, normal, axis });
            shares.iter_mut().zip(taken).for_each(|(share, taken)| *share *= taken);
        }
        shares
    }
}

/// A disc or an oval.
#[inline(always)]
#[expect(clippy::inline_always, reason = "a call would leave the vector code")]
fn outline(at: &Space, hardness: f32, half: [f32; 2]) -> Lane {
    let (falloff, edge) = (Falloff::new(1.0), Edge::new(1.0, hardness).at_least(4.0 / EDGE as f32));
    let mut shares = [0.0; BLOCK_TEXELS];
    for (n, share) in shares.iter_mut().enumerate() {
        let (x, y) = (at.x[n] / half[0], at.y[n] / half[1]);
        *share = 1.0 - falloff.left(edge.place((x * x + y * y).sqrt()));
    }
    shares
}
