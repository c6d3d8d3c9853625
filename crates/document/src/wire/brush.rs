//! Brushes in JSON and TOML.

use brush::{
    BrushSettings, BuildUp, Hold, Jitter, Lies, Pattern, Reach, Relief, Response, Responses,
    Tiling, Tip, Tooth,
};
use serde::{Deserialize, Serialize};

use super::image::WireImage;

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
    /// How the tip is turned by pressure.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub pressure_angle: WireResponse,
    /// How far beside the path dabs lie by pressure.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub pressure_scatter: WireResponse,
    /// How much their tones differ by pressure.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub pressure_tones: WireResponse,
    /// How size follows tilt.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub tilt_size: WireResponse,
    /// How the ceiling of a dab follows tilt.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub tilt_opacity: WireResponse,
    /// How flow follows tilt.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub tilt_flow: WireResponse,
    /// How the tip is turned by tilt.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub tilt_angle: WireResponse,
    /// How far beside the path dabs lie by tilt.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub tilt_scatter: WireResponse,
    /// How much their tones differ by tilt.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub tilt_tones: WireResponse,
    /// How size follows speed.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub speed_size: WireResponse,
    /// How the ceiling of a dab follows speed.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub speed_opacity: WireResponse,
    /// How flow follows speed.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub speed_flow: WireResponse,
    /// How the tip is turned by speed.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub speed_angle: WireResponse,
    /// How far beside the path dabs lie by speed.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub speed_scatter: WireResponse,
    /// How much their tones differ by speed.
    #[serde(skip_serializing_if = "WireResponse::is_none")]
    pub speed_tones: WireResponse,
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
    /// How far a dab may be turned, in turns.
    pub angle: f32,
    /// How far a colour's hue may be off, in degrees.
    pub hue: f32,
    /// How far its value may be off: how light it is.
    pub shade: f32,
    /// How far a scalar may be off.
    pub value: f32,
}

/// An outline; a disc where nothing is said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WireTip {
    /// The outline as an image.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub image: Option<WireImage>,
    /// The short axis as a share of the long one.
    pub aspect: f32,
    /// "axis", "stroke", "tilt" or "chance".
    pub lies: WireLies,
    /// How far it is turned from there, in radians.
    pub turn: f32,
}

/// What a tip's long axis follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireLies {
    /// The part's axis.
    Axis,
    /// The stroke.
    Stroke,
    /// The pen.
    Tilt,
    /// Nothing.
    Chance,
}

/// A tooth; what is left out has its default.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WireTooth {
    /// What it shows, where that is one of ours.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pattern: Option<WirePattern>,
    /// What it shows, where that is an image.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub image: Option<WireImage>,
    /// How an image is laid on: "unstructured" or "structured".
    #[serde(skip_serializing_if = "WireTiling::is_usual")]
    pub tiling: WireTiling,
    /// What it belongs to: "surface" or "dab".
    #[serde(skip_serializing_if = "WireHold::is_usual")]
    pub hold: WireHold,
    /// Size of its features, in model units; for a tooth of the dab, in its radii.
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

/// How an image is laid over a surface.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireTiling {
    /// In scattered pieces, so that nothing repeats.
    #[default]
    Unstructured,
    /// Side by side.
    Structured,
}

/// What a tooth belongs to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireHold {
    /// It stays on the surface.
    #[default]
    Surface,
    /// Each dab brings it along.
    Dab,
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

/// How a quantity follows what the pen tells.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireResponse {
    /// The factor at 0.
    #[serde(default = "one")]
    pub at_zero: f32,
    /// The factor at 1.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub at_full: f32,
    /// Exponent.
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
            pressure_angle: WireResponse::of(brush.pressure.angle),
            pressure_scatter: WireResponse::of(brush.pressure.scatter),
            pressure_tones: WireResponse::of(brush.pressure.tones),
            tilt_size: WireResponse::of(brush.tilt.size),
            tilt_opacity: WireResponse::of(brush.tilt.opacity),
            tilt_flow: WireResponse::of(brush.tilt.flow),
            tilt_angle: WireResponse::of(brush.tilt.angle),
            tilt_scatter: WireResponse::of(brush.tilt.scatter),
            tilt_tones: WireResponse::of(brush.tilt.tones),
            speed_size: WireResponse::of(brush.speed.size),
            speed_opacity: WireResponse::of(brush.speed.opacity),
            speed_flow: WireResponse::of(brush.speed.flow),
            speed_angle: WireResponse::of(brush.speed.angle),
            speed_scatter: WireResponse::of(brush.speed.scatter),
            speed_tones: WireResponse::of(brush.speed.tones),
            jitter: WireJitter::of(brush.jitter),
            tip: WireTip::of(&brush.tip),
            tooth: brush.tooth.as_ref().map(WireTooth::of),
        }
    }

    /// The settings that it stands for, their ranges not checked.
    ///
    /// # Errors
    /// A message where an image is not there, or a tooth says two things.
    pub fn settings(&self) -> Result<BrushSettings, String> {
        Ok(BrushSettings {
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
            pressure: Responses {
                size: self.pressure_size.response(),
                opacity: self.pressure_opacity.response(),
                flow: self.pressure_flow.response(),
                angle: self.pressure_angle.response(),
                scatter: self.pressure_scatter.response(),
                tones: self.pressure_tones.response(),
            },
            tilt: Responses {
                size: self.tilt_size.response(),
                opacity: self.tilt_opacity.response(),
                flow: self.tilt_flow.response(),
                angle: self.tilt_angle.response(),
                scatter: self.tilt_scatter.response(),
                tones: self.tilt_tones.response(),
            },
            speed: Responses {
                size: self.speed_size.response(),
                opacity: self.speed_opacity.response(),
                flow: self.speed_flow.response(),
                angle: self.speed_angle.response(),
                scatter: self.speed_scatter.response(),
                tones: self.speed_tones.response(),
            },
            jitter: self.jitter.jitter(),
            tip: self.tip.tip()?,
            tooth: self.tooth.as_ref().map(WireTooth::tooth).transpose()?,
        })
    }

    /// The images that it names.
    pub fn images(&self) -> impl Iterator<Item = &WireImage> {
        let of_tooth = self.tooth.as_ref().and_then(|tooth| tooth.image.as_ref());
        self.tip.image.iter().chain(of_tooth)
    }

    /// The same, to give it them.
    pub fn images_mut(&mut self) -> impl Iterator<Item = &mut WireImage> {
        let of_tooth = self.tooth.as_mut().and_then(|tooth| tooth.image.as_mut());
        self.tip.image.iter_mut().chain(of_tooth)
    }
}

impl WireJitter {
    fn is_none(&self) -> bool {
        *self == Self::default()
    }

    fn of(Jitter { size, opacity, position, angle, hue, shade, value }: Jitter) -> Self {
        Self { size, opacity, position, angle, hue, shade, value }
    }

    fn jitter(self) -> Jitter {
        let Self { size, opacity, position, angle, hue, shade, value } = self;
        Jitter { size, opacity, position, angle, hue, shade, value }
    }
}

impl Default for WireTip {
    fn default() -> Self {
        Self::of(&Tip::ROUND)
    }
}

impl WireTip {
    fn is_round(&self) -> bool {
        *self == Self::default()
    }

    fn of(tip: &Tip) -> Self {
        let lies = match tip.lies {
            Lies::Axis => WireLies::Axis,
            Lies::Stroke => WireLies::Stroke,
            Lies::Tilt => WireLies::Tilt,
            Lies::Chance => WireLies::Chance,
        };
        let image = tip.image.as_ref().map(WireImage::of);
        Self { image, aspect: tip.aspect, lies, turn: tip.turn }
    }

    fn tip(&self) -> Result<Tip, String> {
        let lies = match self.lies {
            WireLies::Axis => Lies::Axis,
            WireLies::Stroke => Lies::Stroke,
            WireLies::Tilt => Lies::Tilt,
            WireLies::Chance => Lies::Chance,
        };
        let image = self.image.as_ref().map(WireImage::image).transpose()?;
        Ok(Tip { image, aspect: self.aspect, lies, turn: self.turn })
    }
}

impl Default for WireTooth {
    fn default() -> Self {
        let mut tooth = Self::of(&Tooth::default());
        tooth.pattern = None;
        tooth
    }
}

impl WireTiling {
    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks so")]
    fn is_usual(&self) -> bool {
        *self == Self::default()
    }
}

impl WireHold {
    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks so")]
    fn is_usual(&self) -> bool {
        *self == Self::default()
    }
}

impl WireTooth {
    pub(super) fn of(tooth: &Tooth) -> Self {
        let (mut pattern, mut image, mut tiling) = (None, None, WireTiling::default());
        match &tooth.relief {
            Relief::Pattern(shown) => pattern = Some(WirePattern::of(*shown)),
            Relief::Image(shown, how) => {
                image = Some(WireImage::of(shown));
                tiling = match how {
                    Tiling::Unstructured => WireTiling::Unstructured,
                    Tiling::Structured => WireTiling::Structured,
                };
            }
        }
        Self {
            pattern,
            image,
            tiling,
            hold: match tooth.hold {
                Hold::Anchored => WireHold::Surface,
                Hold::Stamped => WireHold::Dab,
            },
            scale: tooth.scale,
            depth: tooth.depth,
            contrast: tooth.contrast,
            level: tooth.level,
            along_axis: tooth.along_axis,
            seed: tooth.seed,
        }
    }

    pub(super) fn tooth(&self) -> Result<Tooth, String> {
        let tiling = match self.tiling {
            WireTiling::Unstructured => Tiling::Unstructured,
            WireTiling::Structured => Tiling::Structured,
        };
        let relief = match (&self.image, self.pattern) {
            (None, pattern) => {
                Relief::Pattern(pattern.map_or(Pattern::Gradient, WirePattern::pattern))
            }
            (Some(image), None) => Relief::Image(image.image()?, tiling),
            (Some(_), Some(_)) => {
                return Err("a tooth shows either a \"pattern\" or an \"image\"".to_owned());
            }
        };
        Ok(Tooth {
            relief,
            hold: match self.hold {
                WireHold::Surface => Hold::Anchored,
                WireHold::Dab => Hold::Stamped,
            },
            scale: self.scale,
            depth: self.depth,
            contrast: self.contrast,
            level: self.level,
            along_axis: self.along_axis,
            seed: self.seed,
        })
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
    fn is_none(&self) -> bool {
        *self == Self::of(Response::NONE)
    }

    fn of(Response { at_zero, at_full, gamma }: Response) -> Self {
        Self { at_zero, at_full, gamma }
    }

    fn response(self) -> Response {
        let Self { at_zero, at_full, gamma } = self;
        Response { at_zero, at_full, gamma }
    }
}

fn one() -> f32 {
    1.0
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks so")]
fn is_one(value: &f32) -> bool {
    *value == 1.0
}
