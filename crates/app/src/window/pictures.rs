//! What the views show: the desk's model and textures brought up to date on the adapter, and drawn.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use document::{MaskOwner, Material, MaterialId};
use editor::EditorError;
use egui::{Color32, Theme};
use layers::{ChannelId, DisplayTile, LayerId};
use raster::{TILE_TEXELS, TextureSize, TileAt, Unobserved};
use thiserror::Error;
use viewport::environment::Prefiltered;
use viewport::{
    FlatPicture, Gpu, MeshBuffers, ModelView, Renderer, Scene, Shown, Target, TextureKind,
    TilePixels, ViewportError,
};

use super::picture::Picture;
use crate::chosen::Aim;
use crate::desk::{self, Desk};
use crate::on_disk::PICTURE_PX;
use crate::theme;

/// Tiles that are held before they go up to the adapter.
const TILES_AT_ONCE: usize = 512;

/// Why a picture does not show what it should.
#[derive(Debug, Error)]
pub(super) enum PictureError {
    /// The adapter can't.
    #[error(transparent)]
    Viewport(#[from] ViewportError),
    /// The document can't be shown.
    #[error(transparent)]
    Editor(#[from] EditorError),
}

/// See the module.
#[derive(Debug)]
pub(super) struct Pictures {
    scene: Scene,
    renderer: Renderer,
    /// Counts what changed in the scene.
    state: u64,
    /// The desk's mesh that the scene has.
    mesh: u64,
    /// The desk's document that the scene's textures are of.
    opened: u64,
    sizes: BTreeMap<MaterialId, TextureSize>,
    /// The material whose selection is seen.
    selected: Option<MaterialId>,
    environment: Option<Arc<Prefiltered>>,
    model: Picture<ModelView>,
    flat: Picture<FlatPicture>,
}

impl Pictures {
    pub(super) fn new(gpu: &Gpu, panels: &mut egui_wgpu::Renderer) -> Result<Self, ViewportError> {
        let mut renderer = Renderer::new(gpu);
        renderer.prepare(gpu);
        Ok(Self {
            scene: Scene::new(gpu),
            renderer,
            state: 0,
            mesh: 0,
            opened: 0,
            sizes: BTreeMap::new(),
            selected: None,
            environment: None,
            model: Picture::new(gpu, panels)?,
            flat: Picture::new(gpu, panels)?,
        })
    }

    /// What panels may show.
    pub(super) fn shown(&self) -> desk::Pictures {
        desk::Pictures { model: Some(self.model.id()), flat: Some(self.flat.id()) }
    }

    /// Bytes of textures that went up so far.
    pub(super) fn uploaded_bytes(&self) -> u64 {
        self.scene.uploaded_bytes()
    }

    /// Brings the scene up to date and draws what is to be seen otherwise than before. True where it is not yet
    /// up to date: a frame brings all of one material's textures at most, so that the window answers meanwhile.
    pub(super) fn draw(
        &mut self,
        gpu: &Gpu,
        panels: &mut egui_wgpu::Renderer,
        desk: &mut Desk,
        theme: Theme,
    ) -> Result<bool, PictureError> {
        let mut is_more = false;
        if desk.document().model.is_some() {
            self.bring_mesh(gpu, desk)?;
            is_more = self.bring_textures(gpu, desk)?;
            self.bring_mask(gpu, desk)?;
            self.bring_selection(gpu, desk)?;
        }
        self.bring_environment(gpu, desk);
        let surround = theme::of(theme).surround;
        let (view, size) = (model_view(desk, surround), pixels(desk.model_view.camera.viewport_px));
        let Self { scene, renderer, state, .. } = self;
        self.model.show(gpu, panels, size, (view, *state), |view, target| {
            renderer.draw_model(gpu, scene, view, target);
        })?;
        let view = flat_picture(desk, surround);
        self.flat.show(gpu, panels, view.size_px, (view, *state), |view, target| {
            renderer.draw_flat(gpu, scene, view, target);
        })?;
        if desk.files.is_picture_wanted && !is_more {
            self.draw_for_the_file(gpu, desk, surround)?;
        }
        let bytes = self.scene.bytes() + self.model.bytes() + self.flat.bytes();
        desk.editor.set_outside_bytes("graphics adapter", bytes as usize);
        Ok(is_more)
    }

    /// A small picture of all that the model view shows, from the same side, without the brush.
    fn draw_for_the_file(
        &mut self,
        gpu: &Gpu,
        desk: &mut Desk,
        surround: Color32,
    ) -> Result<(), PictureError> {
        // It is not tried again where it fails: the file is whole without.
        desk.files.is_picture_wanted = false;
        let size = PICTURE_PX;
        let mut view = ModelView { footprint: None, wire: false, ..model_view(desk, surround) };
        let hidden = &desk.model_view.parts;
        view.camera = desk.framed(|part| !hidden.get(part.0 as usize).is_some_and(|p| p.hidden));
        view.camera.viewport_px = glam::DVec2::from(size.map(f64::from));
        view.shown = Shown::Lit;
        let mut target = Target::new(gpu, size)?;
        self.renderer.draw_model(gpu, &self.scene, &view, &mut target);
        desk.take_picture(&target.read(gpu)?);
        Ok(())
    }

    fn bring_mesh(&mut self, gpu: &Gpu, desk: &mut Desk) -> Result<(), PictureError> {
        if self.mesh == desk.mesh_number {
            return Ok(());
        }
        // Not tried again where it fails: the line that says so is told once.
        self.mesh = desk.mesh_number;
        let mesh = match desk.mesh.take() {
            Some(mesh) => mesh,
            None => MeshBuffers::build(&*desk.editor.surface(&Unobserved)?, &Unobserved)?,
        };
        self.scene.set_mesh(gpu, &mesh)?;
        self.state += 1;
        Ok(())
    }

    /// True where a material waits for the next frame.
    fn bring_textures(&mut self, gpu: &Gpu, desk: &mut Desk) -> Result<bool, PictureError> {
        if self.opened != desk.opened {
            self.opened = desk.opened;
            self.scene.clear_materials();
            self.sizes.clear();
            self.selected = None;
        }
        let mut materials = desk.document().materials.clone();
        materials.sort_by_key(|material| material.id != desk.chosen.material);
        let mut brought_anew = false;
        for material in materials {
            let is_new = self.sizes.get(&material.id) != Some(&material.size);
            if is_new && brought_anew {
                return Ok(true);
            }
            if is_new {
                self.make_room(gpu, desk, &material);
                brought_anew = true;
            }
            let brought = Brought::new(gpu, &mut self.scene, material.id);
            let changed = desk.editor.display(material.id, &|at, tile| {
                brought.add(tile_pixels(at, tile));
            })?;
            brought.finish();
            self.state += u64::from(changed > 0);
        }
        Ok(false)
    }

    fn make_room(&mut self, gpu: &Gpu, desk: &mut Desk, material: &Material) {
        self.sizes.insert(material.id, material.size);
        self.selected = self.selected.filter(|selected| *selected != material.id);
        let edge = self.scene.set_material(gpu, material.id.slot(), material.size);
        desk.editor.display_anew(material.id);
        if edge < material.size.edge() {
            let (name, size) = (&material.name, material.size.edge());
            desk.notices.note(format!(
                "{name} is shown at {edge} texels instead of {size}: {gpu} holds no more. It is painted and \
                 exported at {size}."
            ));
        }
    }

    fn bring_environment(&mut self, gpu: &Gpu, desk: &Desk) {
        let Some(wanted) = &desk.model_view.light.environment else { return };
        if self.environment.as_ref().is_none_or(|known| !Arc::ptr_eq(known, wanted)) {
            self.renderer.set_environment(gpu, wanted);
            self.environment = Some(Arc::clone(wanted));
            self.state += 1;
        }
    }

    /// What of the chosen material is selected, where that is to be seen.
    fn bring_selection(&mut self, gpu: &Gpu, desk: &mut Desk) -> Result<(), PictureError> {
        let material = desk.chosen.material;
        let mut wanted = None;
        if desk.tool.is_selection_seen && self.sizes.contains_key(&material) {
            let brought = Brought::new(gpu, &mut self.scene, material);
            let changed = desk.editor.selection_tiles(material, &|at, values| {
                brought.add(TilePixels::new(at).with_scalar(TextureKind::Selection, values));
            })?;
            brought.finish();
            self.state += u64::from(changed.is_some_and(|changed| changed > 0));
            wanted = changed.map(|_| material);
        }
        if self.selected != wanted {
            for (material, shown) in [(self.selected, false), (wanted, true)] {
                if let Some(material) = material {
                    self.scene.show_selection(gpu, material.slot(), shown);
                }
            }
            self.selected = wanted;
            self.state += 1;
        }
        Ok(())
    }

    fn bring_mask(&mut self, gpu: &Gpu, desk: &mut Desk) -> Result<(), PictureError> {
        if desk.model_view.shown != Shown::Mask {
            return Ok(());
        }
        let Some((layer, owner)) = chosen_mask(desk) else { return Ok(()) };
        let material = desk.chosen.material;
        let brought = Brought::new(gpu, &mut self.scene, material);
        let changed = desk.editor.mask_tiles(material, layer, owner, &|at, values| {
            brought.add(TilePixels::new(at).with_scalar(TextureKind::Mask, values));
        })?;
        brought.finish();
        self.state += u64::from(changed > 0);
        Ok(())
    }
}

/// Tiles on their way up, from many threads.
struct Brought<'a> {
    gpu: &'a Gpu,
    material: MaterialId,
    held: Mutex<(&'a mut Scene, Vec<TilePixels>)>,
}

impl<'a> Brought<'a> {
    fn new(gpu: &'a Gpu, scene: &'a mut Scene, material: MaterialId) -> Self {
        Self { gpu, material, held: Mutex::new((scene, Vec::new())) }
    }

    fn add(&self, tile: TilePixels) {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        held.1.push(tile);
        if held.1.len() >= TILES_AT_ONCE {
            let (scene, tiles) = &mut *held;
            scene.upload_tiles(self.gpu, self.material.slot(), tiles);
            tiles.clear();
        }
    }

    fn finish(self) {
        let (scene, tiles) = self.held.into_inner().unwrap_or_else(PoisonError::into_inner);
        if !tiles.is_empty() {
            scene.upload_tiles(self.gpu, self.material.slot(), &tiles);
        }
    }
}

/// A composited tile as the adapter takes it: the channels that it has, with their smaller levels.
pub fn tile_pixels(at: TileAt, tile: &DisplayTile) -> TilePixels {
    let mut pixels = TilePixels::new(at);
    let mut rgba = [0; 4 * TILE_TEXELS];
    if tile.write_rgba(ChannelId::BASE_COLOUR, &mut rgba) {
        pixels = pixels.with_base_colour(&rgba);
    }
    let mut values = [0; TILE_TEXELS];
    for (channel, kind) in [
        (ChannelId::ROUGHNESS, TextureKind::Roughness),
        (ChannelId::METALNESS, TextureKind::Metalness),
    ] {
        if tile.write_r(channel, &mut values) {
            pixels = pixels.with_scalar(kind, &values);
        }
    }
    pixels
}

/// The mask that is painted, or else the chosen layer's own.
fn chosen_mask(desk: &Desk) -> Option<(LayerId, MaskOwner)> {
    let layer = desk.chosen.layer?;
    let owner = match &desk.chosen.aim {
        Aim::Mask(at) => at.owner,
        Aim::Cells(_) => MaskOwner::Layer,
    };
    Some((layer, owner))
}

fn pixels(size: glam::DVec2) -> [u32; 2] {
    [size.x, size.y].map(|edge| edge.round().max(0.0) as u32)
}

fn ground([r, g, b, _]: [u8; 4]) -> [f32; 3] {
    [r, g, b].map(|value| f32::from(value) / 255.0)
}

fn model_view(desk: &Desk, surround: Color32) -> ModelView {
    let view = &desk.model_view;
    ModelView {
        camera: view.camera,
        mirrored: view.mirrored,
        shown: view.shown,
        wire: view.wire,
        lighting: view.lighting,
        hidden_parts: view.parts.iter().map(|part| part.hidden).collect(),
        footprint: view.footprint,
        background: ground(surround.to_array()),
    }
}

fn flat_picture(desk: &Desk, surround: Color32) -> FlatPicture {
    let view = &desk.flat_view;
    FlatPicture {
        camera: view.camera,
        size_px: view.size_px,
        material: desk.chosen.material.slot(),
        shown: desk.model_view.shown,
        outlines: view.outlines,
        wire: desk.model_view.wire,
        footprint: desk.model_view.footprint,
        background: ground(surround.to_array()),
    }
}
