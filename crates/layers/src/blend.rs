//! Blend modes: the sixteen of W3C Compositing and Blending Level 1 (2015, sections 10.1 and 10.2),
//! and two plain sums.
//!
//! A blend function B(Cb, Cs) takes straight values of backdrop and source, 0..1, and gives 0..1; it
//! knows no coverage. Functions work on rows of texels, so that the choice of mode stands outside of
//! the loop.

use raster::Lanes;

use crate::{ChannelKind, blend_hsl};

/// How a cell's value joins the value below.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum BlendMode {
    /// The source.
    #[default]
    Normal,
    /// Cb Cs.
    Multiply,
    /// 1 - (1 - Cb)(1 - Cs).
    Screen,
    /// Hard light with backdrop and source exchanged.
    Overlay,
    /// The lesser.
    Darken,
    /// The greater.
    Lighten,
    /// The backdrop brightened to reflect the source.
    ColorDodge,
    /// The backdrop darkened to reflect the source.
    ColorBurn,
    /// Multiply or screen, as the source says.
    HardLight,
    /// Darken or lighten softly, as the source says.
    SoftLight,
    /// |Cb - Cs|.
    Difference,
    /// Cb + Cs - 2 Cb Cs.
    Exclusion,
    /// The source's hue with the backdrop's saturation and luminosity.
    Hue,
    /// The source's saturation with the backdrop's hue and luminosity.
    Saturation,
    /// The source's hue and saturation with the backdrop's luminosity.
    Color,
    /// The source's luminosity with the backdrop's hue and saturation.
    Luminosity,
    /// Cb + Cs, at most 1. Not of W3C.
    Add,
    /// Cb - Cs, at least 0. Not of W3C.
    Subtract,
}

impl BlendMode {
    /// Every mode.
    pub const ALL: [Self; 18] = [
        Self::Normal,
        Self::Multiply,
        Self::Screen,
        Self::Overlay,
        Self::Darken,
        Self::Lighten,
        Self::ColorDodge,
        Self::ColorBurn,
        Self::HardLight,
        Self::SoftLight,
        Self::Difference,
        Self::Exclusion,
        Self::Hue,
        Self::Saturation,
        Self::Color,
        Self::Luminosity,
        Self::Add,
        Self::Subtract,
    ];

    /// The mode's name in files: W3C's.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Multiply => "multiply",
            Self::Screen => "screen",
            Self::Overlay => "overlay",
            Self::Darken => "darken",
            Self::Lighten => "lighten",
            Self::ColorDodge => "color-dodge",
            Self::ColorBurn => "color-burn",
            Self::HardLight => "hard-light",
            Self::SoftLight => "soft-light",
            Self::Difference => "difference",
            Self::Exclusion => "exclusion",
            Self::Hue => "hue",
            Self::Saturation => "saturation",
            Self::Color => "color",
            Self::Luminosity => "luminosity",
            Self::Add => "add",
            Self::Subtract => "subtract",
        }
    }

    /// The mode with this name.
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|mode| mode.key() == key)
    }

    /// True when each component is blended by itself.
    pub const fn is_separable(self) -> bool {
        !matches!(self, Self::Hue | Self::Saturation | Self::Color | Self::Luminosity)
    }

    /// True when a channel of this kind can be blended so: a scalar has no hue.
    pub const fn allowed_for(self, kind: ChannelKind) -> bool {
        self.is_separable() || matches!(kind, ChannelKind::Colour)
    }

    /// B(Cb, Cs) of one colour.
    pub fn blend_colour(self, backdrop: [f32; 3], source: [f32; 3]) -> [f32; 3] {
        let mut blended = source.map(|component| [component]);
        self.blend_rows(&backdrop.map(|component| [component]), &mut blended, 1, Lanes::PORTABLE);
        blended.map(|[component]| component)
    }

    /// B(Cb, Cs) of one scalar; the source for a mode that is not separable.
    pub fn blend_scalar(self, backdrop: f32, source: f32) -> f32 {
        let mut blended = [[source]];
        self.blend_rows(&[[backdrop]], &mut blended, 1, Lanes::PORTABLE);
        blended[0][0]
    }

    /// B(Cb, Cs) of the first `len` texels of rows of components, written over the source. Modes that
    /// are not separable need three rows and leave fewer as they are.
    pub(crate) fn blend_rows<const N: usize>(
        self,
        backdrop: &[[f32; N]],
        source: &mut [[f32; N]],
        len: usize,
        lanes: Lanes,
    ) {
        if let ([backdrop_r, backdrop_g, backdrop_b], [r, g, b], false) =
            (backdrop, &mut *source, self.is_separable())
        {
            for i in 0..len {
                let below = [backdrop_r[i], backdrop_g[i], backdrop_b[i]];
                [r[i], g[i], b[i]] = blend_hsl::blend(self, below, [r[i], g[i], b[i]]);
            }
            return;
        }
        for (backdrop, source) in backdrop.iter().zip(source) {
            self.blend_row(&backdrop[..len], &mut source[..len], lanes);
        }
    }

    fn blend_row(self, backdrop: &[f32], source: &mut [f32], lanes: Lanes) {
        match self {
            Self::Normal | Self::Hue | Self::Saturation | Self::Color | Self::Luminosity => {}
            Self::Multiply => each(lanes, backdrop, source, |cb, cs| cb * cs),
            Self::Screen => each(lanes, backdrop, source, screen),
            Self::Overlay => each(lanes, backdrop, source, |cb, cs| hard_light(cs, cb)),
            Self::Darken => each(lanes, backdrop, source, f32::min),
            Self::Lighten => each(lanes, backdrop, source, f32::max),
            Self::ColorDodge => each(lanes, backdrop, source, color_dodge),
            Self::ColorBurn => each(lanes, backdrop, source, color_burn),
            Self::HardLight => each(lanes, backdrop, source, hard_light),
            Self::SoftLight => each(lanes, backdrop, source, soft_light),
            Self::Difference => each(lanes, backdrop, source, |cb, cs| (cb - cs).abs()),
            Self::Exclusion => each(lanes, backdrop, source, |cb, cs| cb + cs - 2.0 * cb * cs),
            Self::Add => each(lanes, backdrop, source, |cb, cs| cb + cs),
            Self::Subtract => each(lanes, backdrop, source, |cb, cs| cb - cs),
        }
    }
}

/// Writes `blend(backdrop, source)`, clamped, over the source.
#[inline]
fn each(lanes: Lanes, backdrop: &[f32], source: &mut [f32], blend: impl Fn(f32, f32) -> f32) {
    lanes.run(|| {
        for (&cb, cs) in backdrop.iter().zip(source) {
            *cs = blend(cb, *cs).clamp(0.0, 1.0);
        }
    });
}

#[inline]
fn screen(cb: f32, cs: f32) -> f32 {
    cb + cs - cb * cs
}

#[inline]
fn hard_light(cb: f32, cs: f32) -> f32 {
    if cs <= 0.5 { cb * (2.0 * cs) } else { screen(cb, 2.0 * cs - 1.0) }
}

// A backdrop of 0 comes before a source of 1: black stays black under white.
#[inline]
fn color_dodge(cb: f32, cs: f32) -> f32 {
    if cb <= 0.0 {
        0.0
    } else if cs >= 1.0 {
        1.0
    } else {
        cb / (1.0 - cs)
    }
}

// A backdrop of 1 comes before a source of 0: white stays white under black.
#[inline]
fn color_burn(cb: f32, cs: f32) -> f32 {
    if cb >= 1.0 {
        1.0
    } else if cs <= 0.0 {
        0.0
    } else {
        1.0 - (1.0 - cb) / cs
    }
}

#[inline]
fn soft_light(cb: f32, cs: f32) -> f32 {
    if cs <= 0.5 {
        cb - (1.0 - 2.0 * cs) * cb * (1.0 - cb)
    } else {
        let d = if cb <= 0.25 { ((16.0 * cb - 12.0) * cb + 4.0) * cb } else { cb.sqrt() };
        cb + (2.0 * cs - 1.0) * (d - cb)
    }
}
