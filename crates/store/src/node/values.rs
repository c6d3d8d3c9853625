//! The forms of small values of the core.

use brush::{
    Adjustment, Anchor, Axis, BuildUp, Decal, Easing, FillScope, Hold, Jitter, KernelVersion,
    LeftOut, Lies, Mirror, Pattern, Reach, Relief, Response, Responses, Stencil, Symmetry, Tiling,
    Tip, Tooth,
};
use document::{MaskAt, MaskOwner, MaterialId, Target};
use glam::{DVec3, DVec4, Vec2, Vec3};
use layers::{
    BlendMode, BlendSpace, ChannelDescriptor, ChannelId, ChannelKind, Combine, FieldExpr, FieldId,
    Isolation, LayerId, Opacity, TermId, Value,
};
use raster::EncodedRgb;
use surface::{Part, PartId, TriangleId};

use crate::written::{Input, Malformed, Written, codes, record, wrapped};

wrapped!(
    ChannelId(u16),
    LayerId(u32),
    TermId(u32),
    MaterialId(u32),
    PartId(u32),
    TriangleId(u32),
    KernelVersion(u16),
    EncodedRgb([f32; 3]),
);

codes!(ChannelKind { Colour = 0, Scalar = 1 });
codes!(BlendSpace { Encoded = 0, Linear = 1 });
codes!(Isolation { Isolated = 0, PassThrough = 1 });
codes!(Combine { Multiply = 0, Add = 1, Subtract = 2, Lighten = 3, Darken = 4, Replace = 5 });
codes!(BuildUp { Gradual = 0, Even = 1 });
record!(Mirror { axis, at, moves, left_out });
codes!(Axis { X = 0, Y = 1, Z = 2 });
codes!(Easing { Even = 0, Smooth = 1 });
codes!(Reach { Material = 0, Part = 1, Connected = 2 });

record!(ChannelDescriptor { id, key, label, kind, ground });
record!(FieldExpr { field, low, high });
record!(MaskAt { owner, term });
record!(Part { name, axis });
record!(Response { at_zero, at_full, gamma });
record!(Responses { size, opacity, flow, angle, scatter, tones });
record!(Jitter { size, opacity, position, angle, hue, shade, value });
record!(Tip { image, aspect, lies, turn });
codes!(Lies { Axis = 0, Stroke = 1, Chance = 2, Tilt = 3 });
record!(Tooth { relief, hold, scale, depth, contrast, level, along_axis, seed });
codes!(Hold { Anchored = 0, Stamped = 1 });
codes!(Tiling { Unstructured = 0, Structured = 1 });
record!(Anchor { position, normal });
record!(Decal { image, middle, up, half, turn, opacity, left_out });
record!(Symmetry { centre, mirrors, turns });
record!(Stencil { image, inverted, places });
codes!(Pattern {
    Value = 0,
    Gradient = 1,
    Cellular = 2,
    Fibres = 3,
    Speckle = 4,
    Scratches = 5,
    Pores = 6,
});

/// A value that is written as another one, and may refuse what that says.
macro_rules! as_other {
    ($name:ty as $other:ty, $to:expr, $from:expr) => {
        impl Written for $name {
            fn write(&self, out: &mut Vec<u8>) {
                let to: fn(&Self) -> $other = $to;
                to(self).write(out);
            }

            fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
                let from: fn($other) -> Option<Self> = $from;
                from(<$other>::read(input)?).ok_or(Malformed::Content)
            }
        }
    };
}

as_other!(Opacity as f32, |opacity| opacity.get(), |value| Self::new(value).ok());
as_other!(BlendMode as String, |mode| mode.key().to_owned(), |key| Self::from_key(&key));
as_other!(FieldId as String, |field| field.key().to_owned(), |key| Self::from_key(&key));
as_other!(Vec2 as [f32; 2], |v| v.to_array(), |v| Some(v.into()));
as_other!(Vec3 as [f32; 3], |v| v.to_array(), |v| Some(v.into()));
as_other!(DVec4 as [f64; 4], |v| v.to_array(), |v| Some(v.into()));
as_other!(DVec3 as [f64; 3], |v| v.to_array(), |v| Some(v.into()));
as_other!(
    LeftOut as (Vec<PartId>, Vec<PartId>),
    |left_out| (left_out.hidden().to_vec(), left_out.locked().to_vec()),
    |(hidden, locked)| Some(Self::new(hidden, locked))
);
as_other!(
    MaskOwner as Option<ChannelId>,
    |owner| match owner {
        MaskOwner::Layer => None,
        MaskOwner::Cell(channel) => Some(*channel),
    },
    |channel| Some(channel.map_or(Self::Layer, Self::Cell))
);

impl Written for Value {
    fn write(&self, out: &mut Vec<u8>) {
        self.kind().write(out);
        self.components().iter().for_each(|component| component.write(out));
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        Ok(match ChannelKind::read(input)? {
            ChannelKind::Colour => Self::Colour(Written::read(input)?),
            ChannelKind::Scalar => Self::Scalar(Written::read(input)?),
        })
    }
}

impl Written for Relief {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Pattern(pattern) => (0_u8, *pattern).write(out),
            Self::Image(image, tiling) => {
                1_u8.write(out);
                (image.clone(), *tiling).write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Pattern(Written::read(input)?)),
            1 => Ok(Self::Image(Written::read(input)?, Written::read(input)?)),
            _ => Err(Malformed::Content),
        }
    }
}

impl Written for Adjustment {
    fn write(&self, out: &mut Vec<u8>) {
        match *self {
            Self::Lighten(by) => (0_u8, by).write(out),
            Self::Darken(by) => (1_u8, by).write(out),
            Self::Shift { hue, saturation, value } => {
                2_u8.write(out);
                [hue, saturation, value].write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        Ok(match u8::read(input)? {
            0 => Self::Lighten(Written::read(input)?),
            1 => Self::Darken(Written::read(input)?),
            2 => {
                let [hue, saturation, value] = Written::read(input)?;
                Self::Shift { hue, saturation, value }
            }
            _ => return Err(Malformed::Content),
        })
    }
}

impl Written for Target {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Cells(channels) => {
                0_u8.write(out);
                channels.write(out);
            }
            Self::Mask(at) => (1_u8, *at).write(out),
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Cells(Written::read(input)?)),
            1 => Ok(Self::Mask(Written::read(input)?)),
            _ => Err(Malformed::Content),
        }
    }
}

impl Written for FillScope {
    fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Material => 0_u8.write(out),
            Self::Part(part) => (1_u8, *part).write(out),
            Self::Island(triangle) => (2_u8, *triangle).write(out),
            Self::Faces(faces) => {
                3_u8.write(out);
                faces.to_vec().write(out);
            }
            Self::Crease { from, angle } => {
                (4_u8, *from).write(out);
                angle.write(out);
            }
        }
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        match u8::read(input)? {
            0 => Ok(Self::Material),
            1 => Ok(Self::Part(Written::read(input)?)),
            2 => Ok(Self::Island(Written::read(input)?)),
            3 => Ok(Self::Faces(Vec::<TriangleId>::read(input)?.into())),
            4 => Ok(Self::Crease { from: Written::read(input)?, angle: Written::read(input)? }),
            _ => Err(Malformed::Content),
        }
    }
}
