//! One value of a channel, and opacity.

use std::collections::BTreeMap;

use crate::{ChannelId, ChannelKind, LayersError};

/// One value of a channel, as stored: 65535 is 1.0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Value {
    /// Red, green, blue; sRGB-encoded, straight.
    Colour([u16; 3]),
    /// Linear.
    Scalar(u16),
}

impl Value {
    /// The kind of channel that the value belongs to.
    pub const fn kind(&self) -> ChannelKind {
        match self {
            Self::Colour(_) => ChannelKind::Colour,
            Self::Scalar(_) => ChannelKind::Scalar,
        }
    }

    /// The value's components, in the order of its channel's planes.
    pub fn components(&self) -> &[u16] {
        match self {
            Self::Colour(components) => components,
            Self::Scalar(component) => std::slice::from_ref(component),
        }
    }
}

/// The opaque value that each channel has under all layers. A channel that is not named has its
/// descriptor's ground.
pub type Ground = BTreeMap<ChannelId, Value>;

/// A factor from 0 (changes nothing) to 1 (full).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Opacity(f32);

impl Opacity {
    /// All of it.
    pub const FULL: Self = Self(1.0);
    /// Nothing of it.
    pub const NONE: Self = Self(0.0);

    /// # Errors
    /// [`LayersError::Opacity`] for anything but a number from 0 to 1.
    pub fn new(opacity: f32) -> Result<Self, LayersError> {
        if (0.0..=1.0).contains(&opacity) {
            // Adding 0 turns -0 into 0: one value, one set of bits.
            Ok(Self(opacity + 0.0))
        } else {
            Err(LayersError::Opacity(opacity))
        }
    }

    /// The factor, 0..1.
    pub const fn get(self) -> f32 {
        self.0
    }
}

impl Default for Opacity {
    fn default() -> Self {
        Self::FULL
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_opacity_is_a_number_from_0_to_1() {
        for wrong in [f32::NAN, f32::INFINITY, -0.01, 1.01] {
            assert!(Opacity::new(wrong).is_err(), "{wrong}");
        }
        assert_eq!(Opacity::new(0.25).unwrap().get(), 0.25);
        assert_eq!(Opacity::new(-0.0).unwrap().get().to_bits(), 0);
    }
}
