//! Bytes of text files as text, and text from files as a part of a message.
//!
//! Text is UTF-8, with or without a byte order mark; what is not is read as Latin-1 (ISO 8859-1, where
//! each byte is the code point of the same number). UTF-16 is refused.

use std::borrow::Cow;
use std::fmt::Write as _;
use std::path::Path;

/// The mark that may stand before UTF-8.
pub(crate) const BYTE_ORDER_MARK: &[u8] = &[0xEF, 0xBB, 0xBF];

/// True when a file that begins so is UTF-16 or UTF-32: it has their mark, or a zero byte where ASCII
/// text has none.
pub(crate) fn looks_like_utf16(first: &[u8]) -> bool {
    first.starts_with(&[0xFF, 0xFE])
        || first.starts_with(&[0xFE, 0xFF])
        || (first.len() >= 2 && (first[0] == 0) != (first[1] == 0))
}

/// What to say of a file that [`looks_like_utf16`].
pub(crate) const UTF16: &str = "this is UTF-16 text; save it as UTF-8";

/// The text, and whether it had to be read as Latin-1.
pub(crate) fn decode(bytes: &[u8]) -> (Cow<'_, str>, bool) {
    match std::str::from_utf8(bytes) {
        Ok(text) => (Cow::Borrowed(text), false),
        Err(_) => (Cow::Owned(bytes.iter().map(|&byte| char::from(byte)).collect()), true),
    }
}

/// Text from a file as a part of a one-line message: in quotes, cut after 60 characters, with nothing
/// in it that a terminal would obey or a reader could not see.
pub(crate) fn shown(text: &str) -> String {
    format!("'{}'", visible(text, 60))
}

/// A path as a part of a one-line message.
pub(crate) fn shown_path(path: &Path) -> String {
    one_line(&path.to_string_lossy())
}

/// The name of a file as a part of a one-line message.
pub(crate) fn one_line(name: &str) -> String {
    visible(name, 4096)
}

fn visible(text: &str, limit: usize) -> String {
    let mut shown = String::new();
    for (count, letter) in text.chars().enumerate() {
        if count == limit {
            shown.push_str("...");
            break;
        }
        if letter.is_control() || is_unseen(letter) {
            // Writing to a String can't fail.
            _ = write!(shown, "\\u{{{:x}}}", u32::from(letter));
        } else {
            shown.push(letter);
        }
    }
    shown
}

/// Letters that show nothing, or that turn what stands around them (Unicode 15, "Cf" in common use).
pub(crate) fn is_unseen(letter: char) -> bool {
    matches!(
        letter,
        '\u{AD}' | '\u{61C}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}' | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}'
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_that_are_not_utf8_are_latin_1() {
        assert_eq!(decode("Glöckchen".as_bytes()), ("Glöckchen".into(), false));
        assert_eq!(decode(b"Gl\xF6ckchen"), ("Glöckchen".into(), true));
    }

    #[test]
    fn text_in_a_message_stays_on_its_line() {
        assert_eq!(shown("a\nb\u{1b}[31m\u{202e}"), "'a\\u{a}b\\u{1b}[31m\\u{202e}'");
        assert!(shown(&"x".repeat(1000)).len() < 70);
    }

    #[test]
    fn utf_16_is_known_by_its_mark_or_its_zeros() {
        for utf16 in [&b"\xFF\xFEv\0"[..], b"\xFE\xFF\0v", b"v\0 \0", b"\0v\0 "] {
            assert!(looks_like_utf16(utf16));
        }
        assert!(!looks_like_utf16(b"v 1 2 3"));
        assert!(!looks_like_utf16(b""));
    }
}
