//! What a stroke of the brush does, and how strongly.

use brush::{Adjustment, Anchor, CloneFrom, StrokeKind};
use glam::DVec2;
use lucide_icons::Icon;
use surface::PartId;

/// What a stroke does to what the brush is aimed at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) enum Does {
    /// Leaves values.
    #[default]
    Paint,
    /// Takes paint off.
    Erase,
    /// Takes paint along.
    Smudge,
    /// Mixes neighbours.
    Soften,
    /// Makes values higher.
    Lighten,
    /// Makes values lower.
    Darken,
    /// Changes hue, saturation and value.
    Shift,
    /// Brings paint from elsewhere.
    Clone,
}

impl Does {
    /// Every one, in the order in which they are shown.
    pub(crate) const ALL: [Self; 8] = [
        Self::Paint,
        Self::Erase,
        Self::Smudge,
        Self::Soften,
        Self::Lighten,
        Self::Darken,
        Self::Shift,
        Self::Clone,
    ];

    pub(crate) fn icon(self) -> Icon {
        match self {
            Self::Paint => Icon::Paintbrush,
            Self::Erase => Icon::Eraser,
            Self::Smudge => Icon::Pointer,
            Self::Soften => Icon::Droplet,
            Self::Lighten => Icon::Sun,
            Self::Darken => Icon::Moon,
            Self::Shift => Icon::SlidersHorizontal,
            Self::Clone => Icon::Stamp,
        }
    }

    /// What it does with the channels that follow: a heading.
    pub(crate) fn heading(self) -> &'static str {
        match self {
            Self::Paint => "Paints into",
            Self::Erase => "Erases from",
            Self::Smudge => "Smudges",
            Self::Soften => "Softens",
            Self::Lighten => "Lightens",
            Self::Darken => "Darkens",
            Self::Shift => "Shifts",
            Self::Clone => "Clones",
        }
    }

    /// True for what only a stroke can do: it takes paint from one place to another.
    pub(crate) fn moves_paint(self) -> bool {
        matches!(self, Self::Smudge | Self::Soften | Self::Clone)
    }

    /// True where it works on paint that is there already.
    pub(crate) fn needs_paint(self) -> bool {
        !matches!(self, Self::Paint | Self::Erase)
    }
}

/// How strongly it does each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Strengths {
    /// [`StrokeKind::Smudge`].
    pub(crate) hold: f32,
    /// [`StrokeKind::Soften`].
    pub(crate) reach: f32,
    /// [`Adjustment::Lighten`] and [`Adjustment::Darken`].
    pub(crate) by: f32,
    /// Degrees.
    pub(crate) hue: f32,
    pub(crate) saturation: f32,
    pub(crate) value: f32,
}

impl Strengths {
    /// What a brush starts with.
    pub(crate) const USUAL: Self =
        Self { hold: 0.8, reach: 0.25, by: 0.3, hue: 0.0, saturation: 0.0, value: 0.1 };

    /// How values change; none for what changes no values.
    pub(crate) fn adjustment(&self, does: Does) -> Option<Adjustment> {
        match does {
            Does::Lighten => Some(Adjustment::Lighten(self.by)),
            Does::Darken => Some(Adjustment::Darken(self.by)),
            Does::Shift => Some(Adjustment::Shift {
                hue: self.hue,
                saturation: self.saturation,
                value: self.value,
            }),
            _ => None,
        }
    }
}

/// The point that was picked to clone from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum CloneSource {
    /// On the model.
    Surface {
        /// The point.
        source: Anchor,
        /// The part that it lies on.
        part: PartId,
        /// Where the first stroke with it began.
        start: Option<Anchor>,
    },
    /// On the flat texture.
    Texture {
        /// Where.
        uv: DVec2,
        /// Where the first stroke with it began.
        start: Option<DVec2>,
    },
}

impl CloneSource {
    /// What a stroke brings where; none before the first stroke with it began.
    pub(crate) fn kind(&self) -> Option<StrokeKind> {
        let from = match *self {
            Self::Surface { source, start, .. } => CloneFrom::Surface { source, start: start? },
            Self::Texture { uv, start } => CloneFrom::Texture((uv - start?).as_vec2()),
        };
        Some(StrokeKind::Clone(from))
    }
}
