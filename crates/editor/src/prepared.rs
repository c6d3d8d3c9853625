//! A model made ready to be painted, apart from any editor: so that bringing it in takes no time.

use std::sync::Arc;

use document::{Document, DocumentError, Edit, MaterialId, Model, Surfaces, apply};
use raster::{Observer, Share, TextureSize};
use surface::Surface;

use crate::{Derived, Editor, EditorError};

/// Texel maps beyond so many bytes are left to be made when they are needed.
const MOST_MAP_BYTES: usize = 1 << 30;

/// A model with its surface, its texel maps, and the document that it becomes. Make it in the background:
/// with [`Editor::start`], of this editor or of the one that is open before.
#[derive(Debug)]
pub struct Prepared {
    edit: Edit,
    document: Document,
    surface: Arc<Surface>,
    derived: Derived,
}

impl Prepared {
    /// Does all that takes time in an import at this texture size.
    ///
    /// # Errors
    /// [`EditorError::Document`] where the model can't be imported, or when the observer asks to stop: see
    /// [`EditorError::is_cancelled`].
    pub fn of(
        model: Arc<Model>,
        size: TextureSize,
        observer: &dyn Observer,
    ) -> Result<Self, EditorError> {
        let count = model.mesh().material_names().len() as u32;
        let steps = u64::from(count) + 2;
        let step = |number: u64| Share::new(observer, number, number + 1, steps);
        let derived = Derived::default();
        let surface = derived.surface(&model, &step(0))?;
        for material in (0..count).map(MaterialId) {
            if derived.map_bytes() < MOST_MAP_BYTES {
                derived.texel_map(
                    &model,
                    material.slot(),
                    size,
                    &step(1 + u64::from(material.0)),
                )?;
            }
        }
        observer.check()?;
        let edit = Edit::Import { model, size };
        let last = step(steps - 1);
        let document = apply(&Document::default(), &edit, &derived, &last)?;
        last.progress(1, 1);
        Ok(Self { edit, document, surface, derived })
    }

    /// The model's surface.
    pub fn surface(&self) -> &Arc<Surface> {
        &self.surface
    }

    /// The document that an editor will show.
    pub fn document(&self) -> &Document {
        &self.document
    }
}

impl Editor {
    /// As [`Editor::apply`] of the import edit, at once.
    ///
    /// # Errors
    /// [`EditorError::Document`] where there is a model already, [`EditorError::PenDown`] while a stroke goes
    /// on; nothing is changed then.
    pub fn import(&mut self, prepared: Prepared) -> Result<(), EditorError> {
        self.check_pen_is_up()?;
        if self.document().model.is_some() {
            return Err(DocumentError::HasModel.into());
        }
        let Prepared { edit, document, derived, .. } = prepared;
        self.derived.adopt(derived);
        self.forget_what_was_shown();
        let channels = Arc::clone(&self.document().channels);
        self.push(Document { channels, ..document }, &edit);
        Ok(())
    }
}
