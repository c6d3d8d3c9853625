//! What a file is told of the history beside its documents, and documents that come back from one.

use std::collections::BTreeMap;
use std::sync::Arc;

use document::Document;
use document::wire::{WireEdit, written};

use crate::{Editor, EditorError};

impl Editor {
    /// The edits that made the entries with higher numbers than this, by the entries' numbers; those that can be
    /// written down.
    pub fn edits_after(&self, number: u64) -> BTreeMap<u64, WireEdit> {
        let (entries, _) = self.history.entries();
        let count = entries.len();
        let mut before = None;
        let mut edits = BTreeMap::new();
        for (place, entry) in entries.enumerate() {
            // The record may reach farther back than the history, and ends with it.
            let edit = self
                .record
                .len()
                .checked_sub(count - place)
                .and_then(|at| self.record[at].as_ref());
            if let (Some(edit), Some(before)) = (edit.filter(|_| entry.number > number), before)
                && let Some(wire) = written(edit, before)
            {
                edits.insert(entry.number, wire);
            }
            before = Some(&entry.document);
        }
        edits
    }

    /// Goes on from a document that was kept: it is a new entry of the history, so that nothing is cut off and
    /// undo leads back.
    ///
    /// # Errors
    /// [`EditorError::PenDown`] while a stroke goes on; nothing is changed then.
    pub fn return_to(
        &mut self,
        document: Document,
        label: impl Into<String>,
    ) -> Result<(), EditorError> {
        self.check_pen_is_up()?;
        self.drop_preview();
        let models = (&self.document().model, &document.model);
        if !matches!(models, (Some(a), Some(b)) if Arc::ptr_eq(a, b)) {
            self.forget_what_was_shown();
        }
        self.record.truncate(self.undone_from());
        self.record.push(None);
        self.history.push(document, label);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use document::{Edit, Material, MaterialEdit, MaterialId, Recipes};
    use layers::{BlendSpace, Ground, Stack};
    use raster::TextureSize;

    use super::*;
    use crate::Settings;

    fn clay() -> Document {
        let material = Material {
            id: MaterialId(0),
            name: "clay".to_owned(),
            size: TextureSize::new(64).unwrap(),
            blend_space: BlendSpace::Encoded,
            ground: Ground::new(),
            stack: Stack::default(),
            recipes: Recipes::default(),
            fields: BTreeMap::new(),
            selection: None,
            pass_maps: Arc::default(),
        };
        Document { materials: vec![Arc::new(material)], ..Document::default() }
    }

    /// What applying the edit would do, without the model that it asks for.
    fn blend(editor: &mut Editor, space: BlendSpace) {
        let edit = Edit::Material(MaterialId(0), MaterialEdit::BlendSpace(space));
        let mut made = editor.document().clone();
        let before = Material::clone(&made.materials[0]);
        made.materials[0] = Arc::new(Material { blend_space: space, ..before });
        editor.push(made, &edit);
    }

    fn spaces(editor: &Editor, after: u64) -> Vec<(u64, bool)> {
        let linear = |edit: &WireEdit| format!("{edit:?}").contains("Linear");
        editor.edits_after(after).iter().map(|(number, edit)| (*number, linear(edit))).collect()
    }

    #[test]
    fn each_entry_has_the_edit_that_made_it_whatever_was_undone_or_forgotten() {
        let settings = Settings { threads: Some(1), ..Settings::default() };
        let mut editor = Editor::open(clay(), settings).unwrap();
        blend(&mut editor, BlendSpace::Linear);
        blend(&mut editor, BlendSpace::Encoded);
        assert_eq!(spaces(&editor, 0), [(2, true), (3, false)]);
        editor.undo();
        assert_eq!(spaces(&editor, 0), [(2, true), (3, false)], "what can be redone is there");
        blend(&mut editor, BlendSpace::Encoded);
        assert_eq!(spaces(&editor, 2), [(4, false)]);
        editor.begin_history();
        assert_eq!(spaces(&editor, 0), []);
        blend(&mut editor, BlendSpace::Linear);
        assert_eq!(spaces(&editor, 0), [(2, true)]);
    }

    #[test]
    fn a_return_is_an_entry_of_its_own_and_undo_leads_back() {
        let settings = Settings { threads: Some(1), ..Settings::default() };
        let mut editor = Editor::open(clay(), settings).unwrap();
        let kept = editor.document().clone();
        blend(&mut editor, BlendSpace::Linear);
        let left = Arc::clone(&editor.document().materials[0]);
        editor.return_to(kept.clone(), "Return to first light").unwrap();
        assert!(Arc::ptr_eq(&editor.document().materials[0], &kept.materials[0]));
        let (entries, present) = editor.history().entries();
        assert_eq!((entries.last().unwrap().label.as_str(), present), ("Return to first light", 2));
        blend(&mut editor, BlendSpace::Linear);
        assert_eq!(spaces(&editor, 0), [(2, true), (4, true)]);
        editor.undo();
        editor.undo();
        assert!(Arc::ptr_eq(&editor.document().materials[0], &left));
    }
}
