//! GLB files: glTF 2.0 in one piece. The order of everything follows the mesh and its materials, so the
//! same values give the same bytes.
//!
//! Rules. One node and mesh for each part, one primitive for each of its materials, one buffer view for
//! each attribute. Textures are PNG of 8 bits (base colour must be, and common readers make the others
//! so), without colour chunks, as glTF says what they mean. Vertex colours go out as `_COLOR`: glTF
//! multiplies `COLOR_0` into the base colour, which the painted map is already.

use std::io::{self, Write};

use document::{PassMap, PassMapKind};
use raster::Bitmap;
use serde_json::{Value, json};
use surface::{PartId, Surface};

use crate::glb_geometry::{Primitive, primitives};
use crate::png_write::{BitDepth, Tag, write_png};

const VERTICES: u32 = 34_962;
const INDICES: u32 = 34_963;
const FLOAT: u32 = 5126;

/// A GLB file being put together.
#[derive(Debug, Default)]
pub(crate) struct GlbWriter {
    binary: Vec<u8>,
    views: Vec<Value>,
    accessors: Vec<Value>,
    images: Vec<Value>,
    materials: Vec<Value>,
    has_normal_map: Vec<bool>,
}

impl GlbWriter {
    /// Adds the next material. Base colour has 3 components, the others 1, and all one extent.
    pub(crate) fn add_material(
        &mut self,
        name: &str,
        [base_colour, roughness, metalness]: [&Bitmap<u16>; 3],
        pass_maps: &[PassMap],
    ) -> io::Result<()> {
        let colour = self.add_png(base_colour)?;
        let surface = self.add_png(&side_by_side(roughness, metalness))?;
        let mut material = json!({
            "name": name,
            "pbrMetallicRoughness": {
                "baseColorTexture": { "index": colour },
                "metallicRoughnessTexture": { "index": surface },
            },
        });
        for map in pass_maps {
            let index = self.add_image(&map.media_type, &map.bytes);
            let [first, ..] = map.factor;
            match map.kind {
                PassMapKind::Normal => {
                    material["normalTexture"] = json!({ "index": index, "scale": first });
                }
                PassMapKind::Occlusion => {
                    let strength = first.clamp(0.0, 1.0);
                    material["occlusionTexture"] = json!({ "index": index, "strength": strength });
                }
                PassMapKind::Emission => {
                    material["emissiveTexture"] = json!({ "index": index });
                    material["emissiveFactor"] = json!(map.factor.map(|v| v.clamp(0.0, 1.0)));
                }
            }
        }
        self.has_normal_map.push(material.get("normalTexture").is_some());
        self.materials.push(material);
        Ok(())
    }

    /// Adds the geometry and writes all. Materials must have been added, one for each of the mesh's.
    pub(crate) fn write(mut self, to: &mut impl Write, surface: &Surface) -> io::Result<()> {
        let mesh = surface.mesh();
        let (mut meshes, mut nodes) = (Vec::new(), Vec::new());
        let mut by_part: Vec<Vec<Value>> = vec![Vec::new(); mesh.parts().len()];
        let has_normal_map = std::mem::take(&mut self.has_normal_map);
        for primitive in primitives(surface, &has_normal_map) {
            let PartId(part) = primitive.part;
            let value = self.add_primitive(&primitive);
            by_part[part as usize].push(value);
        }
        for (part, primitives) in mesh.parts().iter().zip(by_part) {
            if !primitives.is_empty() {
                nodes.push(json!({ "name": part.name, "mesh": meshes.len() }));
                meshes.push(json!({ "name": part.name, "primitives": primitives }));
            }
        }
        let textures: Vec<Value> =
            (0..self.images.len()).map(|image| json!({ "sampler": 0, "source": image })).collect();
        let document = json!({
            "asset": { "version": "2.0", "generator": "Scumble" },
            "scene": 0,
            "scenes": [{ "nodes": (0..nodes.len()).collect::<Vec<_>>() }],
            "nodes": nodes,
            "meshes": meshes,
            "materials": self.materials,
            "textures": textures,
            "images": self.images,
            // Linear with mips, repeated.
            "samplers": [{ "magFilter": 9729, "minFilter": 9987, "wrapS": 10497, "wrapT": 10497 }],
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{ "byteLength": self.binary.len() }],
        });
        write_chunks(to, &document, &self.binary)
    }

    fn add_png(&mut self, image: &Bitmap<u16>) -> io::Result<usize> {
        let mut bytes = Vec::new();
        write_png(&mut bytes, image, BitDepth::Eight, Tag::None)?;
        Ok(self.add_image("image/png", &bytes))
    }

    /// The number of the image, which is that of its texture too.
    fn add_image(&mut self, media_type: &str, bytes: &[u8]) -> usize {
        let view = self.add_view(bytes, None);
        self.images.push(json!({ "bufferView": view, "mimeType": media_type }));
        self.images.len() - 1
    }

    fn add_view(&mut self, bytes: &[u8], target: Option<u32>) -> usize {
        let mut view = json!({
            "buffer": 0,
            "byteOffset": self.binary.len(),
            "byteLength": bytes.len(),
        });
        if let Some(target) = target {
            view["target"] = json!(target);
        }
        self.binary.extend_from_slice(bytes);
        self.binary.resize(self.binary.len().next_multiple_of(4), 0);
        self.views.push(view);
        self.views.len() - 1
    }

    fn add_primitive(&mut self, primitive: &Primitive) -> Value {
        let positions = self.add_vectors(&primitive.positions);
        self.accessors[positions]["min"] = json!(extreme(&primitive.positions, f32::min));
        self.accessors[positions]["max"] = json!(extreme(&primitive.positions, f32::max));
        let mut attributes = json!({ "POSITION": positions });
        attributes["NORMAL"] = json!(self.add_vectors(&primitive.normals));
        attributes["TEXCOORD_0"] = json!(self.add_vectors(&primitive.uvs));
        if !primitive.tangents.is_empty() {
            attributes["TANGENT"] = json!(self.add_vectors(&primitive.tangents));
        }
        if !primitive.colours.is_empty() {
            attributes["_COLOR"] = json!(self.add_vectors(&primitive.colours));
        }
        let indices = self.add_indices(&primitive.indices, primitive.positions.len());
        json!({
            "attributes": attributes,
            "indices": indices,
            "material": primitive.material.0,
        })
    }

    fn add_vectors<const N: usize>(&mut self, vectors: &[[f32; N]]) -> usize {
        let bytes: Vec<u8> = vectors.iter().flatten().flat_map(|v| v.to_le_bytes()).collect();
        let view = self.add_view(&bytes, Some(VERTICES));
        self.add_accessor(view, FLOAT, vectors.len(), &format!("VEC{N}"))
    }

    /// 16 bits where they do; the highest number is not used, as it ends a strip.
    fn add_indices(&mut self, indices: &[u32], vertices: usize) -> usize {
        let (component, bytes): (u32, Vec<u8>) = if vertices <= 65_535 {
            (5123, indices.iter().flat_map(|&index| (index as u16).to_le_bytes()).collect())
        } else {
            (5125, indices.iter().flat_map(|index| index.to_le_bytes()).collect())
        };
        let view = self.add_view(&bytes, Some(INDICES));
        self.add_accessor(view, component, indices.len(), "SCALAR")
    }

    fn add_accessor(&mut self, view: usize, component: u32, count: usize, shape: &str) -> usize {
        self.accessors.push(json!({
            "bufferView": view,
            "componentType": component,
            "count": count,
            "type": shape,
        }));
        self.accessors.len() - 1
    }
}

/// One image with roughness green and metalness blue; red, which means nothing, is white.
fn side_by_side(roughness: &Bitmap<u16>, metalness: &Bitmap<u16>) -> Bitmap<u16> {
    let mut both = Bitmap::filled(roughness.extent(), 3, u16::MAX);
    let values = roughness.values().iter().zip(metalness.values());
    for (texel, (&rough, &metal)) in both.values_mut().chunks_exact_mut(3).zip(values) {
        (texel[1], texel[2]) = (rough, metal);
    }
    both
}

fn extreme(positions: &[[f32; 3]], choose: fn(f32, f32) -> f32) -> [f32; 3] {
    let first = positions.first().copied().unwrap_or_default();
    positions.iter().fold(first, |a, b| std::array::from_fn(|n| choose(a[n], b[n])))
}

/// glTF 2.0, section 4.4.
fn write_chunks(to: &mut impl Write, document: &Value, binary: &[u8]) -> io::Result<()> {
    let mut json = serde_json::to_vec(document)?;
    json.resize(json.len().next_multiple_of(4), b' ');
    let length = 12 + 8 + json.len() + 8 + binary.len();
    let field = |value: usize| {
        let too_large =
            |_| io::Error::other("a GLB file holds at most 4 GiB: use smaller textures");
        u32::try_from(value).map(u32::to_le_bytes).map_err(too_large)
    };
    to.write_all(b"glTF")?;
    to.write_all(&2u32.to_le_bytes())?;
    to.write_all(&field(length)?)?;
    for (kind, bytes) in [(b"JSON", json.as_slice()), (b"BIN\0", binary)] {
        to.write_all(&field(bytes.len())?)?;
        to.write_all(kind)?;
        to.write_all(bytes)?;
    }
    Ok(())
}
