//! A model as it came: its mesh, its materials, and the maps that we keep but do not paint.

use std::fmt;
use std::sync::Arc;

use raster::{Bitmap, EncodedRgb};
use surface::Mesh;

use crate::model_hash::hash_of;

/// The BLAKE3 hash of a content: names a mesh or an image for good, wherever its file may go.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ContentHash(pub [u8; 32]);

impl fmt::Display for ContentHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for ContentHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "ContentHash({self})")
    }
}

/// What a map that we do not paint is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PassMapKind {
    /// Tangent-space normals.
    Normal,
    /// Light given off.
    Emission,
    /// Indirect light kept out.
    Occlusion,
}

/// A map that came with a material and goes out again as it came, byte for byte.
#[derive(Debug, Clone, PartialEq)]
pub struct PassMap {
    /// What it is for.
    pub kind: PassMapKind,
    /// Its media type: `image/png` or `image/jpeg`.
    pub media_type: String,
    /// The encoded image.
    pub bytes: Arc<[u8]>,
    /// Its factor as glTF has it: normal scale, emissive factor, occlusion strength (first component).
    pub factor: [f32; 3],
}

/// A material as it came. Maps are already multiplied by their factors.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelMaterial {
    /// Base colour where there is no map.
    pub base_colour: EncodedRgb,
    /// glTF's perceptual roughness where there is no map, 0..1.
    pub roughness: f32,
    /// Metalness where there is no map, 0..1.
    pub metalness: f32,
    /// Base colour map: three components, sRGB-encoded.
    pub base_colour_map: Option<Arc<Bitmap<u16>>>,
    /// Roughness map: one component, linear.
    pub roughness_map: Option<Arc<Bitmap<u16>>>,
    /// Metalness map: one component, linear.
    pub metalness_map: Option<Arc<Bitmap<u16>>>,
    /// Maps that go through unpainted.
    pub pass_maps: Vec<PassMap>,
}

impl Default for ModelMaterial {
    /// A light grey, half rough dielectric: what a mesh without materials is shown in.
    fn default() -> Self {
        Self {
            base_colour: EncodedRgb([0.735; 3]),
            roughness: 0.5,
            metalness: 0.0,
            base_colour_map: None,
            roughness_map: None,
            metalness_map: None,
            pass_maps: Vec::new(),
        }
    }
}

/// A model as it came: what an import edit carries. Immutable, and named by the hash of its content.
#[derive(Debug, Clone)]
pub struct Model {
    hash: ContentHash,
    mesh: Arc<Mesh>,
    materials: Vec<ModelMaterial>,
}

impl Model {
    /// A mesh with one material for each of its material names; those that are missing get the default.
    pub fn new(mesh: Arc<Mesh>, mut materials: Vec<ModelMaterial>) -> Self {
        materials.resize_with(mesh.material_names().len(), ModelMaterial::default);
        Self { hash: hash_of(&mesh, &materials), mesh, materials }
    }

    /// Names this content.
    pub fn hash(&self) -> ContentHash {
        self.hash
    }

    /// The mesh.
    pub fn mesh(&self) -> &Arc<Mesh> {
        &self.mesh
    }

    /// Bytes of memory that it takes, maps included.
    pub fn bytes(&self) -> usize {
        let maps = self.materials.iter().flat_map(|material| {
            [&material.base_colour_map, &material.roughness_map, &material.metalness_map]
        });
        let maps: usize = maps.flatten().map(|map| size_of_val(map.values())).sum();
        let passing = self.materials.iter().flat_map(|material| &material.pass_maps);
        self.mesh.bytes() + maps + passing.map(|map| map.bytes.len()).sum::<usize>()
    }

    /// One for each of the mesh's material names, in that order.
    pub fn materials(&self) -> &[ModelMaterial] {
        &self.materials
    }
}
