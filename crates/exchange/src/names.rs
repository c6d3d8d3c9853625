//! Names of output files that are safe on every system, and names that are one word.
//!
//! A stem keeps letters of every script and digits, in composed form (Unicode NFC), so that it is the
//! same file to systems that compose names and to those that don't. All else that any system or reader
//! of paths gives a meaning becomes `_`: separators, spaces, controls, unseen letters, `<>:"|?*%#`
//! and the like. Reserved device names are marked with a leading `_`; stems are at most 80 bytes long.

use rustc_hash::{FxHashMap, FxHashSet};
use unicode_normalization::UnicodeNormalization;

use crate::text::is_unseen;

const LONGEST: usize = 80;

/// The stem of a file for what is called `name`.
pub fn safe_file_stem(name: &str) -> String {
    let safe = |letter: char| {
        if letter.is_alphanumeric() || matches!(letter, '_' | '-' | '.' | '+' | '(' | ')') {
            letter
        } else {
            '_'
        }
    };
    let mut stem: String = name.nfc().filter(|letter| !is_unseen(*letter)).map(safe).collect();
    let end = (0..=LONGEST.min(stem.len())).rev().find(|&end| stem.is_char_boundary(end));
    stem.truncate(end.unwrap_or(0));
    // A leading dot hides a file, a leading hyphen makes it an option; trailing dots are lost.
    let kept = stem.trim_start_matches(['.', '-']).trim_end_matches('.');
    if kept.trim_matches('_').is_empty() {
        return "untitled".to_owned();
    }
    if is_device(kept) { format!("_{kept}") } else { kept.to_owned() }
}

/// The stems of files for what is called `names`, no two alike, whatever the system makes of case.
pub(crate) fn safe_file_stems<'a>(names: impl Iterator<Item = &'a str>) -> Vec<String> {
    unique(names.map(safe_file_stem), |stem| {
        stem.chars().flat_map(char::to_uppercase).nfc().collect()
    })
}

/// The names as single words for OBJ and MTL, whose readers part words at spaces; no two alike.
pub(crate) fn words<'a>(names: impl Iterator<Item = &'a str>) -> Vec<String> {
    let word = |name: &str| -> String {
        let safe = |letter: char| {
            let unsafe_in_text = letter.is_whitespace()
                || letter.is_control()
                || is_unseen(letter)
                || matches!(letter, '\\' | '#');
            if unsafe_in_text { '_' } else { letter }
        };
        if name.is_empty() { "unnamed".to_owned() } else { name.chars().map(safe).collect() }
    };
    unique(names.map(word), str::to_owned)
}

/// Numbers all but the first of those whose keys are alike.
fn unique(names: impl Iterator<Item = String>, key: impl Fn(&str) -> String) -> Vec<String> {
    let mut taken = FxHashSet::default();
    let mut last_numbers: FxHashMap<String, u32> = FxHashMap::default();
    let number = |name: String| {
        let mut unlike = name.clone();
        while !taken.insert(key(&unlike)) {
            let number = last_numbers.entry(key(&name)).or_insert(1);
            *number += 1;
            unlike = format!("{name}-{number}");
        }
        unlike
    };
    names.map(number).collect()
}

/// Names that stand for devices on some systems, with any extension and in any case.
fn is_device(stem: &str) -> bool {
    let base = stem.split('.').next().unwrap_or_default().trim_end().to_uppercase();
    if matches!(base.as_str(), "CON" | "PRN" | "AUX" | "NUL" | "CONIN$" | "CONOUT$" | "CLOCK$") {
        return true;
    }
    let numbered = base.strip_prefix("COM").or_else(|| base.strip_prefix("LPT"));
    numbered.is_some_and(|number| {
        let mut letters = number.chars();
        let digit = letters.next().is_some_and(|c| c.is_ascii_digit() || "¹²³".contains(c));
        digit && letters.next().is_none()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_names_become_plain_ones() {
        for (name, stem) in [
            ("harbour bell", "harbour_bell"),
            ("../../x", "_.._x"),
            ("/etc/passwd", "_etc_passwd"),
            ("..\\..\\x", "_.._x"),
            ("CON", "_CON"),
            ("nul.png", "_nul.png"),
            ("COM1", "_COM1"),
            ("lpt¹", "_lpt¹"),
            ("COM10", "COM10"),
            ("a:b", "a_b"),
            ("bell. . .", "bell._._"),
            ("bell...", "bell"),
            ("-rf", "rf"),
            (".hidden", "hidden"),
            ("a\u{202e}gnp.exe", "agnp.exe"),
            ("a\nb\0c", "a_b_c"),
            ("", "untitled"),
            ("///", "untitled"),
            ("Glöckchen", "Glöckchen"),
            ("Glo\u{308}ckchen", "Glöckchen"),
            ("鐘", "鐘"),
            ("50%#?*", "50____"),
        ] {
            assert_eq!(safe_file_stem(name), stem, "{name:?}");
        }
    }

    #[test]
    fn long_names_are_cut_between_letters() {
        assert_eq!(safe_file_stem(&"x".repeat(300)).len(), 80);
        let stem = safe_file_stem(&"ö鐘".repeat(100));
        assert!(stem.len() <= 80 && stem.chars().all(|c| c == 'ö' || c == '鐘'));
    }

    #[test]
    fn no_two_names_are_one_file_on_a_system_that_ignores_case() {
        let stems = safe_file_stems(["Oak", "oak", "OAK", "oak-2", "o\u{308}l", "Öl"].into_iter());
        assert_eq!(stems, ["Oak", "oak-2", "OAK-3", "oak-2-2", "öl", "Öl-2"]);
    }

    #[test]
    fn words_have_no_space_and_continue_no_line() {
        let names = ["oak board", "oak_board", "#1", "a\\", ""];
        assert_eq!(words(names.into_iter()), ["oak_board", "oak_board-2", "_1", "a_", "unnamed"]);
    }

    proptest::proptest! {
        #[test]
        fn any_name_gives_a_safe_stem(name in "\\PC{0,40}|[.\\-_ /a]{0,8}|(?i)(con|nul|com1)(\\.\\PC{0,3})?|.{0,100}") {
            let stem = safe_file_stem(&name);
            assert!(!stem.is_empty() && stem.len() <= LONGEST + 1);
            assert!(!stem.starts_with(['.', '-']) && !stem.ends_with(['.', ' ']));
            assert!(!is_device(&stem) && !stem.contains(is_unseen));
            assert!(!stem.contains(|c: char| c.is_control() || " /\\:*?\"<>|%#".contains(c)));
        }
    }
}
