//! One picture that a view shows: drawn again only when it would come out otherwise.

use egui::TextureId;
use viewport::{Gpu, Target, ViewportError};

/// See the module. `V` says all of a view but its scene.
#[derive(Debug)]
pub(super) struct Picture<V> {
    target: Target,
    id: TextureId,
    drawn: Option<(V, u64)>,
}

impl<V: PartialEq> Picture<V> {
    /// A picture of one pixel, which the panels' painter knows.
    pub(super) fn new(gpu: &Gpu, panels: &mut egui_wgpu::Renderer) -> Result<Self, ViewportError> {
        let target = Target::new(gpu, [1, 1])?;
        let view =
            target.view().ok_or_else(|| ViewportError::Readback("it is empty".to_owned()))?;
        let id = panels.register_native_texture(gpu.device(), view, wgpu::FilterMode::Nearest);
        Ok(Self { target, id, drawn: None })
    }

    /// What the panels call it.
    pub(super) fn id(&self) -> TextureId {
        self.id
    }

    /// Bytes of memory that it takes on the adapter.
    pub(super) fn bytes(&self) -> u64 {
        self.target.bytes()
    }

    /// Brings it to a size in pixels, and draws it if it does not show this view of the scene's state yet. Where
    /// there is nothing to see it keeps what it has.
    pub(super) fn show(
        &mut self,
        gpu: &Gpu,
        panels: &mut egui_wgpu::Renderer,
        size: [u32; 2],
        (view, state): (V, u64),
        draw: impl FnOnce(&V, &mut Target),
    ) -> Result<(), ViewportError> {
        if size.contains(&0) {
            return Ok(());
        }
        if self.target.resize(gpu, size)? {
            self.drawn = None;
            if let Some(shown) = self.target.view() {
                let filter = wgpu::FilterMode::Nearest;
                panels.update_egui_texture_from_wgpu_texture(gpu.device(), shown, filter, self.id);
            }
        }
        let wanted = Some((view, state));
        if self.drawn != wanted {
            if let Some((view, _)) = &wanted {
                draw(view, &mut self.target);
            }
            self.drawn = wanted;
        }
        Ok(())
    }
}
