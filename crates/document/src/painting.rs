//! Paint that is still wet: a document while the pen is down.
//!
//! Each frame hands in what the stroke covers in the tiles that changed since the frame before. Those
//! tiles are made from the document at pen down, so nothing is ever painted twice, and all others stay as
//! they are. When the pen goes up, the document shown last is the one that [`crate::apply`] makes of the
//! edit.

use std::sync::Arc;

use brush::{CellPlanes, Coverage, MovedTile, Stroke};
use layers::{Layer, LayerId, LayersError};
use raster::Plane;

use crate::deposit::DepositWork;
use crate::{
    Deposit, Document, DocumentError, Edit, LayerEdit, Material, MaterialEdit, MaterialId,
    RecipeStep, Shape, Step,
};

/// A stroke on its way into a layer.
#[derive(Debug, Clone)]
pub struct Painting {
    before: Arc<Layer>,
    shown: Document,
    material: MaterialId,
    layer: LayerId,
    deposit: Deposit,
}

impl Painting {
    /// Pen down.
    ///
    /// # Errors
    /// [`DocumentError`] where the material, layer, channel or mask term does not exist, or can't take
    /// the deposit.
    pub fn begin(
        document: &Document,
        material: MaterialId,
        layer: LayerId,
        deposit: Deposit,
    ) -> Result<Self, DocumentError> {
        let found = document.material(material)?;
        let before = Arc::clone(found.stack.find(layer).ok_or(LayersError::UnknownLayer(layer))?);
        work(document, found).check(&before, &deposit)?;
        Ok(Self { before, shown: document.clone(), material, layer, deposit })
    }

    /// The document with the stroke as far as it has come.
    pub fn shown(&self) -> &Document {
        &self.shown
    }

    /// Which material is painted, and which layer.
    pub fn target(&self) -> (MaterialId, LayerId) {
        (self.material, self.layer)
    }

    /// Shows tiles with what the whole stroke covers of them now.
    ///
    /// # Errors
    /// [`DocumentError`] where a tile can't be read; what is shown is unchanged then.
    pub fn cover(&mut self, changed: &Coverage) -> Result<(), DocumentError> {
        if changed.tiles.is_empty() {
            return Ok(());
        }
        let material = self.shown.material(self.material)?;
        let work = work(&self.shown, material);
        let stack = material.stack.replaced(self.layer, |layer| {
            work.deposited(&self.before, layer, &self.deposit, changed)
        })?;
        self.shown = self.shown.with_material(Material { stack, ..Material::clone(material) });
        Ok(())
    }

    /// The planes that the stroke moves paint in; none where it covers.
    ///
    /// # Errors
    /// [`DocumentError`] where a mask term is gone.
    pub fn planes_to_move(&self) -> Result<Option<Vec<CellPlanes>>, DocumentError> {
        let Deposit::Move(target) = &self.deposit else { return Ok(None) };
        let work = work(&self.shown, self.shown.material(self.material)?);
        work.planes_to_move(&self.before, target).map(Some)
    }

    /// What the stroke is held within; none where it may go anywhere.
    ///
    /// # Errors
    /// [`DocumentError`] where the material is gone.
    pub fn within(&self) -> Result<Option<Plane>, DocumentError> {
        let selection = &self.shown.material(self.material)?.selection;
        Ok(selection.as_ref().map(|selection| selection.plane().clone()))
    }

    /// Shows tiles as the stroke has left them by now.
    ///
    /// # Errors
    /// [`DocumentError`] where a mask term is gone.
    pub fn take_moved(&mut self, moved: &[MovedTile]) -> Result<(), DocumentError> {
        let Deposit::Move(target) = &self.deposit else { return Ok(()) };
        let material = self.shown.material(self.material)?;
        let work = work(&self.shown, material);
        let stack = material
            .stack
            .replaced(self.layer, |layer| work.with_moved_tiles(layer, target, moved))?;
        self.shown = self.shown.with_material(Material { stack, ..Material::clone(material) });
        Ok(())
    }

    /// True where the selection lets nothing of it through, though the stroke covers something.
    ///
    /// # Errors
    /// [`DocumentError`] where a tile can't be read.
    pub fn is_held_back(&self, coverage: &Coverage) -> Result<bool, DocumentError> {
        let material = self.shown.material(self.material)?;
        Ok(match &material.selection {
            Some(selection) => !coverage.tiles.is_empty() && !selection.meets(coverage)?,
            None => false,
        })
    }

    /// Pen up: the document, and the edit that makes it of the one at pen down. `stroke` is the one whose
    /// coverage was shown.
    ///
    /// # Errors
    /// As [`Painting::begin`].
    pub fn finish(self, stroke: Stroke) -> Result<(Document, Edit), DocumentError> {
        let Self { shown, material: id, layer, deposit, .. } = self;
        let mut material = Material::clone(shown.material(id)?);
        let step = Arc::new(Step::Deposit { deposit, shape: Shape::Stroke(stroke) });
        let painted = RecipeStep {
            step: Arc::clone(&step),
            blend_space: material.blend_space,
            within: material.selection.clone(),
        };
        material.recipes = material.recipes.insert(layer, material.recipe(layer).then(painted));
        let edit = Edit::Material(id, MaterialEdit::Layer(layer, LayerEdit::Paint(step)));
        Ok((shown.with_material(material), edit))
    }
}

fn work<'a>(document: &'a Document, material: &'a Material) -> DepositWork<'a> {
    DepositWork {
        document,
        size: material.size,
        space: material.blend_space,
        within: material.selection.as_deref(),
    }
}
