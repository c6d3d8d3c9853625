//! Colours that are kept for good, in the order that a person gave them.

use serde::{Deserialize, Serialize};

/// A colour that is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PaletteColour {
    /// What it is called; may be empty.
    pub(crate) name: String,
    /// Red, green and blue as stored: 65535 is 1, sRGB-encoded.
    pub(crate) colour: [u16; 3],
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct Palette(pub(crate) Vec<PaletteColour>);

impl Default for Palette {
    /// What a harbour bell is made of, mixed by eye.
    fn default() -> Self {
        let colours = [
            ("Bronze", [0xa8, 0x7a, 0x42]),
            ("Dark bronze", [0x5a, 0x3e, 0x22]),
            ("Verdigris", [0x5f, 0x95, 0x82]),
            ("Pale verdigris", [0x97, 0xbb, 0xa8]),
            ("Oak", [0x86, 0x63, 0x44]),
            ("Iron", [0x4c, 0x48, 0x47]),
            ("Rust", [0x7d, 0x42, 0x28]),
            ("Hemp", [0xc2, 0xab, 0x80]),
        ];
        Self(
            colours
                .map(|(name, codes)| PaletteColour {
                    name: name.to_owned(),
                    colour: codes.map(|code: u16| code * 257),
                })
                .into(),
        )
    }
}

impl Palette {
    /// Puts a colour at the end; gives its place.
    pub(crate) fn add(&mut self, name: impl Into<String>, colour: [u16; 3]) -> usize {
        self.0.push(PaletteColour { name: name.into(), colour });
        self.0.len() - 1
    }

    /// Takes a colour out, where there is one.
    pub(crate) fn remove(&mut self, index: usize) {
        if index < self.0.len() {
            self.0.remove(index);
        }
    }

    /// Moves a colour to another place, the others closing up; gives the place.
    pub(crate) fn move_to(&mut self, from: usize, to: usize) -> usize {
        if from >= self.0.len() {
            return from;
        }
        let colour = self.0.remove(from);
        let to = to.min(self.0.len());
        self.0.insert(to, colour);
        to
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_moves_and_the_others_close_up() {
        let mut palette = Palette(Vec::new());
        for level in 0..4 {
            palette.add("", [level; 3]);
        }
        assert_eq!(palette.move_to(0, 2), 2);
        let order =
            |palette: &Palette| palette.0.iter().map(|kept| kept.colour[0]).collect::<Vec<_>>();
        assert_eq!(order(&palette), [1, 2, 0, 3]);
        assert_eq!(palette.move_to(3, 99), 3);
        assert_eq!(palette.move_to(7, 0), 7);
        palette.remove(7);
        palette.remove(0);
        assert_eq!(order(&palette), [2, 0, 3]);
    }

    #[test]
    fn it_is_written_down_and_read_back_to_the_bit() {
        #[derive(Serialize, Deserialize)]
        struct Kept {
            palette: Palette,
        }
        let mut kept = Kept { palette: Palette::default() };
        kept.palette.add("a \"name\"", [1, 2, 65_535]);
        let text = toml::to_string(&kept).unwrap();
        assert_eq!(toml::from_str::<Kept>(&text).unwrap().palette, kept.palette);
    }
}
