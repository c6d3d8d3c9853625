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
            let (backdrop, source) = (&backdrop[..len], &mut source[..len]);
            self.apply(Replace { backdrop, source, lanes });
        }
    }

    /// Blends a row of one component onto a backdrop that is opaque:
    /// `backdrop (1 - coverage) + B(backdrop, source) coverage`. A mode that is not separable gives the
    /// source.
    pub(crate) fn blend_onto(
        self,
        backdrop: &mut [f32],
        source: &[f32],
        coverage: &[f32],
        lanes: Lanes,
    ) {
        self.apply(Onto { backdrop, source, coverage, lanes });
    }

    fn apply(self, rows: impl Apply) {
        match self {
            Self::Normal | Self::Hue | Self::Saturation | Self::Color | Self::Luminosity => {
                rows.apply(|_, cs| cs);
            }
            Self::Multiply => rows.apply(|cb, cs| cb * cs),
            Self::Screen => rows.apply(screen),
            Self::Overlay => rows.apply(|cb, cs| hard_light(cs, cb)),
            Self::Darken => rows.apply(f32::min),
            Self::Lighten => rows.apply(f32::max),
            Self::ColorDodge => rows.apply(color_dodge),
            Self::ColorBurn => rows.apply(color_burn),
            Self::HardLight => rows.apply(hard_light),
            Self::SoftLight => rows.apply(soft_light),
            Self::Difference => rows.apply(|cb, cs| (cb - cs).abs()),
            Self::Exclusion => rows.apply(|cb, cs| cb + cs - 2.0 * cb * cs),
            Self::Add => rows.apply(|cb, cs| cb + cs),
            Self::Subtract => rows.apply(|cb, cs| cb - cs),
        }
    }
}

/// Rows to which a blend function is applied; its result is clamped.
trait Apply {
    fn apply(self, blend: impl Fn(f32, f32) -> f32);
}

/// `blend(backdrop, source)` over the source.
struct Replace<'a> {
    backdrop: &'a [f32],
    source: &'a mut [f32],
    lanes: Lanes,
}

impl Apply for Replace<'_> {
    fn apply(self, blend: impl Fn(f32, f32) -> f32) {
        let Self { backdrop, source, lanes } = self;
        lanes.run(|| {
            for (&cb, cs) in backdrop.iter().zip(source) {
                *cs = blend(cb, *cs).clamp(0.0, 1.0);
            }
        });
    }
}

/// As [`BlendMode::blend_onto`].
struct Onto<'a> {
    backdrop: &'a mut [f32],
    source: &'a [f32],
    coverage: &'a [f32],
    lanes: Lanes,
}

impl Apply for Onto<'_> {
    fn apply(self, blend: impl Fn(f32, f32) -> f32) {
        let Self { backdrop, source, coverage, lanes } = self;
        lanes.run(|| {
            for ((cb, &cs), &coverage) in backdrop.iter_mut().zip(source).zip(coverage) {
                let blended = blend(*cb, cs).clamp(0.0, 1.0);
                *cb = *cb * (1.0 - coverage) + blended * coverage;
            }
        });
    }
}

#[inline]
fn screen(cb: f32, cs: f32) -> f32 {
    cb + cs - cb * cs
}

// Here and below every case is computed for every texel: a choice between values needs no branch, so
// that texels can be done side by side.
#[inline]
fn hard_light(cb: f32, cs: f32) -> f32 {
    let (dark, light) = (cb * (2.0 * cs), screen(cb, 2.0 * cs - 1.0));
    if cs <= 0.5 { dark } else { light }
}

// A backdrop of 0 comes before a source of 1: black stays black under white.
#[inline]
fn color_dodge(cb: f32, cs: f32) -> f32 {
    let bright = cb / (1.0 - cs);
    let bright = if cs >= 1.0 { 1.0 } else { bright };
    if cb <= 0.0 { 0.0 } else { bright }
}

// A backdrop of 1 comes before a source of 0: white stays white under black.
#[inline]
fn color_burn(cb: f32, cs: f32) -> f32 {
    let dark = 1.0 - (1.0 - cb) / cs;
    let dark = if cs <= 0.0 { 0.0 } else { dark };
    if cb >= 1.0 { 1.0 } else { dark }
}

#[inline]
fn soft_light(cb: f32, cs: f32) -> f32 {
    let dark = cb - (1.0 - 2.0 * cs) * cb * (1.0 - cb);
    let (low, high) = (((16.0 * cb - 12.0) * cb + 4.0) * cb, cb.sqrt());
    let d = if cb <= 0.25 { low } else { high };
    let light = cb + (2.0 * cs - 1.0) * (d - cb);
    if cs <= 0.5 { dark } else { light }
}
