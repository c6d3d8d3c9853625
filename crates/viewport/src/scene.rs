//! What the adapter holds: a mesh and the textures of its materials.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

use glam::DVec3;
use raster::TextureSize;
use surface::MaterialSlot;
use wgpu::util::DeviceExt as _;

use crate::layouts::Layouts;
use crate::material_textures::MaterialTextures;
use crate::mesh_buffers::Group;
use crate::{Gpu, MeshBuffers, TextureKind, TilePixels, ViewportError};

/// Numbers meshes, so that what was made of one is told from what was made of the next.
static NEXT_MESH: AtomicU64 = AtomicU64::new(1);

/// Bytes of texels that are written before they are sent on their way without a picture.
const MOST_WAITING: u64 = 32 << 20;

/// A mesh on the adapter.
#[derive(Debug)]
pub(crate) struct SceneMesh {
    pub(crate) number: u64,
    pub(crate) origin: DVec3,
    pub(crate) radius: f64,
    pub(crate) vertices: wgpu::Buffer,
    pub(crate) indices: wgpu::Buffer,
    pub(crate) edges: wgpu::Buffer,
    pub(crate) outlines: wgpu::Buffer,
    pub(crate) groups: Vec<Group>,
    /// The vertices again, as lines read them.
    pub(crate) line_group: wgpu::BindGroup,
    bytes: u64,
}

/// A mesh and its materials' textures on the adapter.
#[derive(Debug)]
pub struct Scene {
    layouts: Layouts,
    mesh: Option<SceneMesh>,
    materials: BTreeMap<MaterialSlot, MaterialTextures>,
    /// What a material shows that has no textures.
    plain: MaterialTextures,
    largest: u32,
    uploaded: u64,
    /// Of these, what may still wait on this side.
    waiting: u64,
}

impl Scene {
    /// An empty scene.
    pub fn new(gpu: &Gpu) -> Self {
        let layouts = Layouts::new(gpu.device());
        let mut plain =
            MaterialTextures::new(gpu, &layouts.material, MaterialSlot(u32::MAX), 64, 64);
        plain.upload(gpu, &[plain_tile()]);
        Self {
            layouts,
            mesh: None,
            materials: BTreeMap::new(),
            plain,
            largest: gpu.largest_texture(),
            uploaded: 0,
            waiting: 0,
        }
    }

    /// Lets no texture be larger than this edge from now on, where memory on the adapter is short: larger
    /// ones are shown by their smaller levels.
    pub fn limit_textures(&mut self, edge: u32) {
        self.largest = edge;
    }

    /// Shows another mesh. Textures stay.
    ///
    /// # Errors
    /// [`ViewportError::MeshTooLarge`] when the adapter allows no buffer of that size; the mesh that was
    /// there stays.
    pub fn set_mesh(&mut self, gpu: &Gpu, mesh: &MeshBuffers) -> Result<(), ViewportError> {
        let limits = gpu.device().limits();
        let lists = [
            size_of_val(&*mesh.vertices),
            size_of_val(&*mesh.indices),
            size_of_val(&*mesh.edges),
            size_of_val(&*mesh.outlines),
        ];
        let needed = lists.into_iter().max().unwrap_or(0) as u64;
        let most = limits.max_buffer_size.min(limits.max_storage_buffer_binding_size);
        if needed > most {
            return Err(ViewportError::MeshTooLarge { needed, most, adapter: gpu.to_string() });
        }
        let made = self.uploaded_mesh(gpu, mesh);
        self.uploaded += made.bytes;
        self.mesh = Some(made);
        Ok(())
    }

    fn uploaded_mesh(&self, gpu: &Gpu, mesh: &MeshBuffers) -> SceneMesh {
        let buffer = |label, contents: &[u8], usage| {
            // A buffer without a byte can't be bound.
            let contents = if contents.is_empty() { &[0; 32] } else { contents };
            gpu.device().create_buffer_init(&wgpu::util::BufferInitDescriptor {
                label: Some(label),
                contents,
                usage,
            })
        };
        let vertices = buffer(
            "vertices",
            bytemuck::cast_slice(&mesh.vertices),
            wgpu::BufferUsages::VERTEX | wgpu::BufferUsages::STORAGE,
        );
        let line_group = gpu.device().create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("lines"),
            layout: &self.layouts.lines,
            entries: &[wgpu::BindGroupEntry { binding: 0, resource: vertices.as_entire_binding() }],
        });
        let vertex = wgpu::BufferUsages::VERTEX;
        SceneMesh {
            number: NEXT_MESH.fetch_add(1, Ordering::Relaxed),
            origin: mesh.origin,
            radius: mesh.radius.max(f64::from(f32::MIN_POSITIVE)),
            indices: buffer(
                "indices",
                bytemuck::cast_slice(&mesh.indices),
                wgpu::BufferUsages::INDEX,
            ),
            edges: buffer("edges", bytemuck::cast_slice(&mesh.edges), vertex),
            outlines: buffer("outlines", bytemuck::cast_slice(&mesh.outlines), vertex),
            groups: mesh.groups.clone(),
            vertices,
            line_group,
            bytes: mesh.bytes() as u64,
        }
    }

    /// Makes room for a material's textures, black until tiles come; what it had before is gone. Gives the
    /// edge that is shown: less than asked for where the adapter or [`Scene::limit_textures`] doesn't allow it.
    pub fn set_material(&mut self, gpu: &Gpu, material: MaterialSlot, size: TextureSize) -> u32 {
        let made =
            MaterialTextures::new(gpu, &self.layouts.material, material, size.edge(), self.largest);
        let edge = made.edge();
        self.materials.insert(material, made);
        edge
    }

    /// Forgets the textures of all materials.
    pub fn clear_materials(&mut self) {
        self.materials.clear();
    }

    /// The edge of a material's textures, and the edge at which they are shown.
    pub fn material_edges(&self, material: MaterialSlot) -> Option<(u32, u32)> {
        self.materials.get(&material).map(|found| (found.size(), found.edge()))
    }

    /// Writes tiles of a material, and no more: their own levels and what lies above them. Tiles outside of
    /// the texture, and those of a material without [`Scene::set_material`], are passed over. Gives how many
    /// bytes went up.
    pub fn upload_tiles(&mut self, gpu: &Gpu, material: MaterialSlot, tiles: &[TilePixels]) -> u64 {
        let Some(found) = self.materials.get_mut(&material) else { return 0 };
        for kind in TextureKind::ALL.into_iter().filter(|kind| kind.comes_late()) {
            let has = |tile: &TilePixels| tile.levels().iter().any(|levels| levels.kind == kind);
            if tiles.iter().any(has) {
                found.make_room(gpu, &self.layouts.material, kind);
            }
        }
        let bytes = found.upload(gpu, tiles);
        self.uploaded += bytes;
        self.waiting += bytes;
        if self.waiting > MOST_WAITING {
            // Sends what was written: else all of a large texture would be held in memory twice.
            gpu.queue().submit([]);
            self.waiting = 0;
        }
        bytes
    }

    /// Whether pictures show what of a material is selected: what is not is dimmed, and a line runs between. Tiles of
    /// [`TextureKind::Selection`] tell what is.
    pub fn show_selection(&mut self, gpu: &Gpu, material: MaterialSlot, shown: bool) {
        if let Some(found) = self.materials.get_mut(&material) {
            found.show_selection(gpu, shown);
        }
    }

    /// All bytes that went up to the adapter so far.
    pub fn uploaded_bytes(&self) -> u64 {
        self.uploaded
    }

    /// Bytes of memory that mesh and textures take on the adapter.
    pub fn bytes(&self) -> u64 {
        let mesh = self.mesh.as_ref().map_or(0, |mesh| mesh.bytes);
        mesh + self.materials.values().map(MaterialTextures::bytes).sum::<u64>()
    }

    /// The middle and the radius of a ball that holds the mesh, in model units.
    pub fn bounds(&self) -> Option<(DVec3, f64)> {
        self.mesh.as_ref().map(|mesh| (mesh.origin, mesh.radius))
    }

    pub(crate) fn mesh(&self) -> Option<&SceneMesh> {
        self.mesh.as_ref()
    }

    pub(crate) fn material(&self, material: MaterialSlot) -> &MaterialTextures {
        self.materials.get(&material).unwrap_or(&self.plain)
    }
}

/// A light grey dielectric, neither rough nor smooth: a model that nobody painted yet.
fn plain_tile() -> TilePixels {
    TilePixels::new(raster::TileAt { x: 0, y: 0 })
        .with_scalar(TextureKind::BaseColour, &[0xbc; raster::TILE_TEXELS])
        .with_scalar(TextureKind::Roughness, &[0x80; raster::TILE_TEXELS])
}
