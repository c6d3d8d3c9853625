//! Which triangles share an edge, over welded vertices and so within one part.
//!
//! An edge may have one triangle (an open border), two, or any number. A triangle with two corners at
//! one vertex has no edges of its own: its neighbours share the edge that it collapsed onto. Linear in
//! the number of triangles, also where very many share one edge.

use rayon::prelude::*;

use crate::TriangleId;

/// The triangles across each edge of each triangle.
#[derive(Debug)]
pub(crate) struct Adjacency {
    /// For each edge of each triangle: where its neighbours begin in `listed`, and how many.
    slots: Vec<(u32, u32)>,
    /// For each edge its triangles in ascending order, then all but the last once more: so that those
    /// other than any one of them stand in a row.
    listed: Vec<TriangleId>,
}

/// One edge of one triangle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct HalfEdge {
    /// The edge's vertices, the lower one first.
    pub(crate) vertices: (u32, u32),
    /// The triangle.
    pub(crate) triangle: TriangleId,
    /// From corner `edge` to the next: 0 to 2.
    pub(crate) edge: u8,
}

/// The edges of all triangles, given by their welded vertices; those between the same two vertices side by side.
pub(crate) fn sorted_edges(vertices: &[[u32; 3]]) -> Vec<HalfEdge> {
    let mut edges = Vec::with_capacity(vertices.len() * 3);
    for (id, &[a, b, c]) in vertices.iter().enumerate() {
        if a == b || b == c || c == a {
            continue;
        }
        for (edge, (from, to)) in [(a, b), (b, c), (c, a)].into_iter().enumerate() {
            edges.push(HalfEdge {
                vertices: (from.min(to), from.max(to)),
                triangle: TriangleId(id as u32),
                edge: edge as u8,
            });
        }
    }
    edges.par_sort_unstable();
    edges
}

/// The groups of [`sorted_edges`]: all triangles at one edge.
pub(crate) fn groups(edges: &[HalfEdge]) -> impl Iterator<Item = &[HalfEdge]> {
    edges.chunk_by(|a, b| a.vertices == b.vertices)
}

impl Adjacency {
    /// From the edges of [`sorted_edges`].
    pub(crate) fn new(triangle_count: usize, edges: &[HalfEdge]) -> Self {
        let mut slots = vec![(0, 0); triangle_count * 3];
        let mut listed = Vec::with_capacity(edges.len() + edges.len() / 2);
        for group in groups(edges) {
            let first = listed.len();
            let others = group.len() - 1;
            listed.extend(group.iter().map(|half| half.triangle));
            listed.extend(group[..others].iter().map(|half| half.triangle));
            for (index, half) in group.iter().enumerate() {
                slots[half.triangle.0 as usize * 3 + half.edge as usize] =
                    ((first + index + 1) as u32, others as u32);
            }
        }
        Self { slots, listed }
    }

    /// The triangles across an edge, in ascending order from the triangle itself on and round.
    pub(crate) fn neighbours(&self, triangle: TriangleId, edge: usize) -> &[TriangleId] {
        let (first, count) = self.slots[triangle.0 as usize * 3 + edge];
        &self.listed[first as usize..(first + count) as usize]
    }

    /// Bytes of memory that this takes.
    pub(crate) fn bytes(&self) -> usize {
        size_of_val(&*self.slots) + size_of_val(&*self.listed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{prepared, soup};

    fn ids(list: &[TriangleId]) -> Vec<u32> {
        list.iter().map(|id| id.0).collect()
    }

    #[test]
    fn two_triangles_of_a_square_are_neighbours_over_their_diagonal_alone() {
        let square = soup(&[
            ([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0]], 0),
            ([[0.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.0]], 0),
        ]);
        let surface = prepared(square);
        let all = |t| (0..3).map(|e| ids(surface.neighbours(TriangleId(t), e))).collect::<Vec<_>>();
        assert_eq!(all(0), [vec![], vec![], vec![1]]);
        assert_eq!(all(1), [vec![0], vec![], vec![]]);
    }

    #[test]
    fn an_edge_of_four_triangles_lists_the_other_three() {
        let leaf = |x: f32, y: f32| ([[0.0, 0.0, 0.0], [0.0, 0.0, 1.0], [x, y, 0.5]], 0);
        let surface =
            prepared(soup(&[leaf(1.0, 0.0), leaf(0.0, 1.0), leaf(-1.0, 0.0), leaf(0.0, -1.0)]));
        assert_eq!(ids(surface.neighbours(TriangleId(0), 0)), [1, 2, 3]);
        assert_eq!(ids(surface.neighbours(TriangleId(2), 0)), [3, 0, 1]);
    }

    #[test]
    fn a_collapsed_triangle_does_not_part_its_neighbours() {
        let (a, b, c, d) = ([0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, -1.0, 0.0]);
        let surface = prepared(soup(&[([a, b, c], 0), ([a, b, b], 0), ([b, a, d], 0)]));
        assert_eq!(ids(surface.neighbours(TriangleId(0), 0)), [2]);
        assert!(surface.neighbours(TriangleId(1), 0).is_empty());
    }

    #[test]
    fn a_hundred_thousand_triangles_at_one_edge_take_no_more_than_linear_memory() {
        let fan: Vec<_> = (0..100_000)
            .map(|k| {
                let angle = k as f32 * 6e-5;
                ([[0.0, 0.0, 0.0], [0.0, 0.0, 1.0], [angle.cos(), angle.sin(), 0.5]], 0)
            })
            .collect();
        let surface = prepared(soup(&fan));
        assert_eq!(surface.neighbours(TriangleId(7), 0).len(), 99_999);
    }
}
