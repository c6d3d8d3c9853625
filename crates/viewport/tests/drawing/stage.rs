//! Small scenes, and a look at what was drawn.

use std::sync::{Arc, Mutex, PoisonError};

use brush::{Camera, FlatCamera, Projection};
use glam::{DVec2, DVec3, Vec2, Vec3};
use raster::{Bitmap, TILE_TEXELS, TextureSize, TileAt, Unobserved};
use surface::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId, Surface};
use viewport::{
    FlatPicture, Gpu, KeyLight, Lighting, MeshBuffers, ModelView, Renderer, Scene, Shown, Target,
    TextureKind, TilePixels, ToneMapping,
};

/// One adapter for a test at a time: drivers in software don't like to be many.
static ONE: Mutex<()> = Mutex::new(());

pub(crate) const MATERIAL: MaterialSlot = MaterialSlot(0);
pub(crate) const GREEN_BACKGROUND: [f32; 3] = [0.0, 1.0, 0.0];

/// Everything that draws.
pub(crate) struct Stage {
    pub(crate) gpu: Gpu,
    pub(crate) scene: Scene,
    pub(crate) renderer: Renderer,
    _alone: std::sync::MutexGuard<'static, ()>,
}

impl Stage {
    pub(crate) fn new(samples: u32) -> Self {
        let alone = ONE.lock().unwrap_or_else(PoisonError::into_inner);
        let gpu =
            Gpu::headless().expect("these tests need a graphics adapter").with_samples(samples);
        let (scene, renderer) = (Scene::new(&gpu), Renderer::new(&gpu));
        Self { gpu, scene, renderer, _alone: alone }
    }

    pub(crate) fn with_mesh(samples: u32, mesh: Mesh) -> Self {
        let mut stage = Self::new(samples);
        stage.scene.set_mesh(&stage.gpu, &buffers(mesh)).unwrap();
        stage
    }

    /// One material of these three values everywhere, 64 texels a side.
    pub(crate) fn put_material(&mut self, material: MaterialSlot, rgb: [u8; 3], rest: [u8; 2]) {
        self.scene.set_material(&self.gpu, material, TextureSize::new(64).unwrap());
        let rgba = std::array::from_fn(|i| if i % 4 == 3 { 255 } else { rgb[i % 4] });
        let tile = TilePixels::new(TileAt { x: 0, y: 0 })
            .with_base_colour(&rgba)
            .with_scalar(TextureKind::Roughness, &[rest[0]; TILE_TEXELS])
            .with_scalar(TextureKind::Metalness, &[rest[1]; TILE_TEXELS]);
        self.scene.upload_tiles(&self.gpu, material, &[tile]);
    }

    pub(crate) fn model(&mut self, view: &ModelView) -> Bitmap<u8> {
        let size = [view.camera.viewport_px.x as u32, view.camera.viewport_px.y as u32];
        let mut target = Target::new(&self.gpu, size).unwrap();
        self.renderer.draw_model(&self.gpu, &self.scene, view, &mut target);
        self.read(&target)
    }

    pub(crate) fn flat(&mut self, picture: &FlatPicture) -> Bitmap<u8> {
        let mut target = Target::new(&self.gpu, picture.size_px).unwrap();
        self.renderer.draw_flat(&self.gpu, &self.scene, picture, &mut target);
        self.read(&target)
    }

    fn read(&self, target: &Target) -> Bitmap<u8> {
        let picture = target.read(&self.gpu).unwrap();
        assert_eq!(self.gpu.take_fault(), None);
        picture
    }
}

pub(crate) fn buffers(mesh: Mesh) -> MeshBuffers {
    let surface = Surface::prepare(Arc::new(mesh), &Unobserved).unwrap();
    MeshBuffers::build(&surface, &Unobserved).unwrap()
}

/// Quads, each a part of its own: four corners counter-clockwise from the front, and its material.
/// Each shows the whole texture, its first corner the lower left.
pub(crate) fn quads(quads: &[([Vec3; 4], u32)]) -> Mesh {
    let mut data = MeshData { face_starts: vec![0], ..MeshData::default() };
    data.uvs = [(0.0, 1.0), (1.0, 1.0), (1.0, 0.0), (0.0, 0.0)].map(Vec2::from).to_vec();
    for (part, (corners, material)) in (0..).zip(quads) {
        for (uv, &corner) in (0..).zip(corners) {
            data.positions.push(corner);
            let position = data.positions.len() as u32 - 1;
            data.corners.push(Corner { position, uv, normal: NO_INDEX });
        }
        data.face_starts.push(data.corners.len() as u32);
        data.face_parts.push(PartId(part));
        data.face_materials.push(MaterialSlot(*material));
        data.parts.push(Part { name: format!("quad {part}"), axis: Vec3::Y });
        while data.material_names.len() <= *material as usize {
            data.material_names.push(format!("material {}", data.material_names.len()));
        }
    }
    Mesh::new(data).unwrap()
}

/// A square of two units that faces +Z, this far along it.
pub(crate) fn square(z: f32) -> [Vec3; 4] {
    [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(|(x, y)| Vec3::new(x, y, z))
}

/// Looks along -Z at the square, which fills the picture, without perspective.
pub(crate) fn facing(shown: Shown, size: u32) -> ModelView {
    ModelView {
        camera: Camera {
            eye: DVec3::new(0.0, 0.0, 5.0),
            target: DVec3::ZERO,
            up: DVec3::Y,
            projection: Projection::Orthographic { height: 2.0 },
            viewport_px: DVec2::splat(f64::from(size)),
        },
        mirrored: false,
        shown,
        wire: false,
        lighting: even_light(),
        hidden_parts: Vec::new(),
        footprint: None,
        background: GREEN_BACKGROUND,
    }
}

/// The whole texture, so many pixels a side.
pub(crate) fn laid_flat(shown: Shown, size: u32) -> FlatPicture {
    FlatPicture {
        camera: FlatCamera { top_left: DVec2::ZERO, uv_per_px: 1.0 / f64::from(size) },
        size_px: [size; 2],
        material: MATERIAL,
        shown,
        outlines: false,
        wire: false,
        footprint: None,
        background: GREEN_BACKGROUND,
    }
}

/// White from everywhere, no key light.
pub(crate) fn even_light() -> Lighting {
    Lighting {
        key: KeyLight {
            azimuth_rad: 0.0,
            elevation_rad: 0.0,
            strength: 0.0,
            radius_rad: 0.0,
            tint: [1.0; 3],
        },
        environment_strength: 1.0,
        environment_turn_rad: 0.0,
        exposure_ev: 0.0,
        tone: ToneMapping::Neutral,
    }
}
