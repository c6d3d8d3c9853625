//! One moment of a document, to be looked at or exported while painting goes on.

use std::sync::Arc;

use document::{Document, MaterialId, Surfaces};
use raster::{Observer, Share};
use surface::Surface;

use crate::composites::Composites;
use crate::maps::{channel_maps, unpainted};
use crate::{ChannelMap, Derived, EditorError, Unpainted};

/// A document as it was when this was taken. Cloning costs a few references; what is derived from the
/// model is shared with the editor, which goes its own way. Works on the threads that it is called on: hand
/// it to [`crate::Editor::start`].
#[derive(Debug, Clone)]
pub struct Snapshot {
    document: Document,
    derived: Arc<Derived>,
    composites: Composites,
}

impl Snapshot {
    pub(crate) fn new(document: Document, derived: Arc<Derived>, composites: Composites) -> Self {
        Self { document, derived, composites }
    }

    /// The document.
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// The surface of the model.
    ///
    /// # Errors
    /// [`EditorError::Document`] without a model, or when the observer stops it.
    pub fn surface(&self, observer: &dyn Observer) -> Result<Arc<Surface>, EditorError> {
        Ok(self.derived.surface(&**self.document.model()?, observer)?)
    }

    /// A material's channels as padded images.
    ///
    /// # Errors
    /// As [`crate::Editor::composite`]; when the observer asks to stop.
    pub fn maps(
        &self,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Vec<ChannelMap>, EditorError> {
        let [first, second] = [Share::new(observer, 0, 2, 3), Share::new(observer, 2, 3, 3)];
        let composite = self.composites.made(&self.document, material, &first)?;
        channel_maps(&self.document, material, &composite, &*self.derived, &second)
    }

    /// How much of each channel of a material shows the bare ground.
    ///
    /// # Errors
    /// As [`Snapshot::maps`].
    pub fn unpainted(
        &self,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Vec<Unpainted>, EditorError> {
        let composite = self.composites.made(&self.document, material, observer)?;
        unpainted(&self.document, material, &composite, &*self.derived, observer)
    }
}
