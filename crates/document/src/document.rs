//! The document: one immutable value.

use std::sync::Arc;

use layers::{ChannelDescriptor, ChannelId, Composition, LayerId, standard_channels};
use raster::Tile;

use crate::unshared::idle_planes;
use crate::{DocumentError, Material, MaterialId, Model};

/// Everything that is saved. Cloning costs a few references.
#[derive(Debug, Clone)]
pub struct Document {
    /// What each material paints, in order.
    pub channels: Arc<[ChannelDescriptor]>,
    /// The model, once imported.
    pub model: Option<Arc<Model>>,
    /// One for each material of the model, in its order.
    pub materials: Vec<Arc<Material>>,
}

impl Default for Document {
    fn default() -> Self {
        Self { channels: standard_channels().into(), model: None, materials: Vec::new() }
    }
}

impl Document {
    /// The model.
    ///
    /// # Errors
    /// [`DocumentError::NoModel`] before any import.
    pub fn model(&self) -> Result<&Arc<Model>, DocumentError> {
        self.model.as_ref().ok_or(DocumentError::NoModel)
    }

    /// A material.
    ///
    /// # Errors
    /// [`DocumentError::NoMaterial`], or [`DocumentError::NoModel`] before any import.
    pub fn material(&self, material: MaterialId) -> Result<&Arc<Material>, DocumentError> {
        self.model()?;
        let count = self.materials.len();
        self.materials.get(material.0 as usize).ok_or(DocumentError::NoMaterial { material, count })
    }

    /// What a channel is.
    ///
    /// # Errors
    /// [`DocumentError::NoChannel`].
    pub fn channel(&self, channel: ChannelId) -> Result<&ChannelDescriptor, DocumentError> {
        let found = self.channels.iter().find(|descriptor| descriptor.id == channel);
        found.ok_or(DocumentError::NoChannel(channel))
    }

    /// What the compositor needs of one material.
    ///
    /// # Errors
    /// [`DocumentError::NoMaterial`], or [`DocumentError::NoModel`] before any import.
    pub fn composition(&self, material: MaterialId) -> Result<Composition<'_>, DocumentError> {
        let material = self.material(material)?;
        Ok(Composition {
            stack: &material.stack,
            ground: &material.ground,
            channels: &self.channels,
            blend_space: material.blend_space,
            size: material.size,
            fields: &**material,
        })
    }

    /// Calls `visit` with the tiles of every plane that no stroke on the layer `painted` changes: those
    /// of all other layers and of fields. A tile may come more than once.
    pub fn for_each_idle_tile(
        &self,
        painted: Option<(MaterialId, LayerId)>,
        visit: &mut dyn FnMut(&Tile),
    ) {
        for material in &self.materials {
            let painted = painted.filter(|(id, _)| *id == material.id).map(|(_, layer)| layer);
            idle_planes(material, painted, &mut |plane| plane.tiles().for_each(&mut *visit));
        }
    }

    /// This document with one material replaced.
    pub(crate) fn with_material(&self, material: Material) -> Self {
        let mut document = self.clone();
        let index = material.id.0 as usize;
        document.materials[index] = Arc::new(material);
        document
    }
}
