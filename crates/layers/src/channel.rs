//! Channels are a list in code and file, so that more can follow; nothing here or above may count on
//! there being three.

use std::fmt;

use crate::Value;

/// Names a channel in stacks, grounds and files. Numbers are never given to another channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ChannelId(pub u16);

impl ChannelId {
    /// Base colour, sRGB-encoded.
    pub const BASE_COLOUR: Self = Self(0);
    /// Perceptual roughness as in glTF: linear, white is rough.
    pub const ROUGHNESS: Self = Self(1);
    /// Metalness: linear, white is metal.
    pub const METALNESS: Self = Self(2);
}

impl fmt::Display for ChannelId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// What a channel's texels are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ChannelKind {
    /// Three planes, red, green and blue, sRGB-encoded.
    Colour,
    /// One plane, linear.
    Scalar,
}

impl ChannelKind {
    /// How many planes the channel has.
    pub const fn components(self) -> usize {
        match self {
            Self::Colour => 3,
            Self::Scalar => 1,
        }
    }
}

impl fmt::Display for ChannelKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Colour => "a colour (three values)",
            Self::Scalar => "a scalar (one value)",
        })
    }
}

/// All that the program knows of a channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChannelDescriptor {
    /// Its number.
    pub id: ChannelId,
    /// Its name in files: lower case, words joined by an underscore.
    pub key: String,
    /// Its name on screen.
    pub label: String,
    /// What its texels are.
    pub kind: ChannelKind,
    /// The ground that a new material gets; of the channel's kind.
    pub ground: Value,
}

/// The stored value of the 8-bit code 128, the middle of the scale.
const MIDDLE: u16 = 128 * 257;

/// The channels of a metal-rough material as glTF 2.0 has it: base colour, roughness, metalness.
/// The grounds are a middle grey, half rough, no metal.
pub fn standard_channels() -> Vec<ChannelDescriptor> {
    let channel = |id, key: &str, label: &str, ground: Value| ChannelDescriptor {
        id,
        key: key.to_owned(),
        label: label.to_owned(),
        kind: ground.kind(),
        ground,
    };
    vec![
        channel(
            ChannelId::BASE_COLOUR,
            "base_colour",
            "Base colour",
            Value::Colour([MIDDLE, MIDDLE, MIDDLE]),
        ),
        channel(ChannelId::ROUGHNESS, "roughness", "Roughness", Value::Scalar(MIDDLE)),
        channel(ChannelId::METALNESS, "metalness", "Metalness", Value::Scalar(0)),
    ]
}
