//! Strokes in JSON.

use brush::{Anchor, Axis, CloneFrom, Curve, LeftOut, StrokeKind, Symmetry};
use serde::{Deserialize, Serialize};
use surface::PartId;

use super::brush::WireBrush;
use super::edit::WireMaterial;
use super::image::WireImage;
use super::stencil::WireStencil;

/// A path point. On the surface it has a position, or a triangle and barycentric coordinates; on the
/// flat texture it has a UV.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WirePoint {
    /// The part's number; found from the triangle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<u32>,
    /// The triangle's number; without it the point of the surface that is nearest to the position.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub triangle: Option<u32>,
    /// Where in the triangle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub barycentric: Option<[f32; 3]>,
    /// In model units.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position: Option<[f32; 3]>,
    /// Of unit length; the surface's own when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub normal: Option<[f32; 3]>,
    /// On the flat texture, v down.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uv: Option<[f32; 2]>,
    /// In model units, or UV units on the flat texture; the stroke's own when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub radius: Option<f32>,
    /// 0..1; 1 when left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pressure: Option<f32>,
    /// Where the pen leans in model space, as long as it is tilted: 0 upright (when left out), 1 flat.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lean: Option<[f32; 3]>,
    /// The same on the flat texture.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub uv_lean: Option<[f32; 2]>,
    /// How fast the pen is, 0 (when left out) to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub speed: Option<f32>,
}

/// A stroke. It has either `runs` or a `guide` on the surface, or `texture_runs` on the flat texture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireStroke {
    /// Version of the arithmetic that made it; the present one when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kernel: Option<u16>,
    /// "deposit" (the default), or how paint is moved.
    #[serde(default)]
    pub kind: WireStrokeKind,
    /// Seed of everything random.
    #[serde(default)]
    pub seed: u64,
    /// The brush.
    #[serde(default)]
    pub brush: WireBrush,
    /// Radius of points that have none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub radius: Option<f32>,
    /// Where the surface was seen from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub eye: Option<[f64; 3]>,
    /// Parts that it does not paint.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_out: Option<WireLeftOut>,
    /// How it is repeated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub symmetry: Option<WireSymmetry>,
    /// What it is painted through.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stencil: Option<WireStencil>,
    /// Runs on the surface.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub runs: Vec<Vec<WirePoint>>,
    /// Runs on the flat texture.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub texture_runs: Vec<Vec<WirePoint>>,
    /// A line on the surface through a few points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guide: Option<WireGuide>,
}

impl WireStroke {
    /// The images that it names: those of its brush, then that of the stencil.
    pub fn images(&self) -> impl Iterator<Item = &WireImage> {
        self.brush.images().chain(self.stencil.as_ref().map(|stencil| &stencil.image))
    }

    /// The same, to give it them.
    pub(super) fn images_mut(&mut self) -> impl Iterator<Item = &mut WireImage> {
        let of_stencil = self.stencil.as_mut().map(|stencil| &mut stencil.image);
        self.brush.images_mut().chain(of_stencil)
    }
}

/// A line on the surface through a few points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireGuide {
    /// The points.
    pub knots: Vec<WirePoint>,
    /// "straight" or "smooth".
    pub curve: WireCurve,
    /// It ends where it began.
    #[serde(default)]
    pub closed: bool,
}

/// How a line goes from point to point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireCurve {
    /// The shortest way.
    Straight,
    /// In one bend.
    Smooth,
}

impl WireCurve {
    pub(crate) fn of(curve: Curve) -> Self {
        match curve {
            Curve::Straight => Self::Straight,
            Curve::Smooth => Self::Smooth,
        }
    }

    pub(crate) fn curve(self) -> Curve {
        match self {
            Self::Straight => Curve::Straight,
            Self::Smooth => Curve::Smooth,
        }
    }
}

/// How a stroke is repeated.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireSymmetry {
    /// Where planes and axis meet; the origin when left out.
    #[serde(default)]
    pub centre: [f64; 3],
    /// The planes across these axes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub mirror: Vec<WireAxis>,
    /// Turned about this axis, so often in one full turn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turns: Option<(WireAxis, u8)>,
}

/// An axis of the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireAxis {
    /// To the right.
    X,
    /// Up.
    Y,
    /// Towards the viewer.
    Z,
}

impl WireAxis {
    const ALL: [Self; 3] = [Self::X, Self::Y, Self::Z];

    pub(crate) fn of(axis: Axis) -> Self {
        match axis {
            Axis::X => Self::X,
            Axis::Y => Self::Y,
            Axis::Z => Self::Z,
        }
    }

    pub(crate) fn axis(self) -> Axis {
        match self {
            Self::X => Axis::X,
            Self::Y => Axis::Y,
            Self::Z => Axis::Z,
        }
    }
}

impl WireSymmetry {
    pub(crate) fn of(symmetry: &Symmetry) -> Self {
        let mirrors = Self::mirrors_of(symmetry);
        let turns = symmetry.turns.map(|(axis, count)| (WireAxis::of(axis), count));
        Self { centre: symmetry.centre.to_array(), mirror: mirrors, turns }
    }

    fn mirrors_of(symmetry: &Symmetry) -> Vec<WireAxis> {
        let pairs = WireAxis::ALL.into_iter().zip(symmetry.mirrors);
        pairs.filter_map(|(axis, used)| used.then_some(axis)).collect()
    }

    pub(crate) fn symmetry(&self) -> Symmetry {
        Symmetry {
            centre: self.centre.into(),
            mirrors: WireAxis::ALL.map(|axis| self.mirror.contains(&axis)),
            turns: self.turns.map(|(axis, count)| (axis.axis(), count)),
        }
    }
}

/// Parts that get no paint, by number or name.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireLeftOut {
    /// As if they were not there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hidden: Vec<WireMaterial>,
    /// They shield what lies behind.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub locked: Vec<WireMaterial>,
}

impl WireLeftOut {
    pub(crate) fn of(left_out: &LeftOut) -> Option<Self> {
        let numbers = |parts: &[PartId]| {
            parts.iter().map(|part| WireMaterial::Number(part.0)).collect::<Vec<_>>()
        };
        let written =
            Self { hidden: numbers(left_out.hidden()), locked: numbers(left_out.locked()) };
        (!left_out.is_empty()).then_some(written)
    }
}

/// What a stroke does.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum WireStrokeKind {
    /// Paints, erases or adjusts.
    #[default]
    Deposit,
    /// Takes paint along.
    Smudge {
        /// The share of what is carried that is kept a quarter of a diameter further.
        hold: f32,
    },
    /// Mixes neighbours.
    Soften {
        /// How far, in radii.
        reach: f32,
    },
    /// Brings what lies at `source` to `start`.
    Clone {
        /// The point that was picked.
        source: WireAnchor,
        /// Where the first stroke with it began.
        start: WireAnchor,
    },
    /// Brings what lies so far away on the flat texture.
    CloneTexture {
        /// In UV units.
        offset: [f32; 2],
    },
}

/// A point of the surface.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireAnchor {
    /// In model units.
    pub position: [f64; 3],
    /// Of unit length.
    pub normal: [f64; 3],
}

impl WireAnchor {
    fn of(anchor: &Anchor) -> Self {
        Self { position: anchor.position.to_array(), normal: anchor.normal.to_array() }
    }

    fn anchor(&self) -> Anchor {
        Anchor { position: self.position.into(), normal: self.normal.into() }
    }
}

impl WireStrokeKind {
    pub(crate) fn of(kind: StrokeKind) -> Self {
        match kind {
            StrokeKind::Deposit => Self::Deposit,
            StrokeKind::Smudge { hold } => Self::Smudge { hold },
            StrokeKind::Soften { reach } => Self::Soften { reach },
            StrokeKind::Clone(CloneFrom::Surface { source, start }) => {
                Self::Clone { source: WireAnchor::of(&source), start: WireAnchor::of(&start) }
            }
            StrokeKind::Clone(CloneFrom::Texture(offset)) => {
                Self::CloneTexture { offset: offset.to_array() }
            }
        }
    }

    pub(crate) fn kind(self) -> StrokeKind {
        match self {
            Self::Deposit => StrokeKind::Deposit,
            Self::Smudge { hold } => StrokeKind::Smudge { hold },
            Self::Soften { reach } => StrokeKind::Soften { reach },
            Self::Clone { source, start } => {
                let (source, start) = (source.anchor(), start.anchor());
                StrokeKind::Clone(CloneFrom::Surface { source, start })
            }
            Self::CloneTexture { offset } => StrokeKind::Clone(CloneFrom::Texture(offset.into())),
        }
    }
}
