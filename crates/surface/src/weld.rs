//! Welding: which corners stand at one point of one part, whatever the file splits there.
//!
//! Positions within a millionth of the part's bounding diagonal are one vertex. Parts are never
//! welded to each other. Linear in the number of corners: vertices are found by a grid of cells that
//! are wider than the distance, so that mostly one cell has to be looked at.

use glam::{DVec3, Vec3};
use rustc_hash::FxHashMap;

use crate::Mesh;

/// Distance within which two positions are one, as a share of the part's bounding diagonal.
const WITHIN: f64 = 1e-6;
/// Width of a cell in distances: wide enough to seldom look at neighbours, narrow enough to hold few.
const CELL: f64 = 8.0;

/// A vertex for each corner.
#[derive(Debug)]
pub(crate) struct Welded {
    /// The vertex of each corner, numbered in order of first use.
    pub(crate) vertex_of: Vec<u32>,
    /// Where each vertex is: the first of the positions that it was welded of.
    pub(crate) points: Vec<Vec3>,
}

/// Welds every part of the mesh.
pub(crate) fn weld(mesh: &Mesh) -> Welded {
    let mut grid = Grid::new(mesh);
    // Of each position: the part that used it first, and its vertex there. Parts seldom share one.
    let mut known = vec![(NONE, NONE); mesh.positions().len()];
    let mut shared: FxHashMap<(u32, u32), u32> = FxHashMap::default();
    let mut vertex_of = vec![0; mesh.corners().len()];
    for face in 0..mesh.face_count() {
        let part = mesh.face_part(face).0;
        for corner in mesh.face(face) {
            let position = mesh.corners()[corner].position;
            let point = mesh.positions()[position as usize];
            let first = &mut known[position as usize];
            if first.1 == NONE {
                *first = (part, grid.vertex_at(part, point));
            }
            vertex_of[corner] = if first.0 == part {
                first.1
            } else {
                *shared.entry((part, position)).or_insert_with(|| grid.vertex_at(part, point))
            };
        }
    }
    Welded { vertex_of, points: grid.vertices.iter().map(|vertex| vertex.point).collect() }
}

const NONE: u32 = u32::MAX;

/// A cell of one part's grid. A part is 1 / (`WITHIN` x `CELL`) = 125,000 cells wide at most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Cell {
    part: u32,
    at: [i32; 3],
}

impl Cell {
    /// A well mixed number of so many bits (Fibonacci hashing: Knuth, The Art of Computer Programming,
    /// volume 3, 6.4; the second and third multiplier are ours).
    fn mixed(self, bits: u32) -> usize {
        let [x, y, z] = self.at.map(|at| at as u64);
        let flat = x ^ (y << 20) ^ (z << 40) ^ (u64::from(self.part) << 52);
        let once = flat.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        ((once ^ (once >> 32)).wrapping_mul(0x9e37_79b9_7f4a_7c15) >> (64 - bits)) as usize
    }
}

/// A vertex in the chain of all whose cells are mixed to the same number.
struct Vertex {
    point: Vec3,
    cell: Cell,
    next: u32,
}

struct Grid {
    /// Low corner and weld distance of each part.
    parts: Vec<(DVec3, f64)>,
    /// The last vertex of each number that cells are mixed to.
    heads: Vec<u32>,
    bits: u32,
    vertices: Vec<Vertex>,
}

impl Grid {
    fn new(mesh: &Mesh) -> Self {
        let none = (DVec3::splat(f64::INFINITY), DVec3::splat(f64::NEG_INFINITY));
        let mut boxes = vec![none; mesh.parts().len()];
        for face in 0..mesh.face_count() {
            let (low, high) = &mut boxes[mesh.face_part(face).0 as usize];
            for corner in &mesh.corners()[mesh.face(face)] {
                let point = mesh.positions()[corner.position as usize].as_dvec3();
                (*low, *high) = (low.min(point), high.max(point));
            }
        }
        let parts =
            boxes.iter().map(|&(low, high)| (low, (high - low).length() * WITHIN)).collect();
        let bits = mesh.positions().len().ilog2().clamp(4, 30);
        Self { parts, heads: vec![NONE; 1 << bits], bits, vertices: Vec::new() }
    }

    /// The vertex within the weld distance of `point`, made where there is none.
    fn vertex_at(&mut self, part: u32, point: Vec3) -> u32 {
        let (low, within) = self.parts[part as usize];
        let width = if within > 0.0 { within * CELL } else { 1.0 };
        let precise = point.as_dvec3();
        let cell_of = |p: DVec3| ((p - low) / width).floor().as_ivec3();
        let (from, to) = (cell_of(precise - within), cell_of(precise + within));
        for x in from.x..=to.x {
            for y in from.y..=to.y {
                for z in from.z..=to.z {
                    let cell = Cell { part, at: [x, y, z] };
                    if let Some(vertex) = self.find(cell, precise, within) {
                        return vertex;
                    }
                }
            }
        }
        let vertex = self.vertices.len() as u32;
        let cell = Cell { part, at: cell_of(precise).to_array() };
        let next = std::mem::replace(&mut self.heads[cell.mixed(self.bits)], vertex);
        self.vertices.push(Vertex { point, cell, next });
        vertex
    }

    fn find(&self, cell: Cell, point: DVec3, within: f64) -> Option<u32> {
        let mut index = self.heads[cell.mixed(self.bits)];
        while index != NONE {
            let vertex = &self.vertices[index as usize];
            if vertex.cell == cell
                && vertex.point.as_dvec3().distance_squared(point) <= within * within
            {
                return Some(index);
            }
            index = vertex.next;
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::soup;

    fn vertices(triangles: &[([[f32; 3]; 3], u32)]) -> (Vec<u32>, usize) {
        let welded = weld(&soup(triangles));
        (welded.vertex_of, welded.points.len())
    }

    #[test]
    fn positions_within_a_millionth_of_the_diagonal_are_one_vertex_and_others_are_not() {
        let first = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];
        let near = [[-0.0, 1e-6, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 1e-5]];
        let (vertex_of, count) = vertices(&[(first, 0), (near, 0)]);
        assert_eq!(vertex_of, [0, 1, 2, 0, 1, 3]);
        assert_eq!(count, 4);
    }

    #[test]
    fn positions_on_both_sides_of_a_cell_border_are_found() {
        // 6e-7 either side of many multiples of the cell width: some pairs straddle a border.
        let width = (3f64).sqrt() * 1e-6 * CELL;
        let box_of = [[0.0, 0.0, 0.0], [1.0, 1.0, 1.0], [1.0, 0.0, 0.0]];
        let mut triangles = vec![(box_of, 0)];
        for k in 1..40 {
            let at = (f64::from(k) * 1000.0 * width) as f32;
            let around = [[at - 6e-7, 0.5, 0.5], [at + 6e-7, 0.5, 0.5], [at, 0.5 + 6e-7, 0.5]];
            triangles.push((around, 0));
        }
        let (vertex_of, count) = vertices(&triangles);
        assert_eq!(count, 3 + 39);
        assert!(vertex_of[3..].chunks(3).all(|t| t[0] == t[1] && t[1] == t[2]));
    }

    #[test]
    fn parts_are_not_welded_to_each_other() {
        let triangle = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];
        assert_eq!(vertices(&[(triangle, 0), (triangle, 1)]).1, 6);
    }

    #[test]
    fn a_position_that_two_parts_share_is_a_vertex_of_each() {
        let triangle = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];
        let mut data = soup(&[(triangle, 0), (triangle, 1), (triangle, 1)]).into_data();
        for (corner, position) in data.corners.iter_mut().zip([0, 1, 2].repeat(3)) {
            corner.position = position;
        }
        let welded = weld(&Mesh::new(data).unwrap());
        assert_eq!(welded.vertex_of, [0, 1, 2, 3, 4, 5, 3, 4, 5]);
        assert_eq!(welded.points.len(), 6);
    }

    #[test]
    fn a_part_of_one_point_is_one_vertex_also_far_away() {
        let point = [[1e30, -1e30, 5.0]; 3];
        assert_eq!(vertices(&[(point, 0), (point, 0)]).1, 1);
    }
}
