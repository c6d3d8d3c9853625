//! Pieces that hang together over shared edges, and which of them are closed.

use crate::adjacency::{HalfEdge, groups};
use crate::islands::{root, unite};
use crate::{Surface, TriangleId};

/// Which piece of the surface, by its lowest triangle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ComponentId(pub u32);

#[derive(Debug, Default)]
pub(crate) struct Components {
    of: Vec<u32>,
    /// By triangle, of use for the lowest of each component.
    open: Vec<bool>,
}

impl Components {
    /// From the welded vertices of all triangles and their sorted edges.
    pub(crate) fn new(vertices: &[[u32; 3]], edges: &[HalfEdge]) -> Self {
        let mut of: Vec<u32> = (0..vertices.len() as u32).collect();
        for group in groups(edges) {
            for half in &group[1..] {
                unite(&mut of, group[0].triangle.0, half.triangle.0);
            }
        }
        for id in 0..of.len() as u32 {
            of[id as usize] = root(&mut of, id);
        }
        let mut open = vec![false; vertices.len()];
        let runs_up = |half: &HalfEdge| {
            vertices[half.triangle.0 as usize][half.edge as usize] == half.vertices.0
        };
        for group in groups(edges) {
            let opposed = group.len() == 2 && runs_up(&group[0]) != runs_up(&group[1]);
            if !opposed {
                open[of[group[0].triangle.0 as usize] as usize] = true;
            }
        }
        Self { of, open }
    }

    pub(crate) fn is_closed(&self, triangle: TriangleId) -> bool {
        !self.open[self.of[triangle.0 as usize] as usize]
    }

    pub(crate) fn bytes(&self) -> usize {
        size_of_val(&*self.of) + size_of_val(&*self.open)
    }
}

impl Surface {
    /// The piece that a triangle belongs to: all that can be reached from it over shared edges.
    pub fn component_of(&self, triangle: TriangleId) -> ComponentId {
        ComponentId(self.components().of[triangle.0 as usize])
    }

    /// True where the piece that the triangle belongs to is closed and of one orientation: every edge
    /// is shared by two triangles that run along it in opposite directions.
    pub fn is_closed(&self, triangle: TriangleId) -> bool {
        self.components().is_closed(triangle)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{cube, cylinder, prepared, soup, sphere};

    #[test]
    fn a_cube_and_a_sphere_are_one_closed_piece_each_and_the_side_of_a_cylinder_is_open() {
        for (mesh, closed) in [(cube(), true), (sphere(24, 12), true), (cylinder(24, 3), false)] {
            let surface = prepared(mesh);
            let ids = (0..surface.triangle_count() as u32).map(TriangleId);
            let edged = |id: &TriangleId| (0..3).any(|k| !surface.neighbours(*id, k).is_empty());
            for id in ids.filter(edged) {
                assert_eq!(surface.component_of(id), surface.component_of(TriangleId(10)));
                assert_eq!(surface.is_closed(id), closed);
            }
        }
    }

    #[test]
    fn a_triangle_turned_over_or_a_third_one_at_an_edge_opens_a_piece() {
        let (a, b, c, d) = ([0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]);
        let faces = [([a, c, b], 0), ([a, b, d], 0), ([b, c, d], 0), ([c, a, d], 0)];
        assert!(prepared(soup(&faces)).is_closed(TriangleId(0)));
        let mut turned = faces;
        turned[0].0 = [a, b, c];
        assert!(!prepared(soup(&turned)).is_closed(TriangleId(2)));
        let mut third = faces.to_vec();
        third.push(([a, b, [0.0, -1.0, -1.0]], 0));
        assert!(!prepared(soup(&third)).is_closed(TriangleId(2)));
    }
}
