//! Strokes in JSON.

use brush::{
    Anchor, Axis, BrushSettings, BuildUp, CloneFrom, Curve, Jitter, LeftOut, Lies, Pattern,
    PressureResponse, Reach, Response, StrokeKind, Symmetry, Tip, Tooth,
};
use serde::{Deserialize, Serialize};
use surface::PartId;

use super::edit::WireMaterial;

/// A brush; what is left out has its default.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WireBrush {
    /// Share of the radius that is fully covered.
    pub hardness: f32,
    /// Ceiling of the whole stroke.
    pub opacity: f32,
    /// What a dab adds at a quarter of its diameter from the last.
    pub flow: f32,
    /// From dab to dab in diameters.
    pub spacing: f32,
    /// "gradual" or "even".
    pub build_up: WireBuildUp,
    /// "material", "part" or "connected".
    pub reach: WireReach,
    /// How size follows pressure.
    pub pressure_size: WireResponse,
    /// How the ceiling of a dab follows pressure.
    pub pressure_opacity: WireResponse,
    /// How flow follows pressure.
    pub pressure_flow: WireResponse,
    /// How much dabs differ.
    #[serde(skip_serializing_if = "WireJitter::is_none")]
    pub jitter: WireJitter,
    /// The outline.
    #[serde(skip_serializing_if = "WireTip::is_round")]
    pub tip: WireTip,
    /// The texture inside.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tooth: Option<WireTooth>,
}

/// How much dabs differ; what is left out is 0.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WireJitter {
    /// The share of its radius by which a dab may be smaller.
    pub size: f32,
    /// The share of its ceiling by which a dab may be weaker.
    pub opacity: f32,
    /// How far beside the path a dab may lie, in diameters.
    pub position: f32,
}

impl WireJitter {
    fn is_none(&self) -> bool {
        *self == Self::default()
    }
}

/// An outline; a disc where nothing is said.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WireTip {
    /// The short axis as a share of the long one.
    pub aspect: f32,
    /// "axis", "stroke" or "chance".
    pub lies: WireLies,
    /// How far it is turned from there, in radians.
    pub turn: f32,
}

/// What an oval's long axis follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireLies {
    /// The part's axis.
    Axis,
    /// The stroke.
    Stroke,
    /// Nothing.
    Chance,
}

impl Default for WireTip {
    fn default() -> Self {
        Self::of(Tip::ROUND)
    }
}

impl WireTip {
    fn is_round(&self) -> bool {
        *self == Self::default()
    }

    fn of(tip: Tip) -> Self {
        let lies = match tip.lies {
            Lies::Axis => WireLies::Axis,
            Lies::Stroke => WireLies::Stroke,
            Lies::Chance => WireLies::Chance,
        };
        Self { aspect: tip.aspect, lies, turn: tip.turn }
    }

    fn tip(self) -> Tip {
        let lies = match self.lies {
            WireLies::Axis => Lies::Axis,
            WireLies::Stroke => Lies::Stroke,
            WireLies::Chance => Lies::Chance,
        };
        Tip { aspect: self.aspect, lies, turn: self.turn }
    }
}

/// A tooth; what is left out has its default.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WireTooth {
    /// What it looks like.
    pub pattern: WirePattern,
    /// Size of its features, in model units.
    pub scale: f32,
    /// How deep it is, 0..1.
    pub depth: f32,
    /// How hard its edges are, 0..1.
    pub contrast: f32,
    /// The share of the surface that takes paint, 0..1.
    pub level: f32,
    /// It runs along the part's axis.
    pub along_axis: bool,
    /// Which of many alike.
    pub seed: u32,
}

/// What a tooth looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WirePattern {
    /// Soft blotches.
    Value,
    /// Clouds.
    Gradient,
    /// Cells with dark borders.
    Cellular,
    /// Strands.
    Fibres,
    /// Specks.
    Speckle,
    /// Thin lines.
    Scratches,
    /// Small holes.
    Pores,
}

/// How coverage adds up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireBuildUp {
    /// Each dab brings coverage nearer to the ceiling.
    Gradual,
    /// The strongest dab counts.
    Even,
}

/// Which surfaces are reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireReach {
    /// All of the material.
    Material,
    /// The part under the path.
    Part,
    /// What hangs together with the surface under the path.
    Connected,
}

/// How a quantity follows pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireResponse {
    /// The factor at no pressure.
    pub at_zero: f32,
    /// Exponent of pressure.
    #[serde(default = "one")]
    pub gamma: f32,
}

impl Default for WireBrush {
    fn default() -> Self {
        Self::of(&BrushSettings::default())
    }
}

impl WireBrush {
    /// The settings as they are written down.
    pub fn of(brush: &BrushSettings) -> Self {
        Self {
            hardness: brush.hardness,
            opacity: brush.opacity,
            flow: brush.flow,
            spacing: brush.spacing,
            build_up: match brush.build_up {
                BuildUp::Gradual => WireBuildUp::Gradual,
                BuildUp::Even => WireBuildUp::Even,
            },
            reach: match brush.reach {
                Reach::Material => WireReach::Material,
                Reach::Part => WireReach::Part,
                Reach::Connected => WireReach::Connected,
            },
            pressure_size: WireResponse::of(brush.pressure.size),
            pressure_opacity: WireResponse::of(brush.pressure.opacity),
            pressure_flow: WireResponse::of(brush.pressure.flow),
            jitter: WireJitter::of(brush.jitter),
            tip: WireTip::of(brush.tip),
            tooth: brush.tooth.as_ref().map(WireTooth::of),
        }
    }

    /// The settings that it stands for, not checked.
    pub fn settings(&self) -> BrushSettings {
        BrushSettings {
            hardness: self.hardness,
            opacity: self.opacity,
            flow: self.flow,
            spacing: self.spacing,
            build_up: match self.build_up {
                WireBuildUp::Gradual => BuildUp::Gradual,
                WireBuildUp::Even => BuildUp::Even,
            },
            reach: match self.reach {
                WireReach::Material => Reach::Material,
                WireReach::Part => Reach::Part,
                WireReach::Connected => Reach::Connected,
            },
            pressure: PressureResponse {
                size: self.pressure_size.response(),
                opacity: self.pressure_opacity.response(),
                flow: self.pressure_flow.response(),
            },
            jitter: self.jitter.jitter(),
            tip: self.tip.tip(),
            tooth: self.tooth.as_ref().map(WireTooth::tooth),
        }
    }
}

impl WireJitter {
    fn of(jitter: Jitter) -> Self {
        Self { size: jitter.size, opacity: jitter.opacity, position: jitter.position }
    }

    fn jitter(self) -> Jitter {
        Jitter { size: self.size, opacity: self.opacity, position: self.position }
    }
}

impl Default for WireTooth {
    fn default() -> Self {
        Self::of(&Tooth::default())
    }
}

impl WireTooth {
    fn of(tooth: &Tooth) -> Self {
        Self {
            pattern: WirePattern::of(tooth.pattern),
            scale: tooth.scale,
            depth: tooth.depth,
            contrast: tooth.contrast,
            level: tooth.level,
            along_axis: tooth.along_axis,
            seed: tooth.seed,
        }
    }

    fn tooth(&self) -> Tooth {
        Tooth {
            pattern: self.pattern.pattern(),
            scale: self.scale,
            depth: self.depth,
            contrast: self.contrast,
            level: self.level,
            along_axis: self.along_axis,
            seed: self.seed,
        }
    }
}

impl WirePattern {
    fn of(pattern: Pattern) -> Self {
        match pattern {
            Pattern::Value => Self::Value,
            Pattern::Gradient => Self::Gradient,
            Pattern::Cellular => Self::Cellular,
            Pattern::Fibres => Self::Fibres,
            Pattern::Speckle => Self::Speckle,
            Pattern::Scratches => Self::Scratches,
            Pattern::Pores => Self::Pores,
        }
    }

    fn pattern(self) -> Pattern {
        match self {
            Self::Value => Pattern::Value,
            Self::Gradient => Pattern::Gradient,
            Self::Cellular => Pattern::Cellular,
            Self::Fibres => Pattern::Fibres,
            Self::Speckle => Pattern::Speckle,
            Self::Scratches => Pattern::Scratches,
            Self::Pores => Pattern::Pores,
        }
    }
}

impl WireResponse {
    fn of(response: Response) -> Self {
        Self { at_zero: response.at_zero, gamma: response.gamma }
    }

    fn response(self) -> Response {
        Response { at_zero: self.at_zero, gamma: self.gamma }
    }
}

fn one() -> f32 {
    1.0
}

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
