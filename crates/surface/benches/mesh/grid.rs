//! Meshes to measure on: a grid of quads, bent into a shape. Benches of other crates use it too.

use glam::{DVec2, DVec3, Vec3};
use surface::{Corner, MaterialSlot, MeshData, NO_INDEX, Part, PartId};

/// A grid of `quads` x `quads`, cut into `pieces` x `pieces` islands that fill so much of their square across
/// and down. `place` gives the point at 0..1 across and down; points that are equal are welded.
pub(crate) fn grid(
    quads: u32,
    pieces: u32,
    filled: f64,
    place: impl Fn(f64, f64) -> DVec3,
) -> MeshData {
    let mut data = MeshData { face_starts: vec![0], ..MeshData::default() };
    let step = 1.0 / f64::from(quads);
    for y in 0..quads {
        for x in 0..quads {
            let piece = DVec2::new(f64::from(x * pieces / quads), f64::from(y * pieces / quads));
            let middle = (piece + 0.5) / f64::from(pieces);
            for (i, j) in [(0, 0), (0, 1), (1, 1), (1, 0)] {
                let at = DVec2::new(f64::from(x + i), f64::from(y + j)) * step;
                data.positions.push(place(at.x, at.y).as_vec3());
                data.uvs.push((middle + (at - middle) * filled).as_vec2());
                let index = data.positions.len() as u32 - 1;
                data.corners.push(Corner { position: index, uv: index, normal: NO_INDEX });
            }
            data.face_starts.push(data.corners.len() as u32);
            data.face_parts.push(PartId(0));
            data.face_materials.push(MaterialSlot(0));
        }
    }
    data.parts.push(Part { name: "grid".to_owned(), axis: Vec3::Y });
    data.material_names.push("bronze".to_owned());
    data
}
