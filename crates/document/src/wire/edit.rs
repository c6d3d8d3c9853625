//! Edits in JSON: one object each, told apart by its key `edit`.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::brush::WireTooth;
use super::decal::WireDecal;
use super::image::WireImage;
use super::region::{WireGradient, WireRegion, WireSelectMode};
use super::stroke::{WireAxis, WireLeftOut, WireStroke};
use super::value::{WireValue, WireValues};

/// A material by its name or by its number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum WireMaterial {
    /// Its number.
    Number(u32),
    /// Its name; it must be the only one of that name.
    Name(String),
}

/// What a new layer is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum WireNewContent {
    /// Nothing painted yet.
    Painted,
    /// One value a channel.
    Solid(BTreeMap<String, WireValue>),
    /// A group: `"isolated"` or `"pass_through"`.
    Group(WireIsolation),
}

/// How a group meets what is below it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireIsolation {
    /// Its layers blend with each other only.
    Isolated,
    /// Its layers blend with what is below the group.
    PassThrough,
}

/// In which values colours blend.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireBlendSpace {
    /// As stored.
    Encoded,
    /// In linear light.
    Linear,
}

/// How a mask term meets those before it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireCombine {
    #[default]
    Multiply,
    Add,
    Subtract,
    Lighten,
    Darken,
    Replace,
}

/// A field and its levels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireField {
    /// The field's name.
    pub field: String,
    /// What gives 0.
    pub low: f32,
    /// What gives 1.
    pub high: f32,
}

/// Where a new mask term's values come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum WireTermSource {
    /// Painted, with this value everywhere at first.
    Painted(f32),
    /// Computed.
    Field(WireField),
}

/// Whether the group's or the root's list: `parent` is a group's id, `index` counts from the bottom.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WirePlace {
    /// The group; the root when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<u32>,
    /// From the bottom; the top when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub index: Option<usize>,
}

/// A fill.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireFill {
    /// What it covers.
    pub scope: WireRegion,
    /// How much, 0..1; 1 when left out.
    #[serde(default = "full")]
    pub opacity: f32,
    /// Parts that it does not fill.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_out: Option<WireLeftOut>,
    /// What takes it, on the surface.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tooth: Option<WireTooth>,
}

/// A shift of values; what is left out is 0.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WireShift {
    /// Added to a colour's hue, in degrees.
    pub hue: f32,
    /// Added to a colour's saturation.
    pub saturation: f32,
    /// Added to a colour's value, or to a scalar.
    pub value: f32,
}

fn full() -> f32 {
    1.0
}

/// One edit. `channel` names the mask of a cell; without it the mask is the layer's own. `channels`
/// may be left out where it means all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "edit", rename_all = "snake_case", deny_unknown_fields)]
#[expect(missing_docs, reason = "the format is documented, field by field, in DEVELOPERS.md")]
pub enum WireEdit {
    Import {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        model: Option<String>,
        texture_size: u32,
    },
    TextureSize {
        material: WireMaterial,
        size: u32,
    },
    Ground {
        material: WireMaterial,
        channel: String,
        value: WireValue,
    },
    BlendSpace {
        material: WireMaterial,
        space: WireBlendSpace,
    },
    SelectEverything {
        material: WireMaterial,
    },
    Select {
        material: WireMaterial,
        region: WireRegion,
        #[serde(default)]
        mode: WireSelectMode,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        left_out: Option<WireLeftOut>,
    },
    InvertSelection {
        material: WireMaterial,
    },
    GrowSelection {
        material: WireMaterial,
        texels: i32,
    },
    SoftenSelection {
        material: WireMaterial,
        texels: u32,
    },
    AddLayer {
        material: WireMaterial,
        layer: u32,
        name: String,
        content: WireNewContent,
        #[serde(default)]
        place: WirePlace,
    },
    RemoveLayer {
        material: WireMaterial,
        layer: u32,
    },
    MoveLayer {
        material: WireMaterial,
        layer: u32,
        #[serde(default)]
        place: WirePlace,
    },
    DuplicateLayer {
        material: WireMaterial,
        layer: u32,
        copy: u32,
    },
    MergeDown {
        material: WireMaterial,
        layer: u32,
    },
    RenameLayer {
        material: WireMaterial,
        layer: u32,
        name: String,
    },
    LayerVisible {
        material: WireMaterial,
        layer: u32,
        visible: bool,
    },
    LayerOpacity {
        material: WireMaterial,
        layer: u32,
        opacity: f32,
    },
    GroupIsolation {
        material: WireMaterial,
        layer: u32,
        isolation: WireIsolation,
    },
    CellOn {
        material: WireMaterial,
        layer: u32,
        #[serde(default)]
        channels: Vec<String>,
        on: bool,
    },
    CellBlend {
        material: WireMaterial,
        layer: u32,
        #[serde(default)]
        channels: Vec<String>,
        blend: String,
    },
    CellOpacity {
        material: WireMaterial,
        layer: u32,
        #[serde(default)]
        channels: Vec<String>,
        opacity: f32,
    },
    /// `value` null takes the channel out of the layer.
    SolidValue {
        material: WireMaterial,
        layer: u32,
        channel: String,
        value: Option<WireValue>,
    },
    AddMaskTerm {
        material: WireMaterial,
        layer: u32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        channel: Option<String>,
        term: u32,
        source: WireTermSource,
        #[serde(default)]
        combine: WireCombine,
    },
    RemoveMaskTerm {
        material: WireMaterial,
        layer: u32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        channel: Option<String>,
        term: u32,
    },
    MoveMaskTerm {
        material: WireMaterial,
        layer: u32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        channel: Option<String>,
        term: u32,
        index: usize,
    },
    /// Changes exactly one of the term's properties.
    MaskTerm {
        material: WireMaterial,
        layer: u32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        channel: Option<String>,
        term: u32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        on: Option<bool>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        invert: Option<bool>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        strength: Option<f32>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        combine: Option<WireCombine>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        field: Option<WireField>,
    },
    /// Has one of stroke, fill, gradient and decal.
    Paint {
        material: WireMaterial,
        layer: u32,
        values: WireValues,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stroke: Option<WireStroke>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fill: Option<WireFill>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        gradient: Option<WireGradient>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        decal: Option<WireDecal>,
    },
    /// Has one of stroke, fill, gradient and decal.
    Erase {
        material: WireMaterial,
        layer: u32,
        #[serde(default)]
        channels: Vec<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stroke: Option<WireStroke>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fill: Option<WireFill>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        gradient: Option<WireGradient>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        decal: Option<WireDecal>,
    },
    /// Changes values that are there: of cells, or with `term` of a mask. Has one of `lighten`, `darken`, `shift`, and
    /// a stroke, a fill, a gradient or a decal.
    Adjust {
        material: WireMaterial,
        layer: u32,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        channels: Vec<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        channel: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        term: Option<u32>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lighten: Option<f32>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        darken: Option<f32>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        shift: Option<WireShift>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stroke: Option<WireStroke>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fill: Option<WireFill>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        gradient: Option<WireGradient>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        decal: Option<WireDecal>,
    },
    /// Moves paint that is there: of cells, or with `term` of a mask. The stroke's kind says how.
    MovePaint {
        material: WireMaterial,
        layer: u32,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        channels: Vec<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        channel: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        term: Option<u32>,
        stroke: WireStroke,
    },
    /// Another edit that paints in the place of the layer's step of that number, counted from 0; without one the step
    /// is taken away. The layer is painted again.
    Repaint {
        material: WireMaterial,
        layer: u32,
        step: usize,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        with: Option<Box<Self>>,
    },
    /// Fetches what lies across a plane: of cells, or with `term` of a mask.
    MirrorPaint {
        material: WireMaterial,
        layer: u32,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        channels: Vec<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        channel: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        term: Option<u32>,
        along: WireAxis,
        at: f32,
        #[serde(default)]
        moves: bool,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        left_out: Option<WireLeftOut>,
    },
    ClearCells {
        material: WireMaterial,
        layer: u32,
        #[serde(default)]
        channels: Vec<String>,
    },
    /// Has one of stroke, fill, gradient and decal.
    PaintMask {
        material: WireMaterial,
        layer: u32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        channel: Option<String>,
        term: u32,
        value: f32,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stroke: Option<WireStroke>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fill: Option<WireFill>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        gradient: Option<WireGradient>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        decal: Option<WireDecal>,
    },
}

impl WireEdit {
    /// The images that its stroke, its fill or its decal names.
    pub fn images(&self) -> impl Iterator<Item = &WireImage> {
        let (stroke, fill, decal) = match self.painting() {
            Self::Paint { stroke, fill, decal, .. }
            | Self::Erase { stroke, fill, decal, .. }
            | Self::Adjust { stroke, fill, decal, .. }
            | Self::PaintMask { stroke, fill, decal, .. } => {
                (stroke.as_ref(), fill.as_ref(), decal.as_ref())
            }
            Self::MovePaint { stroke, .. } => (Some(stroke), None, None),
            _ => (None, None, None),
        };
        let of_stroke = stroke.into_iter().flat_map(WireStroke::images);
        let of_fill = fill.and_then(|fill| fill.tooth.as_ref()?.image.as_ref());
        of_stroke.chain(of_fill).chain(decal.map(|decal| &decal.image))
    }

    /// The edit that paints: it itself, or the one that it puts in a place.
    fn painting(&self) -> &Self {
        match self {
            Self::Repaint { with: Some(with), .. } => with,
            _ => self,
        }
    }

    /// The same, to give it them.
    pub(super) fn images_mut(&mut self) -> impl Iterator<Item = &mut WireImage> {
        let painting = match self {
            Self::Repaint { with: Some(with), .. } => &mut **with,
            _ => self,
        };
        let (stroke, fill, decal) = match painting {
            Self::Paint { stroke, fill, decal, .. }
            | Self::Erase { stroke, fill, decal, .. }
            | Self::Adjust { stroke, fill, decal, .. }
            | Self::PaintMask { stroke, fill, decal, .. } => {
                (stroke.as_mut(), fill.as_mut(), decal.as_mut())
            }
            Self::MovePaint { stroke, .. } => (Some(stroke), None, None),
            _ => (None, None, None),
        };
        let of_stroke = stroke.into_iter().flat_map(WireStroke::images_mut);
        let of_fill = fill.and_then(|fill| fill.tooth.as_mut()?.image.as_mut());
        of_stroke.chain(of_fill).chain(decal.map(|decal| &mut decal.image))
    }
}
