//! The hash of a model: over its values in a fixed order, each list behind its length, little-endian.
//! It names recorded hits and stored documents for good, so the order below never changes.

use raster::Bitmap;
use surface::{Mesh, MeshData};

use crate::{ContentHash, ModelMaterial, PassMapKind};

/// The hash of a mesh and its materials.
pub(crate) fn hash_of(mesh: &Mesh, materials: &[ModelMaterial]) -> ContentHash {
    let mut hasher = Hasher { hash: blake3::Hasher::new(), bytes: vec![0; AT_ONCE] };
    hasher.text("scumble model 1");
    hasher.mesh(mesh.data());
    hasher.count(materials.len());
    for material in materials {
        hasher.material(material);
    }
    ContentHash(*hasher.hash.finalize().as_bytes())
}

/// Bytes hashed at once: enough for the hash to work on many chunks side by side, and little enough to stay
/// in the processor's cache.
const AT_ONCE: usize = 64 << 10;

struct Hasher {
    hash: blake3::Hasher,
    bytes: Vec<u8>,
}

impl Hasher {
    fn count(&mut self, count: usize) {
        self.hash.update(&(count as u64).to_le_bytes());
    }

    fn text(&mut self, text: &str) {
        self.count(text.len());
        self.hash.update(text.as_bytes());
    }

    fn floats(&mut self, values: impl ExactSizeIterator<Item = f32>) {
        self.count(values.len());
        self.values(values.map(f32::to_le_bytes));
    }

    fn indices(&mut self, values: impl ExactSizeIterator<Item = u32>) {
        self.count(values.len());
        self.values(values.map(u32::to_le_bytes));
    }

    fn values<const N: usize>(&mut self, mut values: impl Iterator<Item = [u8; N]>) {
        loop {
            let slots = self.bytes.chunks_exact_mut(N).zip(values.by_ref());
            let filled = slots.fold(0, |filled, (slot, value)| {
                slot.copy_from_slice(&value);
                filled + N
            });
            if filled == 0 {
                return;
            }
            self.hash.update(&self.bytes[..filled]);
        }
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
            self.hash.update(&map.bytes);
        }
    }

    fn bitmap(&mut self, bitmap: Option<&Bitmap<u16>>) {
        let Some(bitmap) = bitmap else { return self.count(0) };
        self.count(bitmap.components());
        self.count(bitmap.extent().width as usize);
        self.count(bitmap.extent().height as usize);
        self.values(bitmap.values().iter().map(|value| value.to_le_bytes()));
    }
}
