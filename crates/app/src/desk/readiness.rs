//! What must be there before the pen comes down: made beforehand and beside the window, so that the first stroke
//! begins at once.

use std::sync::Arc;

use document::{ContentHash, MaterialId};
use glam::DVec2;
use raster::TextureSize;
use surface::{PartId, Surface};
use viewport::navigation;

use super::model_view::FOV_Y_RAD;
use super::{Desk, PartState};

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Readiness {
    /// The model that the views were set for.
    seen: Option<ContentHash>,
    /// What was last asked to be made: of which of the documents opened so far.
    asked: Option<(u64, MaterialId, TextureSize)>,
    /// The model's surface, once it is made.
    pub(crate) surface: Option<Arc<Surface>>,
}

impl Desk {
    /// Once a frame: sees to it that a stroke on what is chosen could begin.
    pub(crate) fn get_ready(&mut self) {
        let hash = self.document().model.as_ref().map(|model| model.hash());
        if self.readiness.seen != hash {
            self.readiness.seen = hash;
            self.readiness.surface = None;
            self.look_at_new_model();
        }
        if hash.is_none() {
            return;
        }
        if let Some(before) = self.files.view.take() {
            self.look_as_before(&before);
        }
        if self.readiness.surface.is_none() {
            self.readiness.surface = self.editor.made_surface();
        }
        let material = self.chosen.material;
        let Some(size) = self.material().map(|material| material.size) else { return };
        let wanted = (self.opened, material, size);
        if self.readiness.asked != Some(wanted) {
            self.readiness.asked = Some(wanted);
            self.prepare(material);
        }
    }

    /// Makes surface and texel map of a material, unless they are there.
    fn prepare(&mut self, material: MaterialId) {
        if self.editor.is_prepared(material) {
            return;
        }
        let snapshot = self.editor.snapshot();
        let name = self.material().map(|material| material.name.clone()).unwrap_or_default();
        let job = self.editor.start_awaited(move |observer| snapshot.prepare(material, observer));
        self.tasks.add(format!("Making {name} ready to be painted"), job, |_, ()| {});
    }

    /// Makes ready again what was let go to save memory, and says so.
    pub(crate) fn prepare_again(&mut self) {
        let material = self.chosen.material;
        let name = self.material().map(|material| material.name.clone()).unwrap_or_default();
        self.notices.note(format!("{name} is being made ready: paint once that is done"));
        if self.tasks.is_empty() {
            self.prepare(material);
        }
    }

    /// Says which layer will be painted, so that what lies around it is composited beforehand.
    pub(crate) fn announce_layer(&mut self) {
        let (Some(layer), Some(material)) = (self.chosen.layer, self.material()) else { return };
        let (id, middle) = (material.id, material.size.edge() / 2);
        let near = raster::TileAt::of_texel(middle, middle);
        if let Err(error) = self.editor.make_ready(id, layer, near) {
            self.notices.error(error);
        }
    }

    /// Another model has come: it is looked at from the front, all parts of it.
    fn look_at_new_model(&mut self) {
        let viewport_px = self.model_view.camera.viewport_px.max(DVec2::ONE);
        let Some(model) = self.document().model.clone() else { return };
        let (low, high) = model.mesh().bounds();
        let (low, high) = (low.as_dvec3(), high.as_dvec3());
        let view = &mut self.model_view;
        view.parts = vec![PartState::default(); model.mesh().parts().len()];
        view.saved.clear();
        if low.is_finite() && high.is_finite() {
            view.camera = navigation::first_look(low, high, FOV_Y_RAD, viewport_px);
        }
        self.flat_view.frame();
    }

    /// The lowest and the highest corner of those parts that are wanted; none where there are none.
    pub(crate) fn bounds_of(
        &self,
        wanted: impl Fn(PartId) -> bool,
    ) -> Option<(glam::DVec3, glam::DVec3)> {
        let surface = self.readiness.surface.as_ref()?;
        let triangles = (0..surface.triangle_count() as u32).map(surface::TriangleId);
        let points = triangles
            .filter(|triangle| wanted(surface.part_of(*triangle)))
            .flat_map(|triangle| surface.positions_of(triangle));
        points.fold(None, |bounds, point| {
            let (low, high) = bounds.unwrap_or((point, point));
            Some((low.min(point), high.max(point)))
        })
    }
}
