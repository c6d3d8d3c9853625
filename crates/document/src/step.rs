//! What a stroke or a fill does to a layer, as data: an edit holds it, and so does a layer's recipe.

use std::collections::BTreeMap;

use brush::{Adjustment, Decal, FillScope, Gradient, LeftOut, Mirror, Path, Stroke, Tooth};
use layers::{ChannelId, TermId, Value};

/// Which mask of a layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MaskOwner {
    /// The layer's own.
    Layer,
    /// That of one of its cells.
    Cell(ChannelId),
}

/// One term of one mask of a layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct MaskAt {
    /// Whose mask.
    pub owner: MaskOwner,
    /// Which term.
    pub term: TermId,
}

/// What of a layer is changed by what makes do with what is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// The paint of these cells, as far as they have any.
    Cells(Vec<ChannelId>),
    /// A painted mask term.
    Mask(MaskAt),
}

/// What is deposited, or done with what is there.
#[derive(Debug, Clone, PartialEq)]
pub enum Deposit {
    /// A value into each of these cells.
    Paint(BTreeMap<ChannelId, Value>),
    /// Nothing: what is there is taken off these cells.
    Erase(Vec<ChannelId>),
    /// A value, 0..1 as stored, into a painted mask term.
    Mask {
        /// The term.
        at: MaskAt,
        /// What it moves towards.
        value: u16,
    },
    /// Nothing: values that are there change.
    Adjust(Target, Adjustment),
    /// Nothing: paint that is there is moved, as the stroke's kind says. Takes a stroke that moves paint; all others
    /// take none.
    Move(Target),
}

/// Where it is deposited.
#[derive(Debug, Clone, PartialEq)]
#[expect(clippy::large_enum_variant, reason = "nearly all of them are strokes")]
pub enum Shape {
    /// Along a stroke.
    Stroke(Stroke),
    /// Everywhere at once.
    Fill {
        /// What is filled.
        scope: FillScope,
        /// How much, 0..1.
        opacity: f32,
        /// Parts that are not filled.
        left_out: LeftOut,
        /// What takes it; all alike where none.
        tooth: Option<Tooth>,
    },
    /// Fading from full to nothing.
    Gradient(Gradient),
    /// An image laid on the surface.
    Decal(Decal),
}

/// One step of what was painted into a layer.
#[derive(Debug, Clone, PartialEq)]
#[expect(clippy::large_enum_variant, reason = "nearly all of them are strokes")]
pub enum Step {
    /// A stroke, a fill, a gradient or a decal.
    Deposit {
        /// What.
        deposit: Deposit,
        /// Where.
        shape: Shape,
    },
    /// What is selected takes the mirror image of what lies across a plane.
    Mirror {
        /// Of what.
        target: Target,
        /// The plane.
        mirror: Mirror,
    },
    /// All paint is taken out of these cells; how they are set and masked stays.
    Clear(Vec<ChannelId>),
    /// A painted mask term came to be, with one value everywhere.
    MaskStart {
        /// The term.
        at: MaskAt,
        /// Its value.
        value: u16,
    },
}

impl Shape {
    /// What a fill or a gradient may cover.
    pub fn scope(&self) -> Option<&FillScope> {
        match self {
            Self::Stroke(_) | Self::Decal(_) => None,
            Self::Fill { scope, .. } => Some(scope),
            Self::Gradient(gradient) => Some(&gradient.scope),
        }
    }

    /// Parts that get no paint.
    pub fn left_out(&self) -> &LeftOut {
        match self {
            Self::Stroke(stroke) => &stroke.left_out,
            Self::Fill { left_out, .. } => left_out,
            Self::Gradient(gradient) => &gradient.left_out,
            Self::Decal(decal) => &decal.left_out,
        }
    }
}

impl Step {
    /// Bytes of memory that the step takes.
    pub fn bytes(&self) -> usize {
        let listed = match self {
            Self::Deposit { shape: Shape::Stroke(stroke), .. } => match &stroke.path {
                Path::Surface(path) => path.runs.iter().map(|run| size_of_val(&**run)).sum(),
                Path::Texture(runs) => runs.iter().map(|run| size_of_val(&**run)).sum(),
                Path::Guided(guide) => size_of_val(&*guide.knots),
            },
            Self::Deposit { shape, .. } => match shape.scope() {
                Some(FillScope::Faces(faces)) => size_of_val(&**faces),
                _ => 0,
            },
            Self::Mirror { .. } | Self::Clear(_) | Self::MaskStart { .. } => 0,
        };
        size_of::<Self>() + listed
    }
}
