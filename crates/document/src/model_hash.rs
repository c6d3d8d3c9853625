//! The hash of a model: over its values in a fixed order, each list behind its length, little-endian.
//! It names recorded hits and stored documents for good, so the order below never changes.

use raster::Bitmap;
use surface::{Mesh, MeshData};

use crate::{ContentHash, ModelMaterial, PassMapKind};

/// The hash of a mesh and its materials.
pub(crate) fn hash_of(mesh: &Mesh, materials: &[ModelMaterial]) -> ContentHash {
    let mut hasher = Hasher(blake3::Hasher::new());
    hasher.text("scumble model 1");
    hasher.mesh(mesh.data());
    hasher.count(materials.len());
    for material in materials {
        hasher.material(material);
    }
    ContentHash(*hasher.0.finalize().as_bytes())
}

struct Hasher(blake3::Hasher);

impl Hasher {
    fn count(&mut self, count: usize) {
        self.0.update(&(count as u64).to_le_bytes());
    }

    fn text(&mut self, text: &str) {
        self.count(text.len());
        self.0.update(text.as_bytes());
    }

    fn floats(&mut self, values: impl ExactSizeIterator<Item = f32>) {
        self.count(values.len());
        let bytes: Vec<u8> = values.flat_map(f32::to_le_bytes).collect();
        self.0.update(&bytes);
    }

    fn indices(&mut self, values: impl ExactSizeIterator<Item = u32>) {
        self.count(values.len());
        let bytes: Vec<u8> = values.flat_map(u32::to_le_bytes).collect();
        self.0.update(&bytes);
    }

    fn mesh(&mut self, data: &MeshData) {
        self.floats(bytemuck::cast_slice::<_, f32>(&data.positions).iter().copied());
        self.floats(bytemuck::cast_slice::<_, f32>(&data.rest_positions).iter().copied());
        self.floats(bytemuck::cast_slice::<_, f32>(&data.normals).iter().copied());
        self.floats(bytemuck::cast_slice::<_, f32>(&data.uvs).iter().copied());
        self.floats(bytemuck::cast_slice::<_, f32>(&data.colours).iter().copied());
        self.indices(data.face_starts.iter().copied());
        self.indices(data.corners.iter().map(|corner| corner.position));
        self.indices(data.corners.iter().map(|corner| corner.uv));
        self.indices(data.corners.iter().map(|corner| corner.normal));
        self.indices(data.face_parts.iter().map(|part| part.0));
        self.indices(data.face_materials.iter().map(|material| material.0));
        self.count(data.parts.len());
        for part in &data.parts {
            self.text(&part.name);
            self.floats(part.axis.to_array().into_iter());
        }
        self.count(data.material_names.len());
        for name in &data.material_names {
            self.text(name);
        }
    }

    fn material(&mut self, material: &ModelMaterial) {
        self.floats(material.base_colour.0.into_iter());
        self.floats([material.roughness, material.metalness].into_iter());
        for map in [&material.base_colour_map, &material.roughness_map, &material.metalness_map] {
            self.bitmap(map.as_deref());
        }
        self.count(material.pass_maps.len());
        for map in &material.pass_maps {
            self.text(match map.kind {
                PassMapKind::Normal => "normal",
                PassMapKind::Emission => "emission",
                PassMapKind::Occlusion => "occlusion",
            });
            self.text(&map.media_type);
            self.floats(map.factor.into_iter());
            self.count(map.bytes.len());
            self.0.update(&map.bytes);
        }
    }

    fn bitmap(&mut self, bitmap: Option<&Bitmap<u16>>) {
        let Some(bitmap) = bitmap else { return self.count(0) };
        self.count(bitmap.components());
        self.count(bitmap.extent().width as usize);
        self.count(bitmap.extent().height as usize);
        let bytes: Vec<u8> = bitmap.values().iter().flat_map(|value| value.to_le_bytes()).collect();
        self.0.update(&bytes);
    }
}
