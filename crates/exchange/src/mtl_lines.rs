//! Checks the lines of an MTL file and hands on those that mean something to us, in the one form that
//! the library reads: it panics on a colour of fewer than three numbers and takes options for a part of
//! the file's name.

use std::fmt::Write as _;

use rustc_hash::FxHashMap;

use crate::error::ExchangeError;
use crate::notes::Notes;
use crate::text::{BYTE_ORDER_MARK, UTF16, decode, looks_like_utf16, shown};

/// Text for the library, and what it loses of each material.
pub(crate) struct Checked {
    /// `newmtl Kd Ke Ns Pr Pm map_Kd map_Ke map_Pr map_Pm norm` lines.
    pub(crate) text: String,
    /// One for each `newmtl`.
    pub(crate) places: Vec<Place>,
}

/// What the library loses of a material.
pub(crate) struct Place {
    /// The line of each map.
    pub(crate) lines: FxHashMap<&'static str, u64>,
    /// The normal map's scale, from its `-bm` option.
    pub(crate) normal_scale: f32,
}

const REMEDY: &str = "correct this line";

/// Keywords that we read, in our spelling; files differ in case.
const NUMBERS: [&str; 5] = ["Kd", "Ke", "Ns", "Pr", "Pm"];
const MAPS: [&str; 5] = ["map_Kd", "map_Ke", "map_Pr", "map_Pm", "norm"];
/// Maps that we do not keep.
const OTHER_MAPS: [&str; 14] = [
    "map_Ka",
    "map_Ks",
    "map_Ns",
    "map_d",
    "map_Tr",
    "map_Bump",
    "bump",
    "disp",
    "decal",
    "refl",
    "map_Ps",
    "map_Pc",
    "map_aniso",
    "map_RMA",
];

/// Checks a library's text.
///
/// # Errors
/// [`ExchangeError`] with the line of what is no number, has no name, or is no text.
pub(crate) fn check(file: &str, bytes: &[u8], notes: &mut Notes) -> Result<Checked, ExchangeError> {
    if looks_like_utf16(bytes) {
        return Err(ExchangeError::line(file, 1, UTF16));
    }
    let (text, latin1) = decode(bytes.strip_prefix(BYTE_ORDER_MARK).unwrap_or(bytes));
    if latin1 {
        notes.add(format!("names in {file} are not UTF-8: read as Latin-1"));
    }
    let mut checking = Checking {
        file,
        line: 0,
        name: String::new(),
        checked: Checked { text: String::new(), places: Vec::new() },
        notes,
    };
    let unix = text.replace("\r\n", "\n").replace('\r', "\n");
    for line in unix.split('\n') {
        checking.line += 1;
        checking.statement(line.trim())?;
    }
    Ok(checking.checked)
}

struct Checking<'a> {
    file: &'a str,
    line: u64,
    name: String,
    checked: Checked,
    notes: &'a mut Notes,
}

impl Checking<'_> {
    fn statement(&mut self, line: &str) -> Result<(), ExchangeError> {
        if line.starts_with('#') {
            return Ok(());
        }
        if line.contains(|c: char| c.is_control() && !matches!(c, '\t' | '\u{c}' | '\u{1a}')) {
            return self.fail("this is no text, so this is no MTL file; export the model again");
        }
        let (keyword, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
        let rest = rest.trim();
        let is = |known: &&&str| known.eq_ignore_ascii_case(keyword);
        if keyword.eq_ignore_ascii_case("newmtl") {
            return self.material(rest);
        }
        if self.checked.places.is_empty() {
            return Ok(());
        }
        if let Some(key) = NUMBERS.iter().find(is) {
            self.numbers(key, rest)
        } else if let Some(key) = MAPS.iter().find(is) {
            self.map(key, rest)
        } else if let Some(key) = OTHER_MAPS.iter().find(is) {
            self.note(&format!("{key} is not kept"));
            Ok(())
        } else {
            let clear = |clear: f32| rest.parse::<f32>().is_ok_and(|value| value != clear);
            if keyword == "d" && clear(1.0) || keyword == "Tr" && clear(0.0) {
                self.note("transparency is not kept");
            }
            Ok(())
        }
    }

    fn material(&mut self, name: &str) -> Result<(), ExchangeError> {
        if name.is_empty() {
            return self.fail(format!("newmtl without a name; {REMEDY}"));
        }
        name.clone_into(&mut self.name);
        self.checked.places.push(Place { lines: FxHashMap::default(), normal_scale: 1.0 });
        self.hand_on("newmtl", name);
        Ok(())
    }

    fn numbers(&mut self, key: &str, rest: &str) -> Result<(), ExchangeError> {
        if rest.starts_with("spectral") || rest.starts_with("xyz") {
            self.note(&format!("{key} as a spectrum or XYZ is not kept"));
            return Ok(());
        }
        let words = rest.split_whitespace().take_while(|word| !word.starts_with('#'));
        let mut numbers = Vec::new();
        for word in words.take(3) {
            match word.parse::<f32>() {
                Ok(number) if number.is_finite() => numbers.push(number),
                Ok(_) => {
                    return self.fail(format!("{} is not a finite number; {REMEDY}", shown(word)));
                }
                Err(_) => return self.fail(format!("{} is not a number; {REMEDY}", shown(word))),
            }
        }
        let colour = matches!(key, "Kd" | "Ke");
        match (numbers.as_slice(), colour) {
            // One number means all three.
            ([all], true) => self.hand_on(key, &format!("{all} {all} {all}")),
            ([r, g, b], true) => self.hand_on(key, &format!("{r} {g} {b}")),
            ([number, ..], false) => self.hand_on(key, &number.to_string()),
            _ => {
                let needed = if colour { "3 numbers" } else { "a number" };
                return self.fail(format!("{key} needs {needed}; {REMEDY}"));
            }
        }
        Ok(())
    }

    fn map(&mut self, key: &'static str, rest: &str) -> Result<(), ExchangeError> {
        let (name, options) = split_options(rest);
        if name.is_empty() {
            return self.fail(format!("{key} names no file; {REMEDY}"));
        }
        if options.change_the_map {
            self.note(&format!("options on {key} are not kept"));
        }
        if let Some(place) = self.checked.places.last_mut() {
            place.lines.insert(key, self.line);
            if key == "norm" {
                place.normal_scale = options.scale;
            }
        }
        self.hand_on(key, name);
        Ok(())
    }

    fn hand_on(&mut self, key: &str, value: &str) {
        // Writing to a String can't fail.
        _ = writeln!(self.checked.text, "{key} {value}");
    }

    fn note(&mut self, what: &str) {
        self.notes.add(format!("material {}: {what}", shown(&self.name)));
    }

    fn fail(&self, problem: impl Into<String>) -> Result<(), ExchangeError> {
        Err(ExchangeError::line(self.file, self.line, problem))
    }
}

struct Options {
    change_the_map: bool,
    scale: f32,
}

/// Options stand before the name, which may hold spaces. MTL specification, "Options for texture map
/// statements" (from memory).
fn split_options(rest: &str) -> (&str, Options) {
    let mut options = Options { change_the_map: false, scale: 1.0 };
    let mut rest = rest;
    while let Some((option, after)) = rest.split_once(char::is_whitespace) {
        let (most, numbers_only) = match option {
            "-blendu" | "-blendv" | "-boost" | "-cc" | "-clamp" | "-imfchan" | "-bm"
            | "-texres" | "-type" => (1, false),
            "-mm" => (2, false),
            "-o" | "-s" | "-t" => (3, true),
            _ => break,
        };
        options.change_the_map |=
            matches!(option, "-imfchan" | "-mm" | "-o" | "-s" | "-t" | "-type" | "-boost");
        rest = after.trim_start();
        for _ in 0..most {
            let Some((value, after)) = rest.split_once(char::is_whitespace) else { break };
            let number = value.parse::<f32>().ok().filter(|number| number.is_finite());
            if numbers_only && number.is_none() {
                break;
            }
            if option == "-bm" {
                options.scale = number.unwrap_or(1.0);
            }
            rest = after.trim_start();
        }
    }
    (rest, options)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_are_told_from_names_with_spaces() {
        let (name, options) = split_options("-bm 0.5 -o 1 2 -clamp on oak board.png");
        assert_eq!((name, options.scale, options.change_the_map), ("oak board.png", 0.5, true));
        let (name, options) = split_options("-odd name.png");
        assert_eq!((name, options.change_the_map), ("-odd name.png", false));
    }

    #[test]
    fn what_would_make_the_library_panic_is_made_whole() {
        let text = b"newmtl bronze\r\nKD .5\nKe spectral x.rfl\nNs 10 # shiny\nillum 2.0\nmap_kd a b.png\n";
        let mut notes = Notes::default();
        let checked = check("bell.mtl", text, &mut notes).unwrap();
        assert_eq!(checked.text, "newmtl bronze\nKd 0.5 0.5 0.5\nNs 10\nmap_Kd a b.png\n");
        assert_eq!(notes.into_lines().len(), 1);
        assert_eq!(checked.places[0].lines["map_Kd"], 6);
    }
}
