//! A mesh as the graphics adapter wants it: made on the processor, so that a background job can do it.

use std::ops::Range;

use glam::{DVec3, Vec2};
use raster::Observer;
use rayon::prelude::*;
use surface::{MaterialSlot, NO_INDEX, PartId, Surface, TriangleId};

use crate::ViewportError;
use crate::packed_normal::pack;
use crate::places::places;

/// One vertex: position relative to [`MeshBuffers::origin`] (three f32), normal (octahedral, two signed
/// 16-bit numbers), UV (two f32), part, island ([`NO_INDEX`] without one).
pub(crate) type Vertex = [u32; 8];

/// Marks an edge that lies where another one is drawn already: it counts on the flat texture only.
pub(crate) const FLAT_ONLY: u32 = 1 << 31;

/// What one part shows of one material, as ranges of the lists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Group {
    pub(crate) material: MaterialSlot,
    pub(crate) part: PartId,
    /// Of indices, three a triangle.
    pub(crate) indices: Range<u32>,
    /// Edges of polygons.
    pub(crate) edges: Range<u32>,
    /// Edges of islands.
    pub(crate) outlines: Range<u32>,
}

/// Vertices, triangles, edges of polygons and outlines of islands, sorted by material and part.
#[derive(Debug, Clone)]
pub struct MeshBuffers {
    pub(crate) origin: DVec3,
    pub(crate) radius: f64,
    pub(crate) vertices: Vec<Vertex>,
    pub(crate) indices: Vec<u32>,
    /// Pairs of vertices; the second may carry [`FLAT_ONLY`].
    pub(crate) edges: Vec<[u32; 2]>,
    pub(crate) outlines: Vec<[u32; 2]>,
    pub(crate) groups: Vec<Group>,
}

const STEPS: u64 = 5;

impl MeshBuffers {
    /// Makes the lists. Vertices are shared within an island where normals agree; corners without a normal
    /// get one that is smooth over angles below 50 degrees.
    ///
    /// # Errors
    /// [`ViewportError::Cancelled`] when the observer asks to stop.
    pub fn build(surface: &Surface, observer: &dyn Observer) -> Result<Self, ViewportError> {
        let step = |done: u64| {
            observer.progress(done, STEPS);
            observer.check()
        };
        step(0)?;
        let (low, high) = surface.mesh().bounds();
        let (low, high) = (low.as_dvec3(), high.as_dvec3());
        let origin = (low + high) * 0.5;
        let order = sorted_triangles(surface);
        step(1)?;
        let places = places(surface.mesh());
        let normals: Vec<u32> = surface.corner_normals().into_par_iter().map(pack).collect();
        step(2)?;
        let mut shared = Shared::new(surface, origin, &places, &normals);
        let indices: Vec<u32> = order
            .iter()
            .flat_map(|&t| {
                let triangle = surface.triangle(t);
                std::array::from_fn::<u32, 3, _>(|k| shared.vertex(t, triangle.corners[k], k))
            })
            .collect();
        let Shared { vertices, of_corner, .. } = shared;
        step(3)?;
        let mut made = Self {
            origin,
            radius: (high - low).length() * 0.5,
            vertices,
            indices,
            edges: Vec::new(),
            outlines: Vec::new(),
            groups: Vec::new(),
        };
        let key = |t: &TriangleId| (surface.material_of(*t), surface.part_of(*t));
        let mut first = 0;
        for triangles in order.chunk_by(|a, b| key(a) == key(b)) {
            observer.check()?;
            made.add_group(surface, triangles, first, &of_corner, &places);
            first += triangles.len();
        }
        step(STEPS)?;
        Ok(made)
    }

    fn add_group(
        &mut self,
        surface: &Surface,
        triangles: &[TriangleId],
        first: usize,
        of_corner: &[u32],
        places: &[u32],
    ) {
        let Some(&any) = triangles.first() else { return };
        let (edge_start, outline_start) = (self.edges.len() as u32, self.outlines.len() as u32);
        self.edges.extend(polygon_edges(surface, triangles, of_corner, places));
        for (offset, &t) in triangles.iter().enumerate() {
            if surface.islands().island_of(t).is_none() {
                continue;
            }
            let at = (first + offset) * 3;
            let ends = |edge: usize| [self.indices[at + edge], self.indices[at + (edge + 1) % 3]];
            let is_border = |&edge: &usize| !surface.islands().goes_on(t, edge);
            self.outlines.extend((0..3).filter(is_border).map(ends));
        }
        self.groups.push(Group {
            material: surface.material_of(any),
            part: surface.part_of(any),
            indices: (first * 3) as u32..((first + triangles.len()) * 3) as u32,
            edges: edge_start..self.edges.len() as u32,
            outlines: outline_start..self.outlines.len() as u32,
        });
    }

    /// The box of the parts that are wanted: lowest and highest corner, in model units; `None` without any.
    pub fn bounds_of(&self, wanted: impl Fn(PartId) -> bool) -> Option<(DVec3, DVec3)> {
        let number = f32::from_bits;
        let points = self.vertices.iter().filter(|vertex| wanted(PartId(vertex[6]))).map(
            |&[x, y, z, ..]| self.origin + DVec3::from([x, y, z].map(|v| f64::from(number(v)))),
        );
        points.fold(None, |found: Option<(DVec3, DVec3)>, point| {
            let (low, high) = found.unwrap_or((point, point));
            Some((low.min(point), high.max(point)))
        })
    }

    /// How many triangles there are.
    pub fn triangle_count(&self) -> usize {
        self.indices.len() / 3
    }

    /// How many vertices there are.
    pub fn vertex_count(&self) -> usize {
        self.vertices.len()
    }

    /// Bytes that it takes, here and on the adapter.
    pub fn bytes(&self) -> usize {
        size_of_val(&*self.vertices)
            + size_of_val(&*self.indices)
            + size_of_val(&*self.edges)
            + size_of_val(&*self.outlines)
    }
}

fn sorted_triangles(surface: &Surface) -> Vec<TriangleId> {
    let mut order: Vec<TriangleId> = (0..surface.triangle_count() as u32).map(TriangleId).collect();
    order.par_sort_unstable_by_key(|t| (surface.material_of(*t), surface.part_of(*t), *t));
    order
}

const NONE: u32 = u32::MAX;

/// Vertices in the making: for each position of the mesh a chain of the vertices that lie there.
struct Shared<'s> {
    surface: &'s Surface,
    origin: DVec3,
    places: &'s [u32],
    normals: &'s [u32],
    vertices: Vec<Vertex>,
    /// The vertex of each corner of the mesh.
    of_corner: Vec<u32>,
    first_at: Vec<u32>,
    /// For each vertex the next one of its chain.
    chain: Vec<u32>,
}

impl<'s> Shared<'s> {
    fn new(surface: &'s Surface, origin: DVec3, places: &'s [u32], normals: &'s [u32]) -> Self {
        let mesh = surface.mesh();
        let positions = mesh.positions().len();
        Self {
            surface,
            origin,
            places,
            normals,
            vertices: Vec::with_capacity(positions),
            of_corner: vec![NONE; mesh.corners().len()],
            first_at: vec![NONE; positions],
            chain: Vec::with_capacity(positions),
        }
    }

    fn vertex(&mut self, t: TriangleId, corner_id: u32, k: usize) -> u32 {
        let surface = self.surface;
        let corner = surface.mesh().corners()[corner_id as usize];
        let normal = self.normals[corner_id as usize];
        let part = surface.part_of(t).0;
        let island = surface.islands().island_of(t).map_or(NO_INDEX, |island| island.0);
        let uv = surface.mesh().uvs().get(corner.uv as usize).copied().unwrap_or(Vec2::ZERO);
        let rest = [normal, uv.x.to_bits(), uv.y.to_bits(), part, island];
        let place = self.places[corner.position as usize] as usize;
        let mut at = self.first_at[place];
        while at != NONE && self.vertices[at as usize][3..] != rest {
            at = self.chain[at as usize];
        }
        if at == NONE {
            let position = (surface.positions_of(t)[k] - self.origin).as_vec3();
            let [x, y, z] = position.to_array().map(f32::to_bits);
            let [normal, u, v, part, island] = rest;
            at = self.vertices.len() as u32;
            self.vertices.push([x, y, z, normal, u, v, part, island]);
            self.chain.push(self.first_at[place]);
            self.first_at[place] = at;
        }
        self.of_corner[corner_id as usize] = at;
        at
    }
}

/// The edges of the polygons that these triangles were cut from, each pair of vertices once.
fn polygon_edges(
    surface: &Surface,
    triangles: &[TriangleId],
    of_corner: &[u32],
    places: &[u32],
) -> impl Iterator<Item = [u32; 2]> {
    let mesh = surface.mesh();
    let mut faces: Vec<u32> = triangles.iter().map(|&t| surface.triangle(t).face).collect();
    faces.dedup();
    let mut found: Vec<[u32; 4]> = Vec::with_capacity(triangles.len() * 2);
    for face in faces {
        let corners = mesh.face(face as usize);
        for at in corners.clone() {
            let to = if at + 1 == corners.end { corners.start } else { at + 1 };
            let (a, b) = (of_corner[at], of_corner[to]);
            let place = |corner: usize| places[mesh.corners()[corner].position as usize];
            let (from, onto) = (place(at), place(to));
            if a != NONE && b != NONE && from != onto {
                found.push([from.min(onto), from.max(onto), a.min(b), a.max(b)]);
            }
        }
    }
    found.par_sort_unstable();
    found.dedup();
    let mut before = [NONE; 2];
    found.into_iter().map(move |[from, onto, a, b]| {
        let is_drawn = before == [from, onto];
        before = [from, onto];
        [a, if is_drawn { b | FLAT_ONLY } else { b }]
    })
}
