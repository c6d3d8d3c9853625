//! A surface as the vertices and triangles of glTF: a vertex for each difference in position, UV,
//! normal or tangent. Triangles are the surface's own, so they lie as they did when they were painted.
//!
//! Normals that are missing or have no length are those that the model was shown with while it was painted
//! ([`Surface::corner_normals`]): without any, glTF shades flat. Missing UVs are (0, 0).

use std::collections::BTreeMap;

use glam::{Vec2, Vec3};
use rustc_hash::FxHashMap;
use surface::{MaterialSlot, NO_INDEX, PartId, Surface, TriangleId};

use crate::tangents::{TangentCorner, tangents};

/// The triangles of one part that are of one material.
pub(crate) struct Primitive {
    pub(crate) part: PartId,
    pub(crate) material: MaterialSlot,
    pub(crate) positions: Vec<[f32; 3]>,
    /// One for each position; of unit length.
    pub(crate) normals: Vec<[f32; 3]>,
    pub(crate) uvs: Vec<[f32; 2]>,
    /// Empty, or one for each position.
    pub(crate) tangents: Vec<[f32; 4]>,
    /// Empty, or one for each position.
    pub(crate) colours: Vec<[f32; 4]>,
    pub(crate) indices: Vec<u32>,
}

/// All primitives, by part and then by material.
pub(crate) fn primitives(
    surface: &Surface,
    has_normal_map: &[bool],
) -> impl Iterator<Item = Primitive> {
    let normals = surface.corner_normals();
    let mut triangles: BTreeMap<(PartId, MaterialSlot), Vec<TriangleId>> = BTreeMap::new();
    for index in 0..surface.triangle_count() {
        let triangle = TriangleId(index as u32);
        let key = (surface.part_of(triangle), surface.material_of(triangle));
        triangles.entry(key).or_default().push(triangle);
    }
    triangles.into_iter().map(move |((part, material), triangles)| {
        let with_tangents = has_normal_map.get(material.0 as usize) == Some(&true);
        Building { surface, normals: &normals, with_tangents }.primitive(part, material, &triangles)
    })
}

struct Building<'a> {
    surface: &'a Surface,
    /// By corner of the mesh.
    normals: &'a [Vec3],
    with_tangents: bool,
}

/// A corner as a vertex: what differs makes another one.
#[derive(PartialEq, Eq, Hash)]
struct Vertex {
    position: u32,
    uv: [u32; 2],
    normal: [u32; 3],
    tangent: [u32; 4],
}

impl Building<'_> {
    fn primitive(
        &self,
        part: PartId,
        material: MaterialSlot,
        triangles: &[TriangleId],
    ) -> Primitive {
        let data = self.surface.mesh().data();
        let (ids, corners) = self.corners(triangles);
        let tangents = if self.with_tangents { tangents(&corners) } else { Vec::new() };
        let mut primitive = Primitive {
            part,
            material,
            positions: Vec::new(),
            normals: Vec::new(),
            uvs: Vec::new(),
            tangents: Vec::new(),
            colours: Vec::new(),
            indices: Vec::with_capacity(corners.len()),
        };
        let mut known: FxHashMap<Vertex, u32> = FxHashMap::default();
        for (at, (corner, &id)) in corners.iter().zip(&ids).enumerate() {
            let position = data.corners[id as usize].position;
            let tangent = tangents.get(at).copied();
            let vertex = Vertex {
                position,
                uv: corner.uv.to_array().map(f32::to_bits),
                normal: corner.normal.to_array().map(f32::to_bits),
                tangent: tangent.unwrap_or_default().map(f32::to_bits),
            };
            let index = *known.entry(vertex).or_insert_with(|| {
                primitive.positions.push(corner.position.to_array());
                primitive.uvs.push(corner.uv.to_array());
                primitive.normals.push(corner.normal.to_array());
                primitive.tangents.extend(tangent);
                primitive.colours.extend(data.colours.get(position as usize));
                primitive.positions.len() as u32 - 1
            });
            primitive.indices.push(index);
        }
        primitive
    }

    /// Which corner of the mesh each corner of each triangle is, and its values.
    fn corners(&self, triangles: &[TriangleId]) -> (Vec<u32>, Vec<TangentCorner>) {
        let data = self.surface.mesh().data();
        let corner = |id: u32| {
            let corner = data.corners[id as usize];
            let uv = if corner.uv == NO_INDEX { Vec2::ZERO } else { data.uvs[corner.uv as usize] };
            let position = data.positions[corner.position as usize];
            TangentCorner { position, normal: self.normals[id as usize], uv }
        };
        let of_triangle = |&triangle: &TriangleId| {
            self.surface.triangle(triangle).corners.map(|id| (id, corner(id)))
        };
        triangles.iter().flat_map(of_triangle).unzip()
    }
}
