//! A stroke as an edit records it: everything that replay needs, and nothing of screen or clock.

use std::ops::RangeInclusive;

use surface::Surface;

use crate::{BrushError, BrushSettings, CloneFrom, GreyImage, LeftOut, Path, Stencil, Symmetry};

/// Which arithmetic turns a stroke into texels. Raised whenever the same stroke would give other bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KernelVersion(pub u16);

impl KernelVersion {
    /// Round dabs that are all alike.
    pub const PLAIN: Self = Self(1);
    /// The arithmetic of this program: with tooth, jitter, ovals, images, tilt, speed, symmetry, stencils, guided paths, and
    /// strokes that move paint. A stroke that has none of them gives what
    /// [`KernelVersion::PLAIN`] gives.
    pub const CURRENT: Self = Self(2);

    /// True when this program can replay strokes of that version.
    pub fn is_known(self) -> bool {
        self == Self::PLAIN || self == Self::CURRENT
    }
}

/// What a stroke does to texels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StrokeKind {
    /// Coverage builds up in a buffer and is composited once: paint, erase.
    Deposit,
    /// Paint is taken along. As all that follow: each dab reads texels, then writes them, in order.
    Smudge {
        /// The share of what the brush carries that it still carries a quarter of a diameter further, 0..1.
        hold: f32,
    },
    /// Neighbours are mixed.
    Soften {
        /// How far, in radii, 0.01..1: two deviations of the Gaussian.
        reach: f32,
    },
    /// Paint comes from elsewhere on the same layer, as it was at pen down.
    Clone(CloneFrom),
}

impl StrokeKind {
    /// True for those that move the paint that is there.
    pub fn is_transport(self) -> bool {
        self != Self::Deposit
    }

    /// # Errors
    /// [`BrushError`] naming the number that is out of range, or where the path lies elsewhere than the source.
    pub(crate) fn check(self, on_surface: bool) -> Result<(), BrushError> {
        let within = |what, value: f32, allowed: RangeInclusive<f32>, range| {
            let fine = allowed.contains(&value);
            let error = BrushError::Setting { what, value: f64::from(value), range };
            fine.then_some(()).ok_or(error)
        };
        match self {
            Self::Deposit => Ok(()),
            Self::Smudge { hold } => within("hold of the smudge", hold, 0.0..=1.0, "0 to 1"),
            Self::Soften { reach } => {
                within("reach of the softening", reach, 0.01..=1.0, "0.01 to 1 radii")
            }
            Self::Clone(from) if !from.is_finite() => Err(BrushError::SourceNotFinite),
            Self::Clone(from) => {
                let fits = matches!(from, CloneFrom::Surface { .. }) == on_surface;
                fits.then_some(()).ok_or(BrushError::SourceElsewhere)
            }
        }
    }
}

/// Pen down to pen up, resolved.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// The arithmetic that made it.
    pub kernel: KernelVersion,
    /// What it does.
    pub kind: StrokeKind,
    /// Where it goes.
    pub path: Path,
    /// The brush.
    pub brush: BrushSettings,
    /// Seed of everything random in it; random numbers depend on the seed and a dab's number only.
    pub seed: u64,
    /// Parts that it does not paint.
    pub left_out: LeftOut,
    /// How it is repeated; only on the surface.
    pub symmetry: Option<Symmetry>,
    /// What it is painted through.
    pub stencil: Option<Stencil>,
}

/// # Errors
/// [`BrushError`] for a symmetry that can't be, or on the flat texture.
pub(crate) fn check_symmetry(
    symmetry: Option<&Symmetry>,
    on_surface: bool,
) -> Result<(), BrushError> {
    match symmetry {
        Some(_) if !on_surface => Err(BrushError::SymmetryOnTexture),
        Some(symmetry) => symmetry.check(),
        None => Ok(()),
    }
}

impl Stroke {
    /// # Errors
    /// [`BrushError`] where the kernel is unknown, a setting is out of range, or the path is not valid on
    /// this surface.
    pub fn check(&self, surface: &Surface) -> Result<(), BrushError> {
        if !self.kernel.is_known() {
            return Err(BrushError::UnknownKernel { version: self.kernel.0 });
        }
        let is_plain = self.brush.is_plain()
            && !self.kind.is_transport()
            && self.symmetry.is_none()
            && self.stencil.is_none()
            && !matches!(self.path, Path::Guided(_));
        if self.kernel == KernelVersion::PLAIN && !is_plain {
            return Err(BrushError::NotInKernel { version: self.kernel.0 });
        }
        self.brush.check()?;
        let on_surface = self.path.is_on_surface();
        self.kind.check(on_surface)?;
        check_symmetry(self.symmetry.as_ref(), on_surface)?;
        self.stencil.as_ref().map_or(Ok(()), Stencil::check)?;
        self.path.check(surface)
    }

    /// The images that it holds: those of its brush, then that of the stencil.
    pub fn images(&self) -> impl Iterator<Item = &GreyImage> {
        self.brush.images().chain(self.stencil.as_ref().map(|stencil| &stencil.image))
    }

    /// The same, to put others in their places.
    pub fn images_mut(&mut self) -> impl Iterator<Item = &mut GreyImage> {
        let of_stencil = self.stencil.as_mut().map(|stencil| &mut stencil.image);
        self.brush.images_mut().chain(of_stencil)
    }
}
