//! Colour types whose names say linear or encoded, straight or premultiplied.
//!
//! Primaries and white are those of sRGB (Rec. 709, D65) throughout.

/// A colour encoded by the sRGB transfer function, each component 0..1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct EncodedRgb(pub [f32; 3]);

/// A colour in linear light, each component 0..1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LinearRgb(pub [f32; 3]);

/// A colour and how much of the texel it covers (0..1); the colour does not depend on the coverage.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Straight<C> {
    /// The colour as if it covered the whole texel.
    pub colour: C,
    /// Covered share of the texel, 0..1.
    pub coverage: f32,
}

/// A colour already multiplied by its coverage: what sums and averages need.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Premultiplied<C> {
    /// Colour times coverage.
    pub colour: C,
    /// Covered share of the texel, 0..1.
    pub coverage: f32,
}

impl EncodedRgb {
    /// The same colour in linear light.
    pub fn decode(self) -> LinearRgb {
        LinearRgb(self.0.map(decode_srgb))
    }

    /// From stored values.
    pub fn from_stored(values: [u16; 3]) -> Self {
        Self(values.map(to_unit))
    }

    /// As stored values.
    pub fn to_stored(self) -> [u16; 3] {
        self.0.map(from_unit)
    }
}

impl LinearRgb {
    /// The same colour, sRGB-encoded.
    pub fn encode(self) -> EncodedRgb {
        EncodedRgb(self.0.map(encode_srgb))
    }
}

impl Straight<LinearRgb> {
    /// The colour multiplied by its coverage.
    pub fn premultiply(self) -> Premultiplied<LinearRgb> {
        let Self { colour, coverage } = self;
        Premultiplied { colour: LinearRgb(colour.0.map(|c| c * coverage)), coverage }
    }
}

impl Premultiplied<LinearRgb> {
    /// The colour without its coverage; black where nothing is covered.
    pub fn unpremultiply(self) -> Straight<LinearRgb> {
        let Self { colour, coverage } = self;
        let straight = |c: f32| if coverage > 0.0 { c / coverage } else { 0.0 };
        Straight { colour: LinearRgb(colour.0.map(straight)), coverage }
    }
}

/// Encoded value 0..1 -> linear light 0..1. IEC 61966-2-1:1999, clause 5.2.
pub fn decode_srgb(encoded: f32) -> f32 {
    if encoded <= 0.040_45 { encoded / 12.92 } else { libm::powf((encoded + 0.055) / 1.055, 2.4) }
}

/// Linear light 0..1 -> encoded value 0..1. IEC 61966-2-1:1999, clause 5.3.
pub fn encode_srgb(linear: f32) -> f32 {
    if linear <= 0.003_130_8 {
        linear * 12.92
    } else {
        1.055 * libm::powf(linear, 1.0 / 2.4) - 0.055
    }
}

/// A stored value as 0..1.
#[inline]
pub fn to_unit(stored: u16) -> f32 {
    f32::from(stored) / 65_535.0
}

/// 0..1 as a stored value, rounded half away from zero; values outside are clamped and NaN gives 0.
///
/// Loops over it become vector code: a conversion to an integer would not, since it tests for values out of
/// range. From 2^23 on, a float's last bits count in ones.
#[inline]
pub fn from_unit(value: f32) -> u16 {
    const ONES: f32 = 8_388_608.0;
    let value = if value > 0.0 { value } else { 0.0 };
    let value = if value < 1.0 { value } else { 1.0 };
    let raised = value * 65_535.0 + 0.5;
    let nearest = raised + ONES;
    let too_high = u16::from(nearest - ONES > raised);
    (nearest.to_bits() as u16).wrapping_sub(too_high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stored_value_survives_a_round_trip() {
        for stored in 0..=u16::MAX {
            assert_eq!(from_unit(to_unit(stored)), stored);
        }
    }

    #[test]
    fn values_between_are_rounded_half_up_as_a_conversion_of_f32_would() {
        for step in 0..=65_535 * 64u32 {
            let value = step as f32 / (65_535.0 * 64.0);
            assert_eq!(from_unit(value), (value * 65_535.0 + 0.5) as u16, "{value}");
        }
    }

    #[test]
    fn wild_values_are_clamped() {
        assert_eq!(from_unit(f32::NAN), 0);
        assert_eq!(from_unit(f32::INFINITY), 65_535);
        assert_eq!(from_unit(-3.0), 0);
    }

    #[test]
    fn premultiplying_is_undone_by_unpremultiplying() {
        let straight = Straight { colour: LinearRgb([0.2, 0.4, 0.8]), coverage: 0.25 };
        let back = straight.premultiply().unpremultiply();
        for (a, b) in straight.colour.0.iter().zip(back.colour.0) {
            assert!((a - b).abs() < 1e-7);
        }
        let nothing = Premultiplied { colour: LinearRgb([0.0; 3]), coverage: 0.0 };
        assert_eq!(nothing.unpremultiply().colour, LinearRgb([0.0; 3]));
    }
}
