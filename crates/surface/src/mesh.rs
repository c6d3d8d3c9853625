//! A mesh as a value that keeps what came: polygons, split normals, vertex colours, names, order.
//!
//! Valid means finite and in range; it does not mean manifold, closed, connected or laid out.

use std::ops::Range;

use glam::{Vec2, Vec3};

use crate::SurfaceError;

/// A corner's index where it has no UV or no normal.
pub const NO_INDEX: u32 = u32::MAX;

/// Which part of the mesh: an index into [`Mesh::parts`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PartId(pub u32);

/// Which material of the mesh: an index into [`Mesh::material_names`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MaterialSlot(pub u32);

/// One corner of a face: indices into the mesh's lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Corner {
    /// Index of its position.
    pub position: u32,
    /// Index of its UV, or [`NO_INDEX`].
    pub uv: u32,
    /// Index of its normal, or [`NO_INDEX`].
    pub normal: u32,
}

/// One connected object of the model, as imported.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its name in the file.
    pub name: String,
    /// The direction that grain and brushing follow, in the part's rest pose; +Y unless told.
    pub axis: Vec3,
}

/// What a mesh is made of, not yet checked. Faces keep their order; parts and materials may interleave.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeshData {
    /// Where vertices are, in model units.
    pub positions: Vec<Vec3>,
    /// Where they were at rest, so that noise and grain do not swim in a posed version; empty when not posed.
    pub rest_positions: Vec<Vec3>,
    /// Normals that corners name; need not be of unit length.
    pub normals: Vec<Vec3>,
    /// UVs that corners name, v down.
    pub uvs: Vec<Vec2>,
    /// A colour (linear RGB and coverage, 0..1) for each position; empty where the file has none.
    pub colours: Vec<[f32; 4]>,
    /// Where each face's corners begin in `corners`; one more entry than faces, the last is their number.
    pub face_starts: Vec<u32>,
    /// The corners of all faces, counter-clockwise seen from the front.
    pub corners: Vec<Corner>,
    /// The part of each face.
    pub face_parts: Vec<PartId>,
    /// The material of each face.
    pub face_materials: Vec<MaterialSlot>,
    /// The parts, in file order.
    pub parts: Vec<Part>,
    /// The materials' names, in file order.
    pub material_names: Vec<String>,
}

/// A checked mesh. Immutable: share it by `Arc`.
#[derive(Debug, Clone, PartialEq)]
pub struct Mesh(MeshData);

impl Mesh {
    /// Checks the data.
    ///
    /// # Errors
    /// [`SurfaceError`] naming the first thing that is not finite, out of range, or of the wrong length.
    pub fn new(data: MeshData) -> Result<Self, SurfaceError> {
        check_counts(&data)?;
        check_finite(&data)?;
        for face in 0..data.face_parts.len() {
            check_face(&data, face)?;
        }
        Ok(Self(data))
    }

    /// The data, for reading.
    pub fn data(&self) -> &MeshData {
        &self.0
    }

    /// The data, for making another mesh of it.
    pub fn into_data(self) -> MeshData {
        self.0
    }

    /// Where vertices are, in model units.
    pub fn positions(&self) -> &[Vec3] {
        &self.0.positions
    }

    /// UVs that corners name.
    pub fn uvs(&self) -> &[Vec2] {
        &self.0.uvs
    }

    /// Normals that corners name.
    pub fn normals(&self) -> &[Vec3] {
        &self.0.normals
    }

    /// The parts, in file order.
    pub fn parts(&self) -> &[Part] {
        &self.0.parts
    }

    /// The materials' names, in file order.
    pub fn material_names(&self) -> &[String] {
        &self.0.material_names
    }

    /// The corners of all faces.
    pub fn corners(&self) -> &[Corner] {
        &self.0.corners
    }

    /// How many faces (polygons) there are.
    pub fn face_count(&self) -> usize {
        self.0.face_parts.len()
    }

    /// Which corners belong to a face.
    pub fn face(&self, face: usize) -> Range<usize> {
        self.0.face_starts[face] as usize..self.0.face_starts[face + 1] as usize
    }

    /// The part that a face belongs to.
    pub fn face_part(&self, face: usize) -> PartId {
        self.0.face_parts[face]
    }

    /// The material that a face belongs to.
    pub fn face_material(&self, face: usize) -> MaterialSlot {
        self.0.face_materials[face]
    }

    /// The smallest box that holds every position: lowest and highest corner.
    pub fn bounds(&self) -> (Vec3, Vec3) {
        self.0.positions.iter().fold(
            (Vec3::splat(f32::INFINITY), Vec3::splat(f32::NEG_INFINITY)),
            |(low, high), &position| (low.min(position), high.max(position)),
        )
    }
}

fn check_counts(data: &MeshData) -> Result<(), SurfaceError> {
    let faces = data.face_parts.len();
    if faces == 0 {
        return Err(SurfaceError::Empty);
    }
    let or_none = |length: usize| if length == 0 { 0 } else { data.positions.len() };
    for (what, got, needed) in [
        ("materials of faces", data.face_materials.len(), faces),
        ("starts of faces", data.face_starts.len(), faces + 1),
        ("vertex colours", data.colours.len(), or_none(data.colours.len())),
        ("rest positions", data.rest_positions.len(), or_none(data.rest_positions.len())),
        ("corners", data.corners.len(), data.face_starts.last().copied().unwrap_or(0) as usize),
    ] {
        if got != needed {
            return Err(SurfaceError::Count { what, got, needed });
        }
    }
    Ok(())
}

fn check_finite(data: &MeshData) -> Result<(), SurfaceError> {
    let refuse = |what, index: Option<usize>| {
        index.map_or(Ok(()), |index| Err(SurfaceError::NotFinite { what, index }))
    };
    refuse("position", data.positions.iter().position(|p| !p.is_finite()))?;
    refuse("rest position", data.rest_positions.iter().position(|p| !p.is_finite()))?;
    refuse("normal", data.normals.iter().position(|n| !n.is_finite()))?;
    refuse("UV", data.uvs.iter().position(|uv| !uv.is_finite()))?;
    let colour = data.colours.iter().position(|c| c.iter().any(|v| !v.is_finite()));
    refuse("vertex colour", colour)?;
    refuse("part axis", data.parts.iter().position(|part| !part.axis.is_finite()))
}

fn check_face(data: &MeshData, face: usize) -> Result<(), SurfaceError> {
    let (start, end) = (data.face_starts[face] as usize, data.face_starts[face + 1] as usize);
    if end < start + 3 {
        return Err(SurfaceError::TooFewCorners { face, corners: end.saturating_sub(start) });
    }
    let range = |what, index: u32, count: usize| {
        if (index as usize) < count {
            Ok(())
        } else {
            Err(SurfaceError::OutOfRange { face, what, index, count })
        }
    };
    for corner in data.corners.get(start..end).unwrap_or_default() {
        range("position", corner.position, data.positions.len())?;
        if corner.uv != NO_INDEX {
            range("UV", corner.uv, data.uvs.len())?;
        }
        if corner.normal != NO_INDEX {
            range("normal", corner.normal, data.normals.len())?;
        }
    }
    range("part", data.face_parts[face].0, data.parts.len())?;
    range("material", data.face_materials[face].0, data.material_names.len())
}
