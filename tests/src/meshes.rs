//! Meshes for tests, made from formulas: their areas and normals are known exactly.

use std::collections::BTreeMap;
use std::sync::Arc;

use glam::{DVec2, DVec3, Vec2, Vec3};
use surface::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId};

/// Collects quads and triangles; equal positions are shared.
#[derive(Default)]
pub(crate) struct Builder {
    data: MeshData,
    known: BTreeMap<[u32; 3], u32>,
    material: u32,
}

impl Builder {
    /// Starts a part; faces that follow belong to it.
    pub(crate) fn part(&mut self, name: &str) {
        self.data.parts.push(Part { name: name.to_owned(), axis: Vec3::Y });
        if self.data.material_names.is_empty() {
            self.data.material_names.push("clay".to_owned());
        }
        self.known.clear();
    }

    /// Starts a material; faces that follow belong to it. Without any, all are of clay.
    pub(crate) fn material(&mut self, name: &str) {
        self.material = self.data.material_names.len() as u32;
        self.data.material_names.push(name.to_owned());
    }

    pub(crate) fn face(&mut self, corners: &[(DVec3, DVec2)]) {
        if self.data.face_starts.is_empty() {
            self.data.face_starts.push(0);
        }
        for (position, uv) in corners {
            let position = position.as_vec3() + Vec3::ZERO;
            let key = position.to_array().map(f32::to_bits);
            let next = self.data.positions.len() as u32;
            let index = *self.known.entry(key).or_insert(next);
            if index == next {
                self.data.positions.push(position);
            }
            self.data.uvs.push(Vec2::new(uv.x as f32, uv.y as f32));
            let uv = self.data.uvs.len() as u32 - 1;
            self.data.corners.push(Corner { position: index, uv, normal: NO_INDEX });
        }
        self.data.face_starts.push(self.data.corners.len() as u32);
        self.data.face_parts.push(PartId(self.data.parts.len() as u32 - 1));
        self.data.face_materials.push(MaterialSlot(self.material));
    }

    /// A grid of `n` x `n` quads: `point` gives the surface, `uv` the layout, both over 0..1 x 0..1.
    pub(crate) fn grid(
        &mut self,
        n: usize,
        point: impl Fn(f64, f64) -> DVec3,
        uv: impl Fn(f64, f64) -> DVec2,
    ) {
        let at = |i: usize, j: usize| {
            let (s, t) = (i as f64 / n as f64, j as f64 / n as f64);
            (point(s, t), uv(s, t))
        };
        for i in 0..n {
            for j in 0..n {
                self.face(&[at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
            }
        }
    }

    pub(crate) fn mesh(self) -> Arc<Mesh> {
        Arc::new(Mesh::new(self.data).unwrap())
    }
}

/// The square 0..1 in x and z at y = 0, seen from above, its UV a square of `edge` about (0.5, 0.5).
pub(crate) fn plane(edge: f64) -> Arc<Mesh> {
    let mut builder = Builder::default();
    builder.part("plane");
    let uv = |s: f64, t: f64| DVec2::splat(0.5) + (DVec2::new(s, t) - 0.5) * edge;
    builder.grid(8, |s, t| DVec3::new(s, 0.0, t), uv);
    builder.mesh_upwards()
}

impl Builder {
    /// The mesh with every face turned so that its normal points up.
    pub(crate) fn mesh_upwards(mut self) -> Arc<Mesh> {
        let data = &mut self.data;
        for face in 0..data.face_parts.len() {
            let corners = data.face_starts[face] as usize..data.face_starts[face + 1] as usize;
            let at = |corner: usize| data.positions[data.corners[corner].position as usize];
            let (a, b, c) = (at(corners.start), at(corners.start + 1), at(corners.start + 2));
            if (b - a).cross(c - a).y < 0.0 {
                data.corners[corners].reverse();
            }
        }
        self.mesh()
    }
}

/// The square 0..1 cut into four strips along x, each an island turned by another angle (in radians), all
/// of one scale: `scale` UV units a unit.
pub(crate) fn cut_plane(scale: f64, angles: [f64; 4]) -> Arc<Mesh> {
    let mut builder = Builder::default();
    builder.part("plane");
    for (strip, angle) in angles.into_iter().enumerate() {
        let left = strip as f64 * 0.25;
        let (middle, _) = cut_plane_layout(strip, angles);
        let uv = |s: f64, t: f64| {
            let local = DVec2::new((s - 0.5) * 0.25, t - 0.5) * scale;
            middle + DVec2::from_angle(angle).rotate(local)
        };
        builder.grid(8, |s, t| DVec3::new(left + s * 0.25, 0.0, t), uv);
    }
    builder.mesh_upwards()
}

/// The UV of the middle of a strip of [`cut_plane`], and its angle.
pub(crate) fn cut_plane_layout(strip: usize, angles: [f64; 4]) -> (DVec2, f64) {
    let middle = DVec2::new(0.27 + 0.46 * (strip % 2) as f64, 0.27 + 0.46 * (strip / 2) as f64);
    (middle, angles[strip])
}

/// The square 0..1 cut at x = 0.5 into two islands of one orientation, `texels` texels a unit on a texture
/// of `edge`: at whole offsets, so that each padding texel of one lies where an owned texel of the other
/// does. The left one's corner is at texel (64, 64), the right one's is `apart` texels further right.
pub(crate) fn halved_plane(edge: f64, texels: f64, apart: f64) -> Arc<Mesh> {
    let mut builder = Builder::default();
    builder.part("plane");
    for half in [0.0, 1.0] {
        let left = half * 0.5;
        let corner = DVec2::splat(64.0) + DVec2::new(half * apart, 0.0);
        let uv = |s: f64, t: f64| (corner + DVec2::new(left + s * 0.5, t) * texels) / edge;
        builder.grid(4, |s, t| DVec3::new(left + s * 0.5, 0.0, t), uv);
    }
    builder.mesh_upwards()
}

/// Two squares of 1 by 1, one above the other at y = 0 and `gap`, each a part of its own; both lie in the first tile of a
/// texture of 512, 28 texels wide.
pub(crate) fn two_sheets(gap: f64) -> Arc<Mesh> {
    let mut builder = Builder::default();
    for (name, height, left) in [("below", 0.0, 2.0), ("above", gap, 34.0)] {
        builder.part(name);
        let uv = |s: f64, t: f64| (DVec2::new(left, 2.0) + DVec2::new(s, t) * 28.0) / 512.0;
        builder.grid(3, |s, t| DVec3::new(s, height, t), uv);
    }
    builder.mesh_upwards()
}

/// Two squares side by side, 0..1 and 1.2..2.2 in x, each a part and a material of its own that takes
/// the middle of its texture.
pub(crate) fn two_materials() -> Arc<Mesh> {
    let mut builder = Builder::default();
    for (name, left) in [("clay", 0.0), ("slate", 1.2)] {
        builder.material(name);
        builder.part(name);
        let uv = |s: f64, t: f64| DVec2::new(0.1 + s * 0.8, 0.1 + t * 0.8);
        builder.grid(3, |s, t| DVec3::new(left + s, 0.0, t), uv);
    }
    builder.mesh_upwards()
}

/// A sphere of radius 1 as a cube of six islands of `n` x `n` quads each, equal in angle. At 1024 texels
/// each island is 297 whole texels wide, so that no texel straddles a rim.
pub(crate) fn sphere(n: usize) -> Arc<Mesh> {
    let mut builder = Builder::default();
    builder.part("sphere");
    for side in 0..6 {
        let cell = DVec2::new(f64::from(side % 3), f64::from(side / 3));
        let corner = (DVec2::splat(21.0) + cell * 338.0) / 1024.0;
        let point = |s: f64, t: f64| {
            let quarter = std::f64::consts::FRAC_PI_4;
            let (a, b) = (((2.0 * s - 1.0) * quarter).tan(), ((2.0 * t - 1.0) * quarter).tan());
            let point = match side {
                0 => DVec3::new(1.0, a, b),
                1 => DVec3::new(-1.0, b, a),
                2 => DVec3::new(b, 1.0, a),
                3 => DVec3::new(a, -1.0, b),
                4 => DVec3::new(a, b, 1.0),
                _ => DVec3::new(b, a, -1.0),
            };
            // Rounded so that the rims of neighbouring sides are equal to the bit.
            (point.normalize_or_zero() * 1e6).round() / 1e6
        };
        builder.grid(n, point, |s, t| corner + DVec2::new(s, t) * (297.0 / 1024.0));
    }
    builder.mesh()
}

/// A box from `low` to `high`, each side an island of 4 x 4 quads.
pub(crate) fn add_box(
    builder: &mut Builder,
    low: DVec3,
    high: DVec3,
    cells: [DVec2; 6],
    edge: f64,
) {
    let size = high - low;
    for (side, corner) in cells.into_iter().enumerate() {
        let point = |s: f64, t: f64| {
            let unit = match side {
                0 => DVec3::new(1.0, s, t),
                1 => DVec3::new(0.0, t, s),
                2 => DVec3::new(t, 1.0, s),
                3 => DVec3::new(s, 0.0, t),
                4 => DVec3::new(s, t, 1.0),
                _ => DVec3::new(t, s, 0.0),
            };
            low + unit * size
        };
        builder.grid(4, point, |s, t| corner + DVec2::new(s, t) * edge);
    }
}

/// Six places for squares of `edge` in a row at height `v`.
pub(crate) fn row_of_cells(v: f64, edge: f64) -> [DVec2; 6] {
    std::array::from_fn(|side| DVec2::new(0.01 + side as f64 * (edge + 0.02), v))
}
