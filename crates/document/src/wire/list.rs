//! A list of edits as a text, read so that every fault has a line.

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use thiserror::Error;

use super::edit::WireEdit;
use super::in_range::InRange;

/// The version of the format that is written; others are refused.
pub const EDIT_LIST_VERSION: u32 = 1;

/// What is wrong with a list, and where.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("line {line}: {reason}")]
pub struct WireError {
    /// Counts from 1.
    pub line: usize,
    /// What is wrong and what to do.
    pub reason: String,
}

/// One edit and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct ListedEdit {
    /// The line at which it begins; counts from 1.
    pub line: usize,
    /// The edit.
    pub edit: WireEdit,
}

/// Recorded work.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct EditList {
    /// The hash of the model that it was recorded on, when it is tied to one.
    pub model: Option<String>,
    /// The edits in order.
    pub edits: Vec<ListedEdit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, expecting = "an edit list: an object with scumble_edits and edits")]
struct ReadList<'a> {
    scumble_edits: u32,
    #[serde(default)]
    model: Option<String>,
    #[serde(borrow)]
    edits: Vec<&'a RawValue>,
}

#[derive(Serialize)]
struct WrittenHead<'a> {
    scumble_edits: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    model: Option<&'a str>,
}

impl EditList {
    /// Reads a list.
    ///
    /// # Errors
    /// [`WireError`] with the line of what can't be read.
    pub fn parse(text: &str) -> Result<Self, WireError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        if text.trim().is_empty() {
            let reason = "the edit list is empty: it needs an object with \"scumble_edits\": 1";
            return Err(WireError { line: 1, reason: reason.to_owned() });
        }
        let list: ReadList<'_> = serde_json::from_str(text).map_err(|error| fault(&error, 0))?;
        if list.scumble_edits != EDIT_LIST_VERSION {
            let line = line_of(text, text.find("scumble_edits").unwrap_or(0));
            let reason = format!(
                "the edit list has version {}, this program reads version {EDIT_LIST_VERSION}: \
                 record it again, or take a program that knows it",
                list.scumble_edits
            );
            return Err(WireError { line, reason });
        }
        let mut edits = Vec::with_capacity(list.edits.len());
        let mut counted = (0, 1);
        for raw in list.edits {
            let at = raw.get().as_ptr().addr() - text.as_ptr().addr();
            let line = counted.1 + line_of(&text[counted.0..], at - counted.0) - 1;
            counted = (at, line);
            let at_line = |error: serde_json::Error| fault(&error, line - 1);
            let InRange = serde_json::from_str(raw.get()).map_err(at_line)?;
            let edit = serde_json::from_str(raw.get()).map_err(at_line)?;
            edits.push(ListedEdit { line, edit });
        }
        Ok(Self { model: list.model, edits })
    }

    /// The list as JSON, an edit a line.
    ///
    /// # Errors
    /// [`WireError`] where a number can't be written (it is not finite).
    pub fn to_json(&self) -> Result<String, WireError> {
        let refuse = |line: usize| {
            move |error: serde_json::Error| WireError { line, reason: error.to_string() }
        };
        let head = WrittenHead { scumble_edits: EDIT_LIST_VERSION, model: self.model.as_deref() };
        let head = serde_json::to_string(&head).map_err(refuse(1))?;
        let mut text = format!("{},\n\"edits\":[", head.trim_end_matches('}'));
        for (index, listed) in self.edits.iter().enumerate() {
            text.push_str(if index == 0 { "\n" } else { ",\n" });
            text.push_str(&serde_json::to_string(&listed.edit).map_err(refuse(index + 3))?);
        }
        text.push_str("\n]}\n");
        Ok(text)
    }
}

fn line_of(text: &str, at: usize) -> usize {
    text[..at].matches('\n').count() + 1
}

/// serde's message without its own line, which counts within the edit only.
fn fault(error: &serde_json::Error, lines_before: usize) -> WireError {
    let text = error.to_string();
    let reason = text.split(" at line ").next().unwrap_or(&text);
    WireError { line: lines_before + error.line().max(1), reason: reason.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> WireError {
        EditList::parse(text).unwrap_err()
    }

    #[test]
    fn faults_are_told_with_their_line() {
        let list = "{\n\"scumble_edits\": 1,\n\"edits\": [\n{\"edit\":\"remove_layer\",\"material\":0,\"layer\":1},\n{\"edit\":\"remove_layer\",\"material\":0,\"leyer\":1}\n]}";
        let error = refused(list);
        assert_eq!(error.line, 5);
        assert!(error.reason.contains("leyer"), "{error}");
        assert_eq!(refused("{\n\"scumble_edits\": 7,\n\"edits\": []}").line, 2);
        assert_eq!(refused("{\n\n\"scumble_edits\": 1,,").line, 3);
        assert_eq!(refused("").line, 1);
        assert!(refused("{\"edits\":[]}").reason.contains("scumble_edits"));
    }

    /// Found by fuzzing: it became infinite, and could be written but not read again.
    #[test]
    fn a_number_that_is_too_large_is_told_with_its_line() {
        let list = "{\"scumble_edits\": 1, \"edits\": [\n{\"edit\":\"ground\",\"material\":0,\n\"channel\":\"roughness\",\"value\":3e70}]}";
        let error = refused(list);
        assert!(error.line == 3 && error.reason.contains("e70 is too large"), "{error}");
        assert!(EditList::parse(&list.replace("3e70", "0.4")).is_ok());
    }

    #[test]
    fn a_list_reads_back_as_it_was_written() {
        let list = EditList {
            model: Some("00ff".to_owned()),
            edits: vec![ListedEdit {
                line: 3,
                edit: WireEdit::RemoveLayer {
                    material: super::super::WireMaterial::Number(0),
                    layer: 4,
                },
            }],
        };
        assert_eq!(EditList::parse(&list.to_json().unwrap()).unwrap(), list);
    }
}
