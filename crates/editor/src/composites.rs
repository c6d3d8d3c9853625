//! The composite of each material, kept with the document that it was made from, so that only tiles
//! that changed since are composited again.

use std::collections::BTreeMap;
use std::sync::Arc;

use document::{Document, MaterialId};
use layers::{Composite, composite, recomposite};
use raster::{Observer, Plane, Tile};

use crate::EditorError;

#[derive(Debug, Clone, Default)]
pub(crate) struct Composites(BTreeMap<MaterialId, (Document, Arc<Composite>)>);

impl Composites {
    /// The composite of a material of `document`; kept.
    pub(crate) fn of(
        &mut self,
        document: &Document,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Arc<Composite>, EditorError> {
        let made = self.made(document, material, observer)?;
        self.0.insert(material, (document.clone(), Arc::clone(&made)));
        Ok(made)
    }

    /// The composite of a material of `document`, from the one that is kept.
    pub(crate) fn made(
        &self,
        document: &Document,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Arc<Composite>, EditorError> {
        let now = document.composition(material)?;
        Ok(match self.0.get(&material) {
            Some((before, kept)) => {
                Arc::new(recomposite(kept, &before.composition(material)?, &now, observer)?)
            }
            None => Arc::new(composite(&now, observer)?),
        })
    }

    /// Lets go of everything; false when there was nothing.
    pub(crate) fn clear(&mut self) -> bool {
        let any = !self.0.is_empty();
        self.0.clear();
        any
    }

    /// Bytes of memory that they take, beyond the documents that they were made of.
    pub(crate) fn bytes(&self) -> usize {
        let channels = self.0.values().flat_map(|(_, made)| made.channels.values());
        let planes = channels.flat_map(|channel| channel.values.iter().chain([&channel.painted]));
        planes.flat_map(Plane::tiles).map(Tile::resident_bytes).sum()
    }
}
