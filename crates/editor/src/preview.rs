//! An edit that is tried out: a slider that is drawn, a colour that is looked for. It is shown, and is no
//! part of the history before it is kept; so a drag of any length is one edit.

use std::sync::Arc;

use document::{Document, Edit, LayerEdit, MaterialEdit, Step, apply};
use raster::Unobserved;

use crate::{Editor, EditorError, MadeEdit};

/// What is shown for now.
#[derive(Debug)]
pub(crate) struct Preview {
    edit: Edit,
    pub(crate) made: Document,
}

impl Editor {
    /// Shows what an edit would make of the present document, in place of what was tried before. Any edit,
    /// undo, redo or stroke takes it back.
    ///
    /// # Errors
    /// As [`Editor::apply`]; what was tried before is then gone.
    pub fn preview(&mut self, edit: &Edit) -> Result<(), EditorError> {
        self.check_pen_is_up()?;
        self.preview = None;
        let Self { history, derived, pools, .. } = self;
        let made = pools.interactive(|| apply(history.present(), edit, &**derived, &Unobserved))?;
        self.preview = Some(Preview { edit: edit.clone(), made });
        Ok(())
    }

    /// Shows what a long edit gave, in place of what was tried before, as [`Editor::preview`] does.
    ///
    /// # Errors
    /// As [`Editor::take_over`]; what was tried before is then shown still.
    pub fn show(&mut self, made: MadeEdit) -> Result<(), EditorError> {
        self.check_pen_is_up()?;
        let (edit, made) = made.placed(self.history.present())?;
        self.preview = Some(Preview { edit, made });
        Ok(())
    }

    /// The step that is tried out, where the edit is one that paints.
    pub fn tried_step(&self) -> Option<&Arc<Step>> {
        match &self.preview.as_ref()?.edit {
            Edit::Material(_, MaterialEdit::Layer(_, LayerEdit::Paint(step))) => Some(step),
            _ => None,
        }
    }

    /// Makes the edit that is tried out the last one of the history: what was shown is kept, to the byte.
    /// False where there is none.
    pub fn keep_preview(&mut self) -> bool {
        let Some(Preview { edit, made }) = self.preview.take() else { return false };
        self.push(made, &edit);
        true
    }

    /// Takes the edit that is tried out back; false where there is none.
    pub fn drop_preview(&mut self) -> bool {
        self.preview.take().is_some()
    }
}
