//! What is derived from a mesh, made once and never changed: triangles, welded adjacency, normals,
//! the tree for rays and distances, UV islands.

use std::sync::Arc;

use glam::{DVec2, DVec3, Vec2, Vec3};
use raster::Observer;

use crate::adjacency::{Adjacency, sorted_edges};
use crate::clusters::Clusters;
use crate::components::Components;
use crate::facing::Facing;
use crate::outer::outer_triangles;
use crate::tree::Tree;
use crate::triangulate::triangulate;
use crate::weld::weld;
use crate::{Islands, MaterialSlot, Mesh, NO_INDEX, PartId, SurfaceError, normals};

/// Which triangle of a surface, in the order of the mesh's faces.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TriangleId(pub u32);

/// A triangle and the polygon that it was cut from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Triangle {
    /// Its corners: indices into [`Mesh::corners`].
    pub corners: [u32; 3],
    /// The face of the mesh.
    pub face: u32,
}

/// A mesh and all that is derived from it. Immutable: share it by `Arc`. Methods that take a
/// [`TriangleId`] want one of this surface: below [`Surface::triangle_count`].
#[derive(Debug)]
pub struct Surface {
    mesh: Arc<Mesh>,
    triangles: Vec<Triangle>,
    /// The welded vertices of each triangle.
    vertices: Vec<[u32; 3]>,
    /// Where each welded vertex is.
    points: Vec<Vec3>,
    adjacency: Adjacency,
    vertex_normals: Vec<Vec3>,
    tree: Tree,
    islands: Islands,
    components: Components,
    /// See [`crate::outer`].
    outer: Vec<bool>,
    /// By node of the tree.
    facing: Vec<Facing>,
    clusters: Arc<Clusters>,
}

const STEPS: u64 = 8;

impl Surface {
    /// Derives everything. About a second for a million triangles.
    ///
    /// # Errors
    /// [`SurfaceError::Cancelled`] when the observer asks to stop; [`SurfaceError::Count`] when there
    /// are more corners than can be numbered.
    pub fn prepare(mesh: Arc<Mesh>, observer: &dyn Observer) -> Result<Self, SurfaceError> {
        const MOST: usize = (u32::MAX / 4) as usize;
        if mesh.corners().len() > MOST {
            let got = mesh.corners().len();
            return Err(SurfaceError::Count { what: "corners, at most", got, needed: MOST });
        }
        let step = |done: u64| {
            observer.progress(done, STEPS);
            observer.check()
        };
        step(0)?;
        let triangles = triangulate(&mesh);
        step(1)?;
        let welded = weld(&mesh);
        step(2)?;
        let vertex_of = |corner: u32| welded.vertex_of[corner as usize];
        let vertices: Vec<_> = triangles.iter().map(|t| t.corners.map(vertex_of)).collect();
        let edges = sorted_edges(&vertices);
        let adjacency = Adjacency::new(vertices.len(), &edges);
        step(3)?;
        let vertex_normals = normals::vertex_normals(&vertices, &welded.points);
        step(4)?;
        let corners_of =
            |t: TriangleId| vertices[t.0 as usize].map(|v| welded.points[v as usize].as_dvec3());
        let tree = Tree::new(vertices.len(), corners_of);
        step(5)?;
        let islands = Islands::default();
        let components = Components::new(&vertices, &edges);
        let (points, outer, facing) = (welded.points, Vec::new(), Vec::new());
        let mut surface = Self {
            mesh,
            triangles,
            vertices,
            points,
            adjacency,
            vertex_normals,
            tree,
            islands,
            components,
            outer,
            facing,
            clusters: Arc::default(),
        };
        surface.islands = Islands::new(&surface, &edges);
        step(6)?;
        surface.outer = outer_triangles(&surface);
        surface.facing = Facing::of_nodes(&surface);
        step(7)?;
        surface.clusters = Arc::new(Clusters::new(&surface));
        observer.progress(STEPS, STEPS);
        Ok(surface)
    }

    /// The mesh that this was made from.
    pub fn mesh(&self) -> &Arc<Mesh> {
        &self.mesh
    }

    /// How many triangles there are.
    pub fn triangle_count(&self) -> usize {
        self.triangles.len()
    }

    /// One triangle.
    pub fn triangle(&self, t: TriangleId) -> Triangle {
        self.triangles[t.0 as usize]
    }

    /// Where its corners are, in model units: the welded vertices, so that triangles that share an edge
    /// leave no crack there. At most a millionth of the part's diagonal from the mesh's own position.
    pub fn positions_of(&self, t: TriangleId) -> [DVec3; 3] {
        // Written out: the compiler leaves a call in `map`, and this is what every search does.
        let [a, b, c] = self.vertices[t.0 as usize];
        let point = |vertex: u32| self.points[vertex as usize].as_dvec3();
        [point(a), point(b), point(c)]
    }

    /// True where the mesh says where it was at rest.
    pub fn is_posed(&self) -> bool {
        !self.mesh.data().rest_positions.is_empty()
    }

    /// Where its corners were at rest, in model units; where they are, in a mesh that is not posed.
    pub fn rest_positions_of(&self, t: TriangleId) -> [DVec3; 3] {
        let rest = &self.mesh.data().rest_positions;
        if rest.is_empty() {
            return self.positions_of(t);
        }
        let corners = self.triangles[t.0 as usize].corners;
        corners
            .map(|corner| rest[self.mesh.corners()[corner as usize].position as usize].as_dvec3())
    }

    /// The UVs of its corners; `None` unless all three have one.
    pub fn uvs_of(&self, t: TriangleId) -> Option<[DVec2; 3]> {
        let [a, b, c] = self.raw_uvs_of(t)?;
        Some([a.as_dvec2(), b.as_dvec2(), c.as_dvec2()])
    }

    /// The UVs as stored.
    pub(crate) fn raw_uvs_of(&self, t: TriangleId) -> Option<[Vec2; 3]> {
        let [a, b, c] = self.triangles[t.0 as usize].corners;
        let corners = self.mesh.corners();
        let (a, b, c) = (corners[a as usize].uv, corners[b as usize].uv, corners[c as usize].uv);
        if a == NO_INDEX || b == NO_INDEX || c == NO_INDEX {
            return None;
        }
        let uvs = self.mesh.uvs();
        Some([uvs[a as usize], uvs[b as usize], uvs[c as usize]])
    }

    /// The part that it belongs to.
    pub fn part_of(&self, t: TriangleId) -> PartId {
        self.mesh.face_part(self.triangles[t.0 as usize].face as usize)
    }

    /// The material that it belongs to.
    pub fn material_of(&self, t: TriangleId) -> MaterialSlot {
        self.mesh.face_material(self.triangles[t.0 as usize].face as usize)
    }

    /// The unit normal of its plane, towards the side from which its corners turn counter-clockwise;
    /// zero for a triangle without area.
    pub fn geometric_normal(&self, t: TriangleId) -> DVec3 {
        normals::geometric_normal(self.positions_of(t))
    }

    /// The unit normal at one of its points, continuous over every edge of the part, creases too: it
    /// gates paint, it does not shade. Zero only where the triangle has no area and the normals around
    /// it cancel.
    pub fn smooth_normal(&self, t: TriangleId, barycentric: [f64; 3]) -> DVec3 {
        normals::blend(self.vertex_normals_of(t), barycentric, self.geometric_normal(t))
    }

    /// Its welded vertices.
    pub(crate) fn vertices_of(&self, t: TriangleId) -> [u32; 3] {
        self.vertices[t.0 as usize]
    }

    /// Where a welded vertex is, in model units.
    pub(crate) fn vertex_point(&self, vertex: u32) -> DVec3 {
        self.points[vertex as usize].as_dvec3()
    }

    /// The smooth normal at a welded vertex, of unit length; up where those of the triangles there cancel.
    pub(crate) fn vertex_normal(&self, vertex: u32) -> DVec3 {
        self.vertex_normals[vertex as usize].as_dvec3().try_normalize().unwrap_or(DVec3::Y)
    }

    /// The normals of its three vertices; zero where those of the triangles there cancel.
    pub(crate) fn vertex_normals_of(&self, t: TriangleId) -> [Vec3; 3] {
        let [a, b, c] = self.vertices[t.0 as usize];
        let normals = &self.vertex_normals;
        [normals[a as usize], normals[b as usize], normals[c as usize]]
    }

    /// The point with these weights of its corners, in model units.
    pub fn position(&self, t: TriangleId, barycentric: [f64; 3]) -> DVec3 {
        let [a, b, c] = self.positions_of(t);
        a * barycentric[0] + b * barycentric[1] + c * barycentric[2]
    }

    /// The UV of the point with these weights of its corners.
    pub fn uv(&self, t: TriangleId, barycentric: [f64; 3]) -> Option<DVec2> {
        let [a, b, c] = self.uvs_of(t)?;
        Some(a * barycentric[0] + b * barycentric[1] + c * barycentric[2])
    }

    /// The welded vertex at corner 0, 1 or 2.
    pub(crate) fn vertex_of(&self, t: TriangleId, corner: usize) -> u32 {
        self.vertices[t.0 as usize][corner]
    }

    /// How many welded vertices there are.
    pub(crate) fn vertex_count(&self) -> usize {
        self.points.len()
    }

    /// The triangles of the same part across an edge: from corner `edge` (0, 1 or 2) to the next one.
    /// None at an open border, several where more than two triangles meet. Ascending, beginning after
    /// `t` itself and going on from the lowest. Triangles with two corners at one vertex have none and
    /// are nobody's.
    pub fn neighbours(&self, t: TriangleId, edge: usize) -> &[TriangleId] {
        self.adjacency.neighbours(t, edge)
    }

    /// The UV islands.
    pub fn islands(&self) -> &Islands {
        &self.islands
    }

    pub(crate) fn clusters(&self) -> &Arc<Clusters> {
        &self.clusters
    }

    pub(crate) fn components(&self) -> &Components {
        &self.components
    }

    /// True where the whole front of the triangle lies outside of every closed piece.
    pub(crate) fn is_outer(&self, t: TriangleId) -> bool {
        self.outer[t.0 as usize]
    }

    /// Which way the boxes of the tree face.
    pub(crate) fn facing(&self) -> &[Facing] {
        &self.facing
    }

    pub(crate) fn tree(&self) -> &Tree {
        &self.tree
    }

    /// Bytes of memory that all derived structures take, the mesh itself not counted.
    pub fn bytes(&self) -> usize {
        size_of_val(&*self.triangles)
            + size_of_val(&*self.vertices)
            + size_of_val(&*self.points)
            + size_of_val(&*self.vertex_normals)
            + self.adjacency.bytes()
            + self.tree.bytes()
            + self.islands.bytes()
            + self.components.bytes()
            + size_of_val(&*self.outer)
            + size_of_val(&*self.facing)
            + self.clusters.bytes()
    }
}

#[cfg(test)]
mod tests {
    use raster::Cancelled;

    use super::*;
    use crate::testing::{cube, prepared, soup};

    struct StopAt(u64, std::sync::atomic::AtomicU64);

    impl Observer for StopAt {
        fn progress(&self, done: u64, _total: u64) {
            self.1.store(done, std::sync::atomic::Ordering::Relaxed);
        }

        fn stopped(&self) -> bool {
            self.1.load(std::sync::atomic::Ordering::Relaxed) >= self.0
        }
    }

    #[test]
    fn preparing_stops_when_asked_to() {
        let mesh = Arc::new(cube());
        for step in 0..STEPS {
            let stopped = Surface::prepare(Arc::clone(&mesh), &StopAt(step, 0.into()));
            assert_eq!(stopped.unwrap_err(), SurfaceError::Cancelled(Cancelled));
        }
        assert!(Surface::prepare(mesh, &StopAt(STEPS + 1, 0.into())).is_ok());
    }

    #[test]
    fn a_cube_of_quads_gives_twelve_triangles_that_name_their_faces() {
        let surface = prepared(cube());
        assert_eq!(surface.triangle_count(), 12);
        let faces: Vec<_> = (0..12).map(|id| surface.triangle(TriangleId(id)).face).collect();
        assert_eq!(faces, [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5]);
        for id in (0..12).map(TriangleId) {
            let out = surface.position(id, [1.0 / 3.0; 3]) - DVec3::splat(0.5);
            assert!(surface.geometric_normal(id).dot(out) > 0.0);
        }
    }

    #[test]
    fn a_single_triangle_of_one_point_is_prepared_without_complaint() {
        let surface = prepared(soup(&[([[f32::MAX; 3]; 3], 0)]));
        assert_eq!(surface.geometric_normal(TriangleId(0)), DVec3::ZERO);
        assert_eq!(surface.smooth_normal(TriangleId(0), [1.0, 0.0, 0.0]), DVec3::ZERO);
        assert!(surface.bytes() > 0);
    }
}
