//! Gradients: coverage that fades from full to nothing over the surface, told at each texel's 3D point.
//!
//! So they know no seam and no layout. Along their way `t` goes from 0, where they begin, to 1, where they end;
//! coverage is the opacity times `1 - t`, or times `1 - t^2 (3 - 2 t)` where it is eased (the Hermite polynomial that
//! is flat at both ends).

use glam::{DVec3, Vec3};
use raster::{Observer, from_unit};
use surface::{Surface, TexelMap};

use crate::fill::{check_opacity, cover_shown};
use crate::members::Members;
use crate::{Axis, BrushError, Coverage, FillScope, LeftOut};

/// Where a gradient runs, in model units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fade {
    /// From a point, where it is full, to another, where it is nothing; beyond both it goes on as there.
    Linear {
        /// Where it is full.
        from: Vec3,
        /// Where it is nothing; another point.
        to: Vec3,
    },
    /// From the middle of a ball to its surface.
    Radial {
        /// Where it is full.
        centre: Vec3,
        /// How far from there it is nothing; more than 0.
        radius: f32,
    },
    /// From one place on an axis of the model to another.
    Axis {
        /// The axis.
        axis: Axis,
        /// Where on it the gradient is full.
        from: f32,
        /// Where it is nothing; elsewhere.
        to: f32,
    },
}

/// How a gradient falls off along its way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Easing {
    /// Evenly.
    #[default]
    Even,
    /// Slowly at both ends.
    Smooth,
}

/// A gradient.
#[derive(Debug, Clone, PartialEq)]
pub struct Gradient {
    /// Where it runs.
    pub fade: Fade,
    /// How it falls off.
    pub easing: Easing,
    /// What it covers where it is full, 0..1.
    pub opacity: f32,
    /// What it may cover.
    pub scope: FillScope,
    /// Parts that get nothing.
    pub left_out: LeftOut,
}

impl Gradient {
    /// # Errors
    /// [`BrushError`] for a number that is out of range, or a way of no length.
    pub fn check(&self) -> Result<(), BrushError> {
        check_opacity(self.opacity)?;
        let (a, b, length) = match self.fade {
            Fade::Linear { from, to } => (from, to, from.as_dvec3().distance(to.as_dvec3())),
            Fade::Radial { centre, radius } => (centre, Vec3::splat(radius), f64::from(radius)),
            Fade::Axis { from, to, .. } => {
                let length = (f64::from(to) - f64::from(from)).abs();
                (Vec3::splat(from), Vec3::splat(to), length)
            }
        };
        let mut numbers = a.to_array().into_iter().chain(b.to_array());
        if let Some(value) = numbers.find(|number| !number.is_finite()) {
            let value = f64::from(value);
            return Err(BrushError::Setting { what: "gradient", value, range: "finite numbers" });
        }
        if length > 0.0 {
            return Ok(());
        }
        Err(BrushError::Setting {
            what: "length of the gradient",
            value: length,
            range: "more than 0",
        })
    }

    /// The share of full, 0..1, at a point in model units.
    pub fn share(&self, point: DVec3) -> f64 {
        let along = match self.fade {
            Fade::Linear { from, to } => {
                let (from, to) = (from.as_dvec3(), to.as_dvec3());
                let way = to - from;
                (point - from).dot(way) / way.length_squared()
            }
            Fade::Radial { centre, radius } => {
                point.distance(centre.as_dvec3()) / f64::from(radius)
            }
            Fade::Axis { axis, from, to } => {
                let (from, to) = (f64::from(from), f64::from(to));
                (point.dot(axis.direction()) - from) / (to - from)
            }
        };
        let along = along.clamp(0.0, 1.0);
        1.0 - match self.easing {
            Easing::Even => along,
            Easing::Smooth => along * along * (3.0 - 2.0 * along),
        }
    }
}

/// What a gradient covers on the material of a texel map.
///
/// # Errors
/// [`BrushError`] for a gradient that is not valid, a triangle that does not exist, or when the observer stops it.
pub fn gradient_coverage(
    gradient: &Gradient,
    surface: &Surface,
    map: &TexelMap,
    observer: &dyn Observer,
) -> Result<Coverage, BrushError> {
    gradient.check()?;
    let members = Members::new(&gradient.scope, &gradient.left_out, surface, map)?;
    let opacity = f64::from(gradient.opacity);
    cover_shown(map, surface, observer, |decoded, texel| {
        if !members.has(texel.owner) {
            return 0;
        }
        from_unit((opacity * gradient.share(decoded.point(texel))) as f32)
    })
}
