//! Hue, saturation and value: A. R. Smith, "Color Gamut Transform Pairs", SIGGRAPH 1978, the hexcone.

/// A colour by its place in the hexcone over sRGB-encoded components.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Hsv {
    /// In degrees, 0..360: 0 is red, 120 green, 240 blue.
    pub hue: f64,
    /// 0 is grey, 1 pure.
    pub saturation: f64,
    /// 0 is black, 1 the brightest.
    pub value: f64,
}

impl Hsv {
    /// Of a stored colour. Grey has no hue, and black no saturation: what `before` had of these is kept, so
    /// that a colour that is drawn through grey comes out as it went in.
    pub fn of(stored: [u16; 3], before: Self) -> Self {
        let [r, g, b] = stored.map(|component| f64::from(component) / 65_535.0);
        let value = r.max(g).max(b);
        let spread = value - r.min(g).min(b);
        if value == 0.0 {
            return Self { value, ..before };
        }
        if spread == 0.0 {
            return Self { saturation: 0.0, value, ..before };
        }
        let sixths = if value == r {
            (g - b) / spread
        } else if value == g {
            (b - r) / spread + 2.0
        } else {
            (r - g) / spread + 4.0
        };
        Self { hue: (sixths * 60.0).rem_euclid(360.0), saturation: spread / value, value }
    }

    /// The stored colour.
    pub fn stored(self) -> [u16; 3] {
        self.components().map(|component| (component * 65_535.0).round() as u16)
    }

    /// Red, green and blue, 0..1, sRGB-encoded.
    pub fn components(self) -> [f64; 3] {
        let sixths = self.hue.rem_euclid(360.0) / 60.0;
        let (saturation, value) = (self.saturation.clamp(0.0, 1.0), self.value.clamp(0.0, 1.0));
        // How far each primary is from the hue, around the hexagon: full within one sixth, none from two on.
        let share = |primary: f64| {
            let away = (sixths - primary).abs();
            (2.0 - away.min(6.0 - away)).clamp(0.0, 1.0)
        };
        [0.0, 2.0, 4.0].map(|primary| value * (1.0 - saturation * (1.0 - share(primary))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stored(code: u32) -> [u16; 3] {
        [code >> 16, code >> 8, code].map(|level| (level & 255) as u16 * 257)
    }

    fn hsv(hue: f64, saturation: f64, value: f64) -> Hsv {
        Hsv { hue, saturation, value }
    }

    /// Full hues every 30 degrees: the table for 100 % in CSS Color Module Level 4, section 7.2 (there half
    /// codes round up). The last two rows: Python's library reference, colorsys, `rgb_to_hsv(0.2, 0.4, 0.4)`
    /// is (0.5, 0.5, 0.4).
    #[test]
    fn published_colours_are_where_the_hexcone_has_them() {
        let full = [
            (0.0, 0x00ff_0000),
            (30.0, 0x00ff_8000),
            (60.0, 0x00ff_ff00),
            (90.0, 0x0080_ff00),
            (120.0, 0x0000_ff00),
            (150.0, 0x0000_ff80),
            (180.0, 0x0000_ffff),
            (210.0, 0x0000_80ff),
            (240.0, 0x0000_00ff),
            (270.0, 0x0080_00ff),
            (300.0, 0x00ff_00ff),
            (330.0, 0x00ff_0080),
        ];
        for (hue, code) in full {
            let made = hsv(hue, 1.0, 1.0).stored().map(|component| (component as u32 + 128) / 257);
            assert_eq!(made, stored(code).map(|component| component as u32 / 257), "{hue}");
            let found = Hsv::of(stored(code), Hsv::default());
            // Half a code of 255 is 0.118 degrees.
            assert!(
                (found.hue - hue).abs() < 0.12 && found.saturation == 1.0 && found.value == 1.0
            );
        }
        let teal = Hsv::of([0x3333, 0x6666, 0x6666], Hsv::default());
        assert!((teal.hue - 180.0).abs() < 1e-9);
        assert!((teal.saturation - 0.5).abs() < 1e-9 && (teal.value - 0.4).abs() < 1e-9);
        assert_eq!(hsv(180.0, 0.5, 0.4).stored(), [0x3333, 0x6666, 0x6666]);
    }

    #[test]
    fn every_8_bit_colour_survives_a_round_trip() {
        for code in 0..1 << 24 {
            let colour = stored(code);
            assert_eq!(Hsv::of(colour, Hsv::default()).stored(), colour, "{code:06x}");
        }
    }

    #[test]
    fn grey_keeps_the_hue_and_black_the_saturation_that_was() {
        let before = hsv(200.0, 0.7, 0.5);
        assert_eq!(Hsv::of([500; 3], before).hue, 200.0);
        assert_eq!(Hsv::of([500; 3], before).saturation, 0.0);
        assert_eq!(Hsv::of([0; 3], before), hsv(200.0, 0.7, 0.0));
    }

    #[test]
    fn sixteen_bits_survive_too() {
        for colour in [[1, 2, 3], [65_534, 65_535, 65_533], [12_345, 54_321, 33_333]] {
            assert_eq!(Hsv::of(colour, Hsv::default()).stored(), colour);
        }
    }
}
