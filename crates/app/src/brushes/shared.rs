//! One brush as a text file of its own, its images inside: TOML.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{NamedBrush, free_name, ours};
use crate::preferences::{folder, read, write};

/// What the names of such files end with.
pub(crate) const ENDING: &str = ".scumble-brush.toml";
/// The version of the format that is written; others are refused.
const VERSION: u32 = 1;
/// More bytes than this are no brush.
const MOST_BYTES: u64 = 128 << 20;

#[derive(Serialize)]
struct Written<'a> {
    scumble_brush: u32,
    brush: &'a NamedBrush,
}

#[derive(Deserialize)]
struct Head {
    scumble_brush: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Read {
    #[serde(rename = "scumble_brush")]
    _version: u32,
    brush: NamedBrush,
}

/// The text of a file with this brush.
///
/// # Errors
/// A line where a number can't be written.
pub(crate) fn text_of(brush: &NamedBrush) -> Result<String, String> {
    // One of ours does not hold its images itself.
    let brush = &brush.copied(brush.name.clone());
    let written = Written { scumble_brush: VERSION, brush };
    toml::to_string(&written).map_err(|error| format!("{}: {error}", brush.name))
}

/// A name for its file.
pub(crate) fn file_name(brush: &NamedBrush) -> String {
    let kept = |c: char| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let name: String = brush.name.chars().map(kept).collect();
    let name = name.trim_matches('-');
    format!("{}{ENDING}", if name.is_empty() { "brush" } else { name })
}

/// True for what may be such a file, by its name.
pub(crate) fn is_shared(path: &Path) -> bool {
    path.to_string_lossy().to_lowercase().ends_with(ENDING)
}

/// Reads a file with a brush.
///
/// # Errors
/// One line that says what is wrong with the file, and where.
pub(crate) fn read_file(path: &Path) -> Result<NamedBrush, String> {
    let shown = path.display();
    let told = |error: std::io::Error| format!("{shown}: can't be read: {error}");
    let length = std::fs::metadata(path).map_err(told)?.len();
    if length > MOST_BYTES {
        return Err(format!("{shown}: this is no brush: it has {length} bytes"));
    }
    let bytes = std::fs::read(path).map_err(told)?;
    let text =
        String::from_utf8(bytes).map_err(|_error| format!("{shown}:1: it is no UTF-8 text"))?;
    of_text(&text).map_err(|(line, problem)| format!("{shown}:{line}: {problem}"))
}

/// The brush of a text; what is wrong with it, and in which line.
fn of_text(text: &str) -> Result<NamedBrush, (usize, String)> {
    let told = |error: toml::de::Error| {
        let at = error.span().map_or(0, |span| span.start.min(text.len()));
        (text[..at].matches('\n').count() + 1, error.message().replace('\n', " "))
    };
    let Head { scumble_brush } = toml::from_str(text).map_err(told)?;
    if scumble_brush != VERSION {
        let problem = format!(
            "the brush has version {scumble_brush}, this program reads version {VERSION}: have it shared again"
        );
        return Err((1, problem));
    }
    let Read { brush, .. } = toml::from_str(text).map_err(told)?;
    match brush.fault() {
        Some(fault) => Err((1, fault)),
        None => Ok(brush),
    }
}

/// The text of a file with the brush of this name: one of the person's own, or one of ours.
///
/// # Errors
/// One line where there is none.
pub fn shared_brush(name: &str) -> Result<String, String> {
    let own = folder().map(|folder| read(&folder).0.brushes).unwrap_or_default();
    let found = own.iter().chain(ours()).find(|brush| brush.name.eq_ignore_ascii_case(name));
    found.map_or_else(
        || Err(format!("there is no brush \"{name}\": the window and the plate show their names")),
        text_of,
    )
}

/// Keeps the brush of a file among the person's own, under a name that no other one has; gives that.
///
/// # Errors
/// One line that says what is wrong with the file, or that the preferences can't be written.
pub fn bring_in_brush(path: &Path) -> Result<String, String> {
    let brush = read_file(path)?;
    let folder = folder().ok_or("this system has no folder for preferences")?;
    let (mut preferences, fault) = read(&folder);
    if let Some(fault) = fault {
        return Err(fault);
    }
    let name = free_name(&brush.name, &preferences.brushes.iter().chain(ours()));
    preferences.brushes.push(brush.copied(name.clone()));
    write(&folder, &preferences).map_err(|error| error.to_string())?;
    Ok(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_brush_of_ours_comes_back_from_its_file() {
        for brush in ours() {
            let back = of_text(&text_of(brush).unwrap()).unwrap();
            assert_eq!(back.name, brush.name);
            assert_eq!(back.settings_at(3.0), brush.settings_at(3.0));
        }
        assert_eq!(file_name(&ours()[0]), "soft-coat.scumble-brush.toml");
        assert!(is_shared(Path::new("A.Scumble-Brush.TOML")) && !is_shared(Path::new("a.toml")));
    }

    #[test]
    fn a_broken_file_is_told_in_one_line() {
        let text = text_of(&ours()[0]).unwrap();
        let told = |text: &str| of_text(text).unwrap_err();
        assert!(told("").1.contains("scumble_brush"));
        assert!(
            told(&text.replace("scumble_brush = 1", "scumble_brush = 9")).1.contains("version 9")
        );
        let (line, problem) = told(&text.replace("hardness", "hardnes"));
        assert!(line > 3 && problem.contains("hardnes"), "{line}: {problem}");
        assert!(told(&text.replace("flow = ", "flow = 7")).1.contains("flow is 7"));
        let with_image =
            ours().iter().find(|brush| text_of(brush).unwrap().contains("png")).unwrap();
        let text = text_of(with_image).unwrap();
        let spoiled = told(&text.replace("iVBOR", "AAAAA"));
        assert!(spoiled.1.contains("the PNG can't be read"), "{spoiled:?}");
        for (_, problem) in [spoiled, told("[brush]\nname = 3")] {
            assert!(!problem.contains('\n'));
        }
    }
}
