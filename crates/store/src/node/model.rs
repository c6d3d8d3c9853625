//! A model as it is stored: long lists as columns of bytes, cut into pieces.

use document::PassMapKind;
use raster::EncodedRgb;
use surface::Part;

use super::Node;
use crate::Hash;
use crate::hash::Kind;
use crate::written::{codes, record};

/// A list of numbers, little-endian.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Column {
    /// All its bytes.
    pub(crate) bytes: u64,
    pub(crate) pieces: Vec<Hash>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct MeshNode {
    pub(crate) positions: Column,
    pub(crate) rest_positions: Column,
    pub(crate) normals: Column,
    pub(crate) uvs: Column,
    pub(crate) colours: Column,
    pub(crate) face_starts: Column,
    pub(crate) corner_positions: Column,
    pub(crate) corner_uvs: Column,
    pub(crate) corner_normals: Column,
    pub(crate) face_parts: Column,
    pub(crate) face_materials: Column,
    pub(crate) parts: Vec<Part>,
    pub(crate) material_names: Vec<String>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ImageNode {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) components: u32,
    pub(crate) values: Column,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PassMapNode {
    pub(crate) kind: PassMapKind,
    pub(crate) media_type: String,
    pub(crate) factor: [f32; 3],
    pub(crate) bytes: Column,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ModelMaterialNode {
    pub(crate) base_colour: EncodedRgb,
    pub(crate) roughness: f32,
    pub(crate) metalness: f32,
    /// Base colour, roughness, metalness.
    pub(crate) images: [Option<Hash>; 3],
    pub(crate) pass_maps: Vec<Hash>,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ModelNode {
    pub(crate) mesh: Hash,
    pub(crate) materials: Vec<ModelMaterialNode>,
}

codes!(PassMapKind { Normal = 0, Emission = 1, Occlusion = 2 });
record!(Column { bytes, pieces });
record!(MeshNode {
    positions,
    rest_positions,
    normals,
    uvs,
    colours,
    face_starts,
    corner_positions,
    corner_uvs,
    corner_normals,
    face_parts,
    face_materials,
    parts,
    material_names,
});
record!(ImageNode { width, height, components, values });
record!(PassMapNode { kind, media_type, factor, bytes });
record!(ModelMaterialNode { base_colour, roughness, metalness, images, pass_maps });
record!(ModelNode { mesh, materials });

impl Column {
    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        self.pieces.iter().for_each(|piece| visit(Kind::Piece, *piece));
    }
}

impl Node for MeshNode {
    const KIND: Kind = Kind::Mesh;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        let columns = [
            &self.positions,
            &self.rest_positions,
            &self.normals,
            &self.uvs,
            &self.colours,
            &self.face_starts,
            &self.corner_positions,
            &self.corner_uvs,
            &self.corner_normals,
            &self.face_parts,
            &self.face_materials,
        ];
        for column in columns {
            column.references(visit);
        }
    }
}

impl Node for ImageNode {
    const KIND: Kind = Kind::Image;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        self.values.references(visit);
    }
}

impl Node for PassMapNode {
    const KIND: Kind = Kind::PassMap;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        self.bytes.references(visit);
    }
}

impl Node for ModelNode {
    const KIND: Kind = Kind::Model;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        visit(Kind::Mesh, self.mesh);
        for material in &self.materials {
            material.images.iter().flatten().for_each(|image| visit(Kind::Image, *image));
            material.pass_maps.iter().for_each(|map| visit(Kind::PassMap, *map));
        }
    }
}
