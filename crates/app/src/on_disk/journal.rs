//! Edits as the file has them: each as in a recorded list.

use std::collections::BTreeMap;

use editor::Editor;

/// The edits that made entries with higher numbers, as text. One that can't be written down has none.
pub(super) fn edits_after(editor: &Editor, number: u64) -> BTreeMap<u64, String> {
    let edits = editor.edits_after(number).into_iter();
    edits.filter_map(|(number, edit)| Some((number, serde_json::to_string(&edit).ok()?))).collect()
}
