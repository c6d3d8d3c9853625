//! UV islands: triangles that hang together both on the surface and in the layout.
//!
//! Two triangles of one material belong to one island where they share a welded edge and have the same
//! UVs at both of its ends. Islands are numbered by their lowest triangle.

use glam::DVec2;

use crate::adjacency::{HalfEdge, groups};
use crate::{MaterialSlot, PartId, Surface, TriangleId};

/// Which island, counted from 0 by lowest triangle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct IslandId(pub u32);

/// One island.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Island {
    /// How many triangles it has.
    pub triangles: u32,
    /// Its lowest triangle.
    pub first: TriangleId,
    /// The part that it lies on.
    pub part: PartId,
    /// The material whose textures it shows.
    pub material: MaterialSlot,
    /// Lowest U and lowest V.
    pub low: DVec2,
    /// Highest U and highest V.
    pub high: DVec2,
    /// Area in the layout, 1 for the whole square: positive where the texture shows the surface from
    /// its front, negative where it shows it mirrored.
    pub uv_area: f64,
    /// Area on the surface, in model units squared.
    pub surface_area: f64,
}

impl Island {
    /// True when the texture shows the island mirrored.
    pub fn is_mirrored(&self) -> bool {
        self.uv_area < 0.0
    }
}

/// All islands of a surface.
#[derive(Debug, Default)]
pub struct Islands {
    of_triangle: Vec<u32>,
    list: Vec<Island>,
    /// A bit for each edge of each triangle: 1 where the layout goes on across it.
    joined: Vec<u8>,
}

const NONE: u32 = u32::MAX;

impl Islands {
    /// From the edges of [`crate::adjacency::sorted_edges`].
    pub(crate) fn new(surface: &Surface, edges: &[HalfEdge]) -> Self {
        let count = surface.triangle_count();
        let mut joined = vec![0; count];
        let mut parents: Vec<u32> = (0..count as u32).collect();
        let mut keyed = Vec::new();
        for group in groups(edges) {
            keyed.clear();
            keyed.extend(group.iter().filter_map(|half| Some((layout_key(surface, half)?, *half))));
            keyed.sort_unstable();
            for same in keyed.chunk_by(|a, b| a.0 == b.0).filter(|same| same.len() > 1) {
                let has = |sign| same.iter().any(|(_, half)| side(surface, half) == sign);
                let both_sides = has(1) && has(-1);
                for (_, half) in same {
                    if both_sides && side(surface, half) != 0 {
                        joined[half.triangle.0 as usize] |= 1 << half.edge;
                    }
                    unite(&mut parents, same[0].1.triangle.0, half.triangle.0);
                }
            }
        }
        let mut islands = Self { of_triangle: vec![NONE; count], list: Vec::new(), joined };
        for id in 0..count as u32 {
            islands.add(surface, TriangleId(id), root(&mut parents, id));
        }
        islands
    }

    /// `root` is the lowest triangle of the same island.
    fn add(&mut self, surface: &Surface, triangle: TriangleId, root: u32) {
        let Some(uvs) = surface.uvs_of(triangle) else { return };
        if root == triangle.0 {
            self.of_triangle[root as usize] = self.list.len() as u32;
            self.list.push(Island {
                triangles: 0,
                first: triangle,
                part: surface.part_of(triangle),
                material: surface.material_of(triangle),
                low: uvs[0],
                high: uvs[0],
                uv_area: 0.0,
                surface_area: 0.0,
            });
        }
        let island = self.of_triangle[root as usize];
        self.of_triangle[triangle.0 as usize] = island;
        let island = &mut self.list[island as usize];
        island.triangles += 1;
        for uv in uvs {
            (island.low, island.high) = (island.low.min(uv), island.high.max(uv));
        }
        // v points down: what turns left on the surface turns right in these numbers.
        island.uv_area -= (uvs[1] - uvs[0]).perp_dot(uvs[2] - uvs[0]) / 2.0;
        let [a, b, c] = surface.positions_of(triangle);
        island.surface_area += (b - a).cross(c - a).length() / 2.0;
    }

    /// The island of a triangle; `None` where it has no UVs.
    pub fn island_of(&self, triangle: TriangleId) -> Option<IslandId> {
        let island = self.of_triangle[triangle.0 as usize];
        (island != NONE).then_some(IslandId(island))
    }

    /// All islands, by lowest triangle: the index is the [`IslandId`].
    pub fn list(&self) -> &[Island] {
        &self.list
    }

    /// One island.
    pub fn get(&self, island: IslandId) -> &Island {
        &self.list[island.0 as usize]
    }

    /// True when the layout goes on across an edge of a triangle: to one with the same UVs at both ends
    /// that lies on the edge's other side. False at a seam, an open border, a fold, and without UVs.
    pub fn goes_on(&self, triangle: TriangleId, edge: usize) -> bool {
        self.joined[triangle.0 as usize] >> edge & 1 == 1
    }

    /// Bytes of memory that this takes.
    pub fn bytes(&self) -> usize {
        size_of_val(&*self.of_triangle) + size_of_val(&*self.list) + size_of_val(&*self.joined)
    }
}

/// Material, and the UVs at the edge's lower and higher vertex; `None` without UVs.
fn layout_key(surface: &Surface, half: &HalfEdge) -> Option<(MaterialSlot, [u32; 4])> {
    let uvs = surface.raw_uvs_of(half.triangle)?;
    let (from, to) = (half.edge as usize, (half.edge as usize + 1) % 3);
    let turned = surface.vertex_of(half.triangle, from) != half.vertices.0;
    let (low, high) = if turned { (uvs[to], uvs[from]) } else { (uvs[from], uvs[to]) };
    // + 0.0 makes one zero of both.
    let bits = [low.x, low.y, high.x, high.y].map(|value| (value + 0.0).to_bits());
    Some((surface.material_of(half.triangle), bits))
}

/// On which side of the edge, in the layout, the triangle lies: 1, -1, or 0 where it has no area.
fn side(surface: &Surface, half: &HalfEdge) -> i8 {
    let Some([a, b, c]) = surface.uvs_of(half.triangle) else { return 0 };
    let turned = surface.vertex_of(half.triangle, half.edge as usize) != half.vertices.0;
    let area = (b - a).perp_dot(c - a);
    let sign = i8::from(area > 0.0) - i8::from(area < 0.0);
    if turned { -sign } else { sign }
}

pub(crate) fn root(parents: &mut [u32], mut id: u32) -> u32 {
    while parents[id as usize] != id {
        parents[id as usize] = parents[parents[id as usize] as usize];
        id = parents[id as usize];
    }
    id
}

/// The lower root stays, so that an island's root is its lowest triangle.
pub(crate) fn unite(parents: &mut [u32], a: u32, b: u32) {
    let (a, b) = (root(parents, a), root(parents, b));
    parents[a.max(b) as usize] = a.min(b);
}

#[cfg(test)]
mod tests {
    use glam::DVec3;

    use super::*;
    use crate::testing::{Builder, cylinder, plane_of_islands, prepared, soup};

    #[test]
    fn a_cylinder_cut_along_its_side_is_one_island_with_a_seam() {
        let surface = prepared(cylinder(16, 4));
        let islands = surface.islands();
        assert_eq!(islands.list().len(), 1);
        let seam = (0..surface.triangle_count() as u32)
            .flat_map(|id| (0..3).map(move |edge| (TriangleId(id), edge)))
            .filter(|&(id, edge)| {
                !surface.neighbours(id, edge).is_empty() && !islands.goes_on(id, edge)
            })
            .count();
        assert_eq!(seam, 2 * 4, "both sides of four quads");
    }

    #[test]
    fn islands_count_measure_and_order_their_triangles() {
        let surface = prepared(plane_of_islands(8, &[0.0, 0.7, 2.0, 4.0]));
        let islands = surface.islands();
        assert_eq!(islands.list().len(), 4);
        let first: Vec<_> = islands.list().iter().map(|island| island.first).collect();
        assert!(first.is_sorted());
        let triangles: u32 = islands.list().iter().map(|island| island.triangles).sum();
        assert_eq!(triangles as usize, surface.triangle_count());
        let area: f64 = islands.list().iter().map(|island| island.surface_area).sum();
        assert!((area - 1.0).abs() < 1e-6, "{area}");
        assert!(islands.list().iter().all(|island| !island.is_mirrored()));
    }

    #[test]
    fn where_a_layout_folds_back_it_does_not_go_on() {
        let mut builder = Builder::default();
        let fold = |st: DVec2| DVec2::new(0.2 + (0.6 * st.x - 0.3).abs(), 0.8 - 0.5 * st.y);
        builder.patch((4, 1), |st| DVec3::new(st.x, st.y, 0.0), fold, 0);
        let surface = prepared(builder.mesh());
        assert_eq!(surface.islands().list().len(), 1);
        // Over the edges at s = 1/4, 1/2 and 3/4, from both sides: only the middle one is a fold.
        for id in (0..8).map(TriangleId) {
            let points = surface.positions_of(id);
            for edge in 0..3 {
                let ends = [points[edge], points[(edge + 1) % 3]];
                let at = |x: f64| ends.iter().all(|end| (end.x - x).abs() < 1e-6);
                let expected = !(at(0.5) || at(0.0) || at(1.0) || ends[0].y == ends[1].y);
                assert_eq!(surface.islands().goes_on(id, edge), expected, "{id:?} {ends:?}");
            }
        }
    }

    #[test]
    fn triangles_without_uvs_have_no_island() {
        let surface = prepared(soup(&[([[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]], 0)]));
        assert_eq!(surface.islands().island_of(TriangleId(0)), None);
        assert!(surface.islands().list().is_empty());
    }
}
