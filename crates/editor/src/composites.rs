//! The composite of each material, kept with the document that it was made from, so that only tiles
//! that changed since are composited again.

use std::collections::BTreeMap;
use std::sync::Arc;

use document::{Document, MaterialId};
use layers::{Composite, composite, recomposite};
use raster::Observer;

use crate::EditorError;

#[derive(Debug, Default)]
pub(crate) struct Composites(BTreeMap<MaterialId, (Document, Arc<Composite>)>);

impl Composites {
    /// The composite of a material of `document`.
    pub(crate) fn of(
        &mut self,
        document: &Document,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Arc<Composite>, EditorError> {
        let now = document.composition(material)?;
        let made = match self.0.get(&material) {
            Some((before, kept)) => {
                Arc::new(recomposite(kept, &before.composition(material)?, &now, observer)?)
            }
            None => Arc::new(composite(&now, observer)?),
        };
        self.0.insert(material, (document.clone(), Arc::clone(&made)));
        Ok(made)
    }

    /// Lets go of everything: another model has come.
    pub(crate) fn clear(&mut self) {
        self.0.clear();
    }
}
