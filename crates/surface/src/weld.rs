//! Welding: which corners stand at one point of one part, whatever the file splits there.
//!
//! Positions within a millionth of the part's bounding diagonal are one vertex. Parts are never
//! welded to each other. Linear in the number of corners: vertices are found by a grid of cells that
//! are wider than the distance, so that mostly one cell has to be looked at.

use std::collections::hash_map::Entry;

use glam::{DVec3, I64Vec3, Vec3};
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
    let mut known: FxHashMap<(u32, u32), u32> = FxHashMap::default();
    let mut vertex_of = vec![0; mesh.corners().len()];
    for face in 0..mesh.face_count() {
        let part = mesh.face_part(face).0;
        for corner in mesh.face(face) {
            let position = mesh.corners()[corner].position;
            vertex_of[corner] = match known.entry((part, position)) {
                Entry::Occupied(vertex) => *vertex.get(),
                Entry::Vacant(slot) => {
                    let point = mesh.positions()[position as usize].as_dvec3();
                    *slot.insert(grid.vertex_at(part, point))
                }
            };
        }
    }
    let points = grid.vertices.iter().map(|vertex| vertex.point.as_vec3()).collect();
    Welded { vertex_of, points }
}

/// A vertex in its cell's chain.
struct Vertex {
    point: DVec3,
    next: u32,
}

const END: u32 = u32::MAX;

struct Grid {
    /// Low corner and weld distance of each part.
    parts: Vec<(DVec3, f64)>,
    /// First vertex of each cell.
    cells: FxHashMap<(u32, I64Vec3), u32>,
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
        Self { parts, cells: FxHashMap::default(), vertices: Vec::new() }
    }

    /// The vertex within the weld distance of `point`, made where there is none.
    fn vertex_at(&mut self, part: u32, point: DVec3) -> u32 {
        let (low, within) = self.parts[part as usize];
        let width = if within > 0.0 { within * CELL } else { 1.0 };
        let cell_of = |p: DVec3| ((p - low) / width).floor().as_i64vec3();
        let (from, to) = (cell_of(point - within), cell_of(point + within));
        for x in from.x..=to.x {
            for y in from.y..=to.y {
                for z in from.z..=to.z {
                    let cell = (part, I64Vec3::new(x, y, z));
                    if let Some(vertex) = self.find(cell, point, within) {
                        return vertex;
                    }
                }
            }
        }
        let vertex = self.vertices.len() as u32;
        let next = self.cells.insert((part, cell_of(point)), vertex).unwrap_or(END);
        self.vertices.push(Vertex { point, next });
        vertex
    }

    fn find(&self, cell: (u32, I64Vec3), point: DVec3, within: f64) -> Option<u32> {
        let mut vertex = self.cells.get(&cell).copied().unwrap_or(END);
        while vertex != END {
            let Vertex { point: other, next } = self.vertices[vertex as usize];
            if other.distance_squared(point) <= within * within {
                return Some(vertex);
            }
            vertex = next;
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
    fn a_part_of_one_point_is_one_vertex_also_far_away() {
        let point = [[1e30, -1e30, 5.0]; 3];
        assert_eq!(vertices(&[(point, 0), (point, 0)]).1, 1);
    }
}
