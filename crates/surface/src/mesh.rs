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

    /// Bytes of memory that it takes.
    pub fn bytes(&self) -> usize {
        let data = &self.0;
        size_of_val(&*data.positions)
            + size_of_val(&*data.rest_positions)
            + size_of_val(&*data.normals)
            + size_of_val(&*data.uvs)
            + size_of_val(&*data.colours)
            + size_of_val(&*data.face_starts)
            + size_of_val(&*data.corners)
            + size_of_val(&*data.face_parts)
            + size_of_val(&*data.face_materials)
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::testing::cube;

    fn changed(change: impl FnOnce(&mut MeshData)) -> Result<Mesh, SurfaceError> {
        let mut data = cube().into_data();
        data.uvs = vec![Vec2::ZERO];
        data.normals = vec![Vec3::Y];
        change(&mut data);
        Mesh::new(data)
    }

    fn refusal(change: impl FnOnce(&mut MeshData)) -> String {
        changed(change).unwrap_err().to_string()
    }

    #[test]
    fn a_mesh_keeps_what_it_was_made_of() {
        let data = cube().into_data();
        let mesh = Mesh::new(data.clone()).unwrap();
        assert_eq!((mesh.face_count(), mesh.face(5)), (6, 20..24));
        assert_eq!(mesh.bounds(), (Vec3::ZERO, Vec3::ONE));
        assert_eq!(mesh.into_data(), data);
    }

    #[test]
    fn what_is_not_finite_is_refused_by_name_and_index() {
        assert_eq!(
            refusal(|data| data.positions[7].y = f32::NAN),
            "position 7 is not a finite number"
        );
        assert_eq!(refusal(|data| data.uvs[0].x = f32::INFINITY), "UV 0 is not a finite number");
        assert_eq!(refusal(|data| data.normals[0].z = f32::NAN), "normal 0 is not a finite number");
        assert_eq!(
            refusal(|data| data.parts[0].axis.z = f32::NAN),
            "part axis 0 is not a finite number"
        );
        assert_eq!(
            refusal(|data| {
                data.colours = vec![[0.0; 4]; data.positions.len()];
                data.colours[3][2] = f32::NEG_INFINITY;
            }),
            "vertex colour 3 is not a finite number"
        );
        assert_eq!(
            refusal(|data| {
                data.rest_positions.clone_from(&data.positions);
                data.rest_positions[1].x = f32::NAN;
            }),
            "rest position 1 is not a finite number"
        );
    }

    #[test]
    fn an_index_out_of_range_is_refused_with_its_face() {
        let face_1 = 4;
        assert_eq!(
            refusal(|data| data.corners[face_1].position = 24),
            "face 1 names position 24, but there are only 24"
        );
        assert_eq!(
            refusal(|data| data.corners[face_1].uv = 1),
            "face 1 names UV 1, but there are only 1"
        );
        assert_eq!(
            refusal(|data| data.corners[face_1].normal = 9),
            "face 1 names normal 9, but there are only 1"
        );
        assert_eq!(
            refusal(|data| data.face_parts[2] = PartId(1)),
            "face 2 names part 1, but there are only 1"
        );
        assert_eq!(
            refusal(|data| data.face_materials[0] = MaterialSlot(3)),
            "face 0 names material 3, but there are only 1"
        );
        assert!(changed(|data| data.corners[face_1].uv = NO_INDEX).is_ok());
    }

    #[test]
    fn lists_that_do_not_fit_each_other_are_refused() {
        assert_eq!(Mesh::new(MeshData::default()).unwrap_err(), SurfaceError::Empty);
        assert_eq!(refusal(|data| data.colours = vec![[1.0; 4]]), "vertex colours: 1 given for 24");
        assert_eq!(
            refusal(|data| data.rest_positions = vec![Vec3::ZERO]),
            "rest positions: 1 given for 24"
        );
        let without_last = |data: &mut MeshData| {
            data.face_materials.pop();
        };
        assert_eq!(refusal(without_last), "materials of faces: 5 given for 6");
        assert_eq!(refusal(|data| data.face_starts.push(24)), "starts of faces: 8 given for 7");
        let without_last = |data: &mut MeshData| {
            data.corners.pop();
        };
        assert_eq!(refusal(without_last), "corners: 23 given for 24");
    }

    #[test]
    fn faces_of_two_corners_and_starts_that_run_backwards_are_refused() {
        assert_eq!(refusal(|data| data.face_starts[1] = 2), "face 0 has 2 corners: it needs three");
        assert_eq!(refusal(|data| data.face_starts[2] = 0), "face 1 has 0 corners: it needs three");
        assert!(changed(|data| data.face_starts[2] = u32::MAX).is_err());
    }

    proptest! {
        /// Whatever the numbers are: refused, or a mesh whose surface can be derived.
        #[test]
        fn any_numbers_are_refused_or_prepared(
            positions in prop::collection::vec(prop::array::uniform3(any::<f32>()), 1..6),
            uvs in prop::collection::vec(prop::array::uniform2(any::<f32>()), 0..4),
            corners in prop::collection::vec((0..6u32, 0..5u32), 0..24),
            lengths in prop::collection::vec(0..6u32, 1..6),
        ) {
            let starts = lengths.iter().scan(0, |sum, length| {
                *sum += length;
                Some(*sum)
            });
            let corner = |&(position, uv): &(u32, u32)| Corner {
                position,
                uv: if uv == 4 { NO_INDEX } else { uv },
                normal: NO_INDEX,
            };
            let mesh = Mesh::new(MeshData {
                positions: positions.into_iter().map(Vec3::from).collect(),
                uvs: uvs.into_iter().map(Vec2::from).collect(),
                face_starts: [0].into_iter().chain(starts).collect(),
                corners: corners.iter().map(corner).collect(),
                face_parts: vec![PartId(0); lengths.len()],
                face_materials: vec![MaterialSlot(0); lengths.len()],
                parts: vec![Part { name: "bell".to_owned(), axis: Vec3::Y }],
                material_names: vec!["bronze".to_owned()],
                ..MeshData::default()
            });
            if let Ok(mesh) = mesh {
                derive_everything(mesh);
            }
        }

        #[test]
        fn any_finite_numbers_in_range_are_prepared(
            positions in prop::collection::vec(prop::array::uniform3(-1e30..1e30f32), 6),
            uvs in prop::collection::vec(prop::array::uniform2(-2.0..3.0f32), 4),
            corners in prop::collection::vec((0..6u32, 0..4u32), 20),
        ) {
            let corner =
                |&(position, uv): &(u32, u32)| Corner { position, uv, normal: NO_INDEX };
            let mesh = Mesh::new(MeshData {
                positions: positions.into_iter().map(Vec3::from).collect(),
                uvs: uvs.into_iter().map(Vec2::from).collect(),
                face_starts: vec![0, 3, 7, 12, 20],
                corners: corners.iter().map(corner).collect(),
                face_parts: vec![PartId(0); 4],
                face_materials: vec![MaterialSlot(0); 4],
                parts: vec![Part { name: "bell".to_owned(), axis: Vec3::Y }],
                material_names: vec!["bronze".to_owned()],
                ..MeshData::default()
            });
            derive_everything(mesh.unwrap());
        }
    }

    fn derive_everything(mesh: Mesh) {
        use raster::{TextureSize, Unobserved};
        let surface = crate::testing::prepared(mesh);
        let size = TextureSize::new(64).unwrap();
        let map = crate::TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved).unwrap();
        let mut tile = crate::DecodedTile::default();
        for at in map.tiles() {
            map.decode(&surface, at, &mut tile);
            assert!(tile.texels().all(|t| t.offset.is_finite() && t.normal.is_finite()));
        }
        crate::UvReport::of(&surface, size, &Unobserved).unwrap();
    }
}
