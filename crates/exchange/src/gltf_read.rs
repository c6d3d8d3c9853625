//! glTF 2.0 and GLB files as models.
//!
//! Rules. Each node that shows a mesh is one part, with the node's transform baked in; a mirroring one
//! turns the faces round. Vertices that glTF had to split because of normals or UVs are joined again
//! where position and vertex colour are the same to the bit, within a part. Only the first UV set is
//! kept. Skins, morphs and animations are not: the model is taken in its rest pose. Vertex colours are
//! kept but not multiplied into the base colour; the writer's own `_COLOR` means the same.

use std::sync::Arc;

use document::Model;
use glam::{DMat3, DMat4, Vec2, Vec3};
use gltf::json::mesh::{Mode, Primitive, Semantic};
use gltf::json::validation::Checked;
use gltf::json::{Index, Root, accessor};
use raster::Observer;
use rustc_hash::FxHashMap;
use surface::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId};

use crate::error::ExchangeError;
use crate::folder::Beside;
use crate::gltf_accessor::Buffers;
use crate::gltf_material::read_materials;
use crate::gltf_nodes::{Placed, placed_meshes};
use crate::gltf_open::{load_buffers, open};
use crate::import::Imported;
use crate::notes::Notes;
use crate::obj_scan::MOST_CORNERS;

const REMEDY: &str = "export the model again";

/// Reads a glTF or GLB file that is in memory, and what lies beside it.
pub(crate) fn read_gltf(
    file: &str,
    bytes: &[u8],
    beside: &dyn Beside,
    observer: &dyn Observer,
) -> Result<Imported, ExchangeError> {
    let mut notes = Notes::default();
    let (root, blob) = open(file, bytes, &mut notes)?;
    observer.check()?;
    let buffers = Buffers { file, root: &root, bytes: load_buffers(file, &root, blob, beside)? };
    tell(&root, &mut notes);
    let placed = placed_meshes(file, &root, &mut notes)?;
    let mut reading = Reading {
        buffers: &buffers,
        data: MeshData { face_starts: vec![0], ..MeshData::default() },
        materials: Vec::new(),
        slots: FxHashMap::default(),
        notes: &mut notes,
    };
    for (done, node) in placed.iter().enumerate() {
        observer.progress(done as u64, placed.len() as u64);
        reading.node(node, observer)?;
    }
    let Reading { mut data, materials: used, .. } = reading;
    let used = in_file_order(used, &mut data.face_materials);
    if data.face_parts.is_empty() {
        return Err(ExchangeError::file(file, "no node shows a triangle; export the model again"));
    }
    let materials = read_materials(&buffers, &used, beside, &mut notes, observer)?;
    data.material_names = materials.iter().map(|material| material.0.clone()).collect();
    let mesh = Mesh::new(data).map_err(|error| ExchangeError::file(file, error.to_string()))?;
    let materials = materials.into_iter().map(|material| material.1).collect();
    Ok(Imported { model: Model::new(Arc::new(mesh), materials), notes: notes.into_lines() })
}

fn tell(root: &Root, notes: &mut Notes) {
    let primitives = || root.meshes.iter().flat_map(|mesh| &mesh.primitives);
    let has = |wanted: fn(&Semantic) -> bool| {
        let names = primitives().flat_map(|primitive| primitive.attributes.keys());
        names
            .filter_map(|name| if let Checked::Valid(name) = name { Some(name) } else { None })
            .any(wanted)
    };
    for (found, note) in [
        (!root.skins.is_empty(), "skins were not kept: the model is in its rest pose"),
        (!root.animations.is_empty(), "animations were not kept: the model is in its rest pose"),
        (primitives().any(|p| p.targets.is_some()), "morph targets were not kept"),
        (
            has(|name| matches!(name, Semantic::TexCoords(set) if *set > 0)),
            "only the first UV set was kept",
        ),
        (
            has(|name| matches!(name, Semantic::Colors(_))),
            "vertex colours were kept but are not multiplied into the base colour",
        ),
    ] {
        if found {
            notes.add(note);
        }
    }
}

/// Materials in the order of the file, that of faces without one last; slots are renumbered.
fn in_file_order(used: Vec<Option<usize>>, slots: &mut [MaterialSlot]) -> Vec<Option<usize>> {
    let mut sorted = used.clone();
    let number = |material: &Option<usize>| material.unwrap_or(usize::MAX);
    sorted.sort_unstable_by_key(number);
    let place = |material: Option<usize>| {
        sorted.binary_search_by_key(&number(&material), number).unwrap_or(0) as u32
    };
    let renumbered: Vec<u32> = used.into_iter().map(place).collect();
    for slot in slots {
        slot.0 = renumbered[slot.0 as usize];
    }
    sorted
}

struct Reading<'a> {
    buffers: &'a Buffers<'a>,
    data: MeshData,
    /// The glTF material of each slot, by first use.
    materials: Vec<Option<usize>>,
    slots: FxHashMap<Option<usize>, u32>,
    notes: &'a mut Notes,
}

/// What was joined so far within a part.
#[derive(Default)]
struct Joined {
    positions: FxHashMap<([u32; 3], [u32; 4]), u32>,
    uvs: FxHashMap<(u32, [u32; 2]), u32>,
    normals: FxHashMap<[u32; 3], u32>,
}

/// How a node's transform acts.
struct Baked {
    /// Of positions; `None` leaves them as they are.
    matrix: Option<(DMat4, DMat3)>,
    turned: bool,
}

impl Baked {
    fn new(transform: DMat4) -> Self {
        if transform == DMat4::IDENTITY {
            return Self { matrix: None, turned: false };
        }
        let m = DMat3::from_mat4(transform);
        let turned = m.determinant() < 0.0;
        let sign = if turned { -1.0 } else { 1.0 };
        // The inverse transpose but for a factor: right also where a scale is 0.
        let normal = DMat3::from_cols(
            m.y_axis.cross(m.z_axis) * sign,
            m.z_axis.cross(m.x_axis) * sign,
            m.x_axis.cross(m.y_axis) * sign,
        );
        Self { matrix: Some((transform, normal)), turned }
    }

    fn position(&self, p: Vec3) -> Vec3 {
        self.matrix.map_or(p, |(matrix, _)| matrix.transform_point3(p.as_dvec3()).as_vec3())
    }

    fn normal(&self, n: Vec3) -> Vec3 {
        self.matrix.map_or(n, |(_, normal)| (normal * n.as_dvec3()).normalize_or_zero().as_vec3())
    }
}

struct Vertices {
    positions: Vec<[f32; 3]>,
    normals: Option<Vec<[f32; 3]>>,
    uvs: Option<Vec<[f32; 2]>>,
    colours: Option<Vec<[f32; 4]>>,
}

impl Reading<'_> {
    fn node(&mut self, placed: &Placed, observer: &dyn Observer) -> Result<(), ExchangeError> {
        let root = self.buffers.root;
        let node = &root.nodes[placed.node];
        let Some(index) = node.mesh else { return Ok(()) };
        let Some(mesh) = root.get(index) else {
            let problem = format!("there is no mesh {index}; {REMEDY}");
            let place = format!("node {}", placed.node);
            return Err(ExchangeError::place(self.buffers.file, place, problem));
        };
        let part = PartId(self.data.parts.len() as u32);
        let faces_before = self.data.face_parts.len();
        let positions_before = self.data.positions.len();
        let baked = Baked::new(placed.transform);
        let mut joined = Joined::default();
        for (number, primitive) in mesh.primitives.iter().enumerate() {
            observer.check()?;
            let place = format!("mesh {index} primitive {number}");
            self.primitive(&place, primitive, part, &baked, &mut joined)?;
        }
        if !self.data.positions[positions_before..].iter().all(|p| p.is_finite()) {
            let place = format!("node {}", placed.node);
            let problem = format!("its transform puts positions beyond all numbers; {REMEDY}");
            return Err(ExchangeError::place(self.buffers.file, place, problem));
        }
        if self.data.face_parts.len() > faces_before {
            let name = node.name.clone().or_else(|| mesh.name.clone());
            let name = name.filter(|name| !name.is_empty());
            let name = name.unwrap_or_else(|| format!("part {}", part.0 + 1));
            self.data.parts.push(Part { name, axis: Vec3::Y });
        }
        Ok(())
    }

    fn primitive(
        &mut self,
        place: &str,
        primitive: &Primitive,
        part: PartId,
        baked: &Baked,
        joined: &mut Joined,
    ) -> Result<(), ExchangeError> {
        let file = self.buffers.file;
        let Checked::Valid(mode) = primitive.mode else {
            let problem = format!("its mode is unknown; {REMEDY}");
            return Err(ExchangeError::place(file, place, problem));
        };
        if !matches!(mode, Mode::Triangles | Mode::TriangleStrip | Mode::TriangleFan) {
            self.notes.add("points and lines were left out: only triangles are kept");
            return Ok(());
        }
        let vertices = self.vertices(place, primitive)?;
        let count = vertices.positions.len() as u32;
        let indices = match primitive.indices {
            Some(accessor) => self.buffers.indices(accessor)?,
            None => (0..count).collect(),
        };
        if let Some(at) = indices.iter().position(|&index| index >= count) {
            let problem = format!(
                "index {at} names vertex {}, but there are only {count}; {REMEDY}",
                indices[at]
            );
            return Err(ExchangeError::place(file, place, problem));
        }
        if (self.data.corners.len() + 3 * indices.len()) as u64 > MOST_CORNERS {
            let problem = "the model is too large; reduce it or export it in parts";
            return Err(ExchangeError::place(file, place, problem));
        }
        let slot = self.slot(primitive.material.map(|material| material.value()));
        let corners = self.join(&vertices, &indices, baked, joined);
        for triangle in triangles(mode, &corners) {
            let [a, b, c] = triangle;
            self.data.corners.extend(if baked.turned { [a, c, b] } else { [a, b, c] });
            self.data.face_starts.push(self.data.corners.len() as u32);
            self.data.face_parts.push(part);
            self.data.face_materials.push(slot);
        }
        Ok(())
    }

    fn vertices(&self, place: &str, primitive: &Primitive) -> Result<Vertices, ExchangeError> {
        let file = self.buffers.file;
        let attribute = |name: Semantic| primitive.attributes.get(&Checked::Valid(name)).copied();
        let Some(positions) = attribute(Semantic::Positions) else {
            let problem = format!("it has no POSITION; {REMEDY}");
            return Err(ExchangeError::place(file, place, problem));
        };
        let positions = self.buffers.vectors::<3>(positions)?;
        let normals = attribute(Semantic::Normals).map(|index| self.buffers.vectors::<3>(index));
        let uvs = attribute(Semantic::TexCoords(0)).map(|index| self.buffers.vectors::<2>(index));
        let colours = attribute(Semantic::Colors(0))
            .or_else(|| attribute(Semantic::Extras("COLOR".to_owned())))
            .map(|index| self.colours(index));
        let vertices = Vertices {
            normals: normals.transpose()?,
            uvs: uvs.transpose()?,
            colours: colours.transpose()?,
            positions,
        };
        let count = vertices.positions.len();
        for (name, length) in [
            ("NORMAL", vertices.normals.as_ref().map(Vec::len)),
            ("TEXCOORD_0", vertices.uvs.as_ref().map(Vec::len)),
            ("COLOR_0", vertices.colours.as_ref().map(Vec::len)),
        ] {
            if let Some(length) = length.filter(|&length| length != count) {
                let problem = format!("{length} {name} for {count} POSITION; {REMEDY}");
                return Err(ExchangeError::place(file, place, problem));
            }
        }
        Ok(vertices)
    }

    fn colours(&self, index: Index<accessor::Accessor>) -> Result<Vec<[f32; 4]>, ExchangeError> {
        if self.buffers.components(index)? == 3 {
            let colours = self.buffers.vectors::<3>(index)?;
            return Ok(colours.into_iter().map(|[r, g, b]| [r, g, b, 1.0]).collect());
        }
        self.buffers.vectors::<4>(index)
    }

    fn slot(&mut self, material: Option<usize>) -> MaterialSlot {
        let next = self.materials.len() as u32;
        let slot = *self.slots.entry(material).or_insert(next);
        if slot == next {
            self.materials.push(material);
        }
        MaterialSlot(slot)
    }

    /// The corner of each index, with what is the same to the bit joined.
    fn join(
        &mut self,
        vertices: &Vertices,
        indices: &[u32],
        baked: &Baked,
        joined: &mut Joined,
    ) -> Vec<Corner> {
        let mut corners = vec![None; vertices.positions.len()];
        let corner = |&index: &u32| {
            let vertex = index as usize;
            *corners[vertex].get_or_insert_with(|| self.corner(vertices, vertex, baked, joined))
        };
        indices.iter().map(corner).collect()
    }

    fn corner(
        &mut self,
        vertices: &Vertices,
        vertex: usize,
        baked: &Baked,
        joined: &mut Joined,
    ) -> Corner {
        let data = &mut self.data;
        let place = vertices.positions[vertex];
        let colour = vertices.colours.as_ref().map(|colours| colours[vertex]);
        let key = (place.map(bits), colour.unwrap_or([1.0; 4]).map(bits));
        let position = *joined.positions.entry(key).or_insert_with(|| {
            data.positions.push(baked.position(Vec3::from(place)));
            if colour.is_some() || !data.colours.is_empty() {
                // Colours are for all positions or for none.
                data.colours.resize(data.positions.len() - 1, [1.0; 4]);
                data.colours.push(colour.unwrap_or([1.0; 4]));
            }
            data.positions.len() as u32 - 1
        });
        let uv = vertices.uvs.as_ref().map_or(NO_INDEX, |uvs| {
            let key = (position, uvs[vertex].map(bits));
            *joined.uvs.entry(key).or_insert_with(|| {
                data.uvs.push(Vec2::from(uvs[vertex]));
                data.uvs.len() as u32 - 1
            })
        });
        let normal = vertices.normals.as_ref().map_or(NO_INDEX, |normals| {
            *joined.normals.entry(normals[vertex].map(bits)).or_insert_with(|| {
                data.normals.push(baked.normal(Vec3::from(normals[vertex])));
                data.normals.len() as u32 - 1
            })
        });
        Corner { position, uv, normal }
    }
}

/// The bits of a number, those of 0 and -0 being the same.
fn bits(value: f32) -> u32 {
    (value + 0.0).to_bits()
}

/// glTF 2.0, section 3.7.2.1. Triangles of no area that only lead a strip on are dropped.
fn triangles(mode: Mode, corners: &[Corner]) -> Vec<[Corner; 3]> {
    let proper = |[a, b, c]: &[Corner; 3]| {
        a.position != b.position && b.position != c.position && a.position != c.position
    };
    match mode {
        Mode::TriangleStrip => corners
            .windows(3)
            .enumerate()
            .map(|(n, w)| if n % 2 == 0 { [w[0], w[1], w[2]] } else { [w[0], w[2], w[1]] })
            .filter(proper)
            .collect(),
        Mode::TriangleFan => match corners.split_first() {
            Some((&first, rest)) => rest.windows(2).map(|w| [w[0], w[1], first]).collect(),
            None => Vec::new(),
        },
        _ => corners.as_chunks::<3>().0.to_vec(),
    }
}
