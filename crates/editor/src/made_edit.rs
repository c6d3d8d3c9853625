//! An edit that takes long: made in the background from the document as it was, and taken over when it is
//! done, where nothing else has changed the same material meanwhile.

use std::sync::Arc;

use document::{Document, Edit, Material, MaterialEdit, MaterialId, apply};

use crate::{Editor, EditorError, Job};

/// What a long edit of one material gave.
#[derive(Debug)]
pub struct MadeEdit {
    edit: Edit,
    before: Arc<Material>,
    made: Arc<Material>,
}

impl MadeEdit {
    /// The edit, and the document with what it gave.
    pub(crate) fn placed(self, document: &Document) -> Result<(Edit, Document), EditorError> {
        let Self { edit, before, made } = self;
        let mut document = document.clone();
        match document.materials.get_mut(made.id.0 as usize) {
            Some(present) if Arc::ptr_eq(present, &before) => *present = made,
            _ => return Err(EditorError::Overtaken { material: before.name.clone() }),
        }
        Ok((edit, document))
    }
}

impl Editor {
    /// Starts a long edit of a material, another texture size, beside what the hand waits for.
    ///
    /// # Errors
    /// [`EditorError::Document`] without such a material. What the edit itself is refused for comes with the
    /// job's result.
    pub fn start_edit(
        &self,
        material: MaterialId,
        change: MaterialEdit,
    ) -> Result<Job<MadeEdit>, EditorError> {
        let before = Arc::clone(self.document().material(material)?);
        let (document, derived) = (self.document().clone(), Arc::clone(&self.derived));
        Ok(self.start_awaited(move |observer| {
            let edit = Edit::Material(material, change);
            let made = apply(&document, &edit, &*derived, observer)?;
            let made = Arc::clone(made.material(material)?);
            Ok(MadeEdit { edit, before, made })
        }))
    }

    /// Makes a long edit that is done the last one of the history.
    ///
    /// # Errors
    /// [`EditorError::Overtaken`] where the material is no longer what the edit was made from,
    /// [`EditorError::PenDown`] while a stroke goes on; nothing is changed then.
    pub fn take_over(&mut self, made: MadeEdit) -> Result<(), EditorError> {
        self.check_pen_is_up()?;
        self.drop_preview();
        let (edit, document) = made.placed(self.history.present())?;
        self.push(document, &edit);
        Ok(())
    }
}
