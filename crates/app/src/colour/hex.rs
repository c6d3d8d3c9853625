//! Colours as text: the hex notation of CSS Color Module Level 4, section 5.2, its forms without coverage.

/// Reads `#rgb` or `#rrggbb`, in either case, with or without the sign and with space around. None for all
/// else. An 8-bit code becomes the stored value that it stands for exactly.
pub(crate) fn parse_hex(text: &str) -> Option<[u16; 3]> {
    let trimmed = text.trim();
    let digits = trimmed.strip_prefix('#').unwrap_or(trimmed);
    let levels: Vec<u16> =
        digits.chars().map(|digit| digit.to_digit(16).map(|d| d as u16)).collect::<Option<_>>()?;
    let codes = match *levels.as_slice() {
        [r, g, b] => [r * 17, g * 17, b * 17],
        [r, s, g, t, b, u] => [r * 16 + s, g * 16 + t, b * 16 + u],
        _ => return None,
    };
    Some(codes.map(|code| code * 257))
}

/// A stored colour as `#rrggbb`, each component rounded to 8 bits.
pub(crate) fn hex_text(stored: [u16; 3]) -> String {
    let [r, g, b] = stored.map(|component| (u32::from(component) + 128) / 257);
    format!("#{r:02x}{g:02x}{b:02x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CSS Color Module Level 4, section 5.2: "#00ff00" and "#0f0" are the same green, letters in either
    /// case; the sign may be left out here. Forms with coverage (4 and 8 digits) are no colour of a channel.
    #[test]
    fn hex_notation_is_read_as_css_has_it() {
        let full = u16::MAX;
        let table = [
            ("#00ff00", Some([0, full, 0])),
            ("#0f0", Some([0, full, 0])),
            ("0F0", Some([0, full, 0])),
            (" #00FF00 ", Some([0, full, 0])),
            ("#123", Some([0x1111, 0x2222, 0x3333])),
            ("112233", Some([0x1111, 0x2222, 0x3333])),
            ("#000", Some([0; 3])),
            ("#ffffff", Some([full; 3])),
            ("", None),
            ("#", None),
            ("#12", None),
            ("#1234", None),
            ("#12345", None),
            ("#1234567", None),
            ("#00ff00ff", None),
            ("##00ff00", None),
            ("#00gg00", None),
            ("green", None),
            ("#٠٠٠", None),
            ("+ff", None),
        ];
        for (text, expected) in table {
            assert_eq!(parse_hex(text), expected, "{text:?}");
        }
    }

    #[test]
    fn what_is_shown_is_read_back_for_every_level() {
        for code in 0..=255u16 {
            let stored = [code * 257, (255 - code) * 257, 0x80 * 257];
            assert_eq!(parse_hex(&hex_text(stored)), Some(stored));
        }
    }

    #[test]
    fn sixteen_bits_are_rounded_to_the_nearest_code() {
        assert_eq!(hex_text([128, 129, 65_535 - 128]), "#0001ff");
    }
}
