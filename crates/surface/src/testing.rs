//! Small meshes for tests, made by formula.

use std::f64::consts::PI;
use std::path::Path;
use std::sync::Arc;

use glam::{DVec2, DVec3, Vec2, Vec3};
use raster::Unobserved;

use crate::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId, Surface};

/// The mesh with everything derived.
pub(crate) fn prepared(mesh: Mesh) -> Surface {
    Surface::prepare(Arc::new(mesh), &Unobserved).unwrap()
}

/// A mesh in the making; parts and materials are added as faces name them.
#[derive(Default)]
pub(crate) struct Builder(MeshData);

impl Builder {
    /// A face with these positions and, where given, UVs.
    pub(crate) fn face(&mut self, points: &[DVec3], uvs: &[DVec2], part: u32, material: u32) {
        let data = &mut self.0;
        if data.face_starts.is_empty() {
            data.face_starts.push(0);
        }
        for (k, point) in points.iter().enumerate() {
            let uv = uvs.get(k).map_or(NO_INDEX, |uv| {
                data.uvs.push(uv.as_vec2());
                data.uvs.len() as u32 - 1
            });
            data.positions.push(point.as_vec3());
            let position = data.positions.len() as u32 - 1;
            data.corners.push(Corner { position, uv, normal: NO_INDEX });
        }
        data.face_starts.push(data.corners.len() as u32);
        data.face_parts.push(PartId(part));
        data.face_materials.push(MaterialSlot(material));
        while data.parts.len() <= part as usize {
            let name = ["bell", "board", "bolts", "rope"][data.parts.len() % 4];
            data.parts.push(Part { name: name.to_owned(), axis: Vec3::Y });
        }
        while data.material_names.len() <= material as usize {
            let name = ["bronze", "oak", "iron", "hemp"][data.material_names.len() % 4];
            data.material_names.push(name.to_owned());
        }
    }

    /// A grid of quads over (s, t) in 0..1: front where s x t turns counter-clockwise.
    pub(crate) fn patch(
        &mut self,
        (across, down): (u32, u32),
        place: impl Fn(DVec2) -> DVec3,
        layout: impl Fn(DVec2) -> DVec2,
        material: u32,
    ) {
        let step = DVec2::new(1.0 / f64::from(across), 1.0 / f64::from(down));
        for y in 0..down {
            for x in 0..across {
                let corners = [(0, 0), (1, 0), (1, 1), (0, 1)]
                    .map(|(i, j)| DVec2::new(f64::from(x + i), f64::from(y + j)) * step);
                self.face(&corners.map(&place), &corners.map(&layout), 0, material);
            }
        }
    }

    pub(crate) fn mesh(self) -> Mesh {
        Mesh::new(self.0).unwrap()
    }
}

/// A layout that takes (s, t) in 0..1 to a turned rectangle: t goes up in the picture, so that the
/// front shows unmirrored.
pub(crate) fn turned(centre: DVec2, size: DVec2, angle: f64) -> impl Fn(DVec2) -> DVec2 {
    move |st| {
        let offset = (st - 0.5) * size * DVec2::new(1.0, -1.0);
        centre + DVec2::from_angle(angle).rotate(offset)
    }
}

/// From (s, t) to UV.
pub(crate) type Layout = Box<dyn Fn(DVec2) -> DVec2>;

/// One polygon, without UVs.
pub(crate) fn polygon(points: &[[f32; 3]]) -> Mesh {
    let mut builder = Builder::default();
    let points: Vec<_> = points.iter().map(|&p| Vec3::from(p).as_dvec3()).collect();
    builder.face(&points, &[], 0, 0);
    builder.mesh()
}

/// Triangles, each with its part; no UVs.
pub(crate) fn soup(triangles: &[([[f32; 3]; 3], u32)]) -> Mesh {
    let mut builder = Builder::default();
    for (points, part) in triangles {
        builder.face(&points.map(|p| Vec3::from(p).as_dvec3()), &[], *part, 0);
    }
    builder.mesh()
}

/// A cube from 0 to 1 of six quads, without UVs.
pub(crate) fn cube() -> Mesh {
    let mut builder = Builder::default();
    for axis in 0..3 {
        for side in [0.0, 1.0] {
            let mut points = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)].map(|(s, t)| {
                let mut point = DVec3::ZERO;
                point[axis] = side;
                point[(axis + 1) % 3] = s;
                point[(axis + 2) % 3] = t;
                point
            });
            if side == 0.0 {
                points.reverse();
            }
            builder.face(&points, &[], 0, 0);
        }
    }
    builder.mesh()
}

/// A sphere of radius 1 in rings, without UVs; the poles are quads with two corners in one place.
pub(crate) fn sphere(around: u32, rings: u32) -> Mesh {
    let mut builder = Builder::default();
    let place = |st: DVec2| {
        let (longitude, latitude) = (st.x * 2.0 * PI, (st.y - 0.5) * PI);
        let flat = latitude.cos();
        DVec3::new(longitude.sin() * flat, latitude.sin(), longitude.cos() * flat)
    };
    builder.patch((around, rings), place, |st| st, 0);
    let mut data = builder.0;
    data.corners.iter_mut().for_each(|corner| corner.uv = NO_INDEX);
    Mesh::new(data).unwrap()
}

/// A sphere of radius 1: an icosahedron whose triangles were cut in four so often, without UVs.
pub(crate) fn icosphere(cuts: u32) -> Mesh {
    let golden = f64::midpoint(1.0, 5.0_f64.sqrt());
    let mut points = Vec::new();
    for axis in 0..3 {
        for (one, two) in [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)] {
            let mut point = DVec3::ZERO;
            (point[(axis + 1) % 3], point[(axis + 2) % 3]) = (one, two * golden);
            points.push(point);
        }
    }
    // Three corners that are an edge, 2, apart from each other make a face.
    let near = |a: usize, b: usize| (points[a].distance(points[b]) - 2.0).abs() < 1e-9;
    let mut faces = Vec::new();
    for a in 0..12 {
        for b in a + 1..12 {
            for c in b + 1..12 {
                if near(a, b) && near(b, c) && near(c, a) {
                    let face = [a, b, c].map(|n| points[n].normalize_or_zero());
                    let out = (face[1] - face[0]).cross(face[2] - face[0]).dot(face[0]) > 0.0;
                    faces.push(if out { face } else { [face[0], face[2], face[1]] });
                }
            }
        }
    }
    for _ in 0..cuts {
        let cut = |[a, b, c]: [DVec3; 3]| {
            let middle = |p: DVec3, q: DVec3| (p + q).normalize_or_zero();
            let (ab, bc, ca) = (middle(a, b), middle(b, c), middle(c, a));
            [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]
        };
        faces = faces.into_iter().flat_map(cut).collect();
    }
    let mut builder = Builder::default();
    for face in &faces {
        builder.face(face, &[], 0, 0);
    }
    builder.mesh()
}

/// Round the side of a cylinder: radius 1, height 1.
pub(crate) fn cylinder_side(s: f64, t: f64) -> DVec3 {
    let angle = s * 2.0 * PI;
    DVec3::new(angle.sin(), t, angle.cos())
}

/// The side of a cylinder, laid out as one rectangle with one seam.
pub(crate) fn cylinder(around: u32, along: u32) -> Mesh {
    let mut builder = Builder::default();
    let layout = turned(DVec2::splat(0.5), DVec2::new(0.8, 0.3), 0.0);
    builder.patch((around, along), |st| cylinder_side(st.x, st.y), layout, 0);
    builder.mesh()
}

/// The side of a cylinder in two halves whose layouts differ in turn and scale: two seams. Gives the
/// layouts too.
pub(crate) fn halved_cylinder(around: u32) -> (Mesh, [Layout; 2]) {
    // pi across, 1 up; the same density both ways in each half.
    let size = |density: f64| DVec2::new(PI, 1.0) * density;
    let first = turned(DVec2::new(0.4, 0.25), size(0.2), 0.2);
    let second = turned(DVec2::new(0.6, 0.7), size(0.15), 2.1);
    let mut builder = Builder::default();
    builder.patch((around / 2, 4), |st| cylinder_side(st.x / 2.0, st.y), &first, 0);
    builder.patch((around / 2, 4), |st| cylinder_side(0.5 + st.x / 2.0, st.y), &second, 0);
    (builder.mesh(), [Box::new(first), Box::new(second)])
}

/// A sphere of radius 1 of six curved squares, each laid out with its own turn and scale.
pub(crate) fn six_sided_sphere(quads: u32) -> Mesh {
    let mut builder = Builder::default();
    for side in 0..6u32 {
        let (axis, sign) = (side as usize / 2, f64::from(side % 2) * 2.0 - 1.0);
        let place = |st: DVec2| {
            // Even steps of angle across each side.
            let (s, t) = (((st.x - 0.5) * PI / 2.0).tan() * sign, ((st.y - 0.5) * PI / 2.0).tan());
            let mut point = DVec3::ZERO;
            point[axis] = sign;
            point[(axis + 1) % 3] = s;
            point[(axis + 2) % 3] = t;
            point.normalize_or_zero()
        };
        let cell = DVec2::new(f64::from(side % 3) + 0.5, f64::from(side / 3) + 0.5) / 3.0;
        let edge = 0.2 * (1.0 - 0.05 * f64::from(side));
        let layout = turned(cell, DVec2::splat(edge), 0.4 * f64::from(side));
        builder.patch((quads, quads), place, layout, 0);
    }
    builder.mesh()
}

/// A square of side 1 at y = 0, facing up, cut into strips of one texel density, each turned by its
/// angle in the layout.
pub(crate) fn plane_of_islands(quads: u32, angles: &[f64]) -> Mesh {
    let mut builder = Builder::default();
    let count = angles.len() as f64;
    let rows = count.sqrt().ceil();
    // The diagonal of a strip fits its cell of the layout.
    let density = 0.9 / rows / (1.0 + 1.0 / (count * count)).sqrt();
    for (k, &angle) in angles.iter().enumerate() {
        let k = k as f64;
        let cell = DVec2::new(k % rows + 0.5, (k / rows).floor() + 0.5) / rows;
        let size = DVec2::new(1.0 / count, 1.0) * density;
        let place = |st: DVec2| DVec3::new((k + st.x) / count, 0.0, 1.0 - st.y);
        builder.patch((quads, quads), place, turned(cell, size, angle), 0);
    }
    builder.mesh()
}

/// A square of side 1 at y = 0 facing up, and another below it by `gap` facing down; one part.
pub(crate) fn two_sheets(quads: u32, gap: f64) -> Mesh {
    let mut builder = Builder::default();
    let up = |st: DVec2| DVec3::new(st.x, 0.0, 1.0 - st.y);
    let down = |st: DVec2| DVec3::new(1.0 - st.x, -gap, 1.0 - st.y);
    let size = DVec2::splat(0.4);
    builder.patch((quads, quads), up, turned(DVec2::new(0.25, 0.5), size, 0.0), 0);
    builder.patch((quads, quads), down, turned(DVec2::new(0.75, 0.5), size, 0.0), 0);
    builder.mesh()
}

/// A file of tests/reference.
pub(crate) fn reference(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference");
    std::fs::read_to_string(folder.join(name)).unwrap()
}

/// Triangles of an OBJ text as they stand there: v is not flipped.
pub(crate) fn read_obj(text: &str) -> Mesh {
    let mut data = MeshData { face_starts: vec![0], ..MeshData::default() };
    for line in text.lines() {
        let mut words = line.split_whitespace();
        let kind = words.next();
        let mut numbers = || words.next().unwrap().parse::<f32>().unwrap();
        match kind {
            Some("v") => data.positions.push(Vec3::new(numbers(), numbers(), numbers())),
            Some("vt") => data.uvs.push(Vec2::new(numbers(), numbers())),
            Some("f") => {
                for word in words {
                    let index =
                        |k: usize| word.split('/').nth(k).unwrap().parse::<u32>().unwrap() - 1;
                    data.corners.push(Corner {
                        position: index(0),
                        uv: index(1),
                        normal: NO_INDEX,
                    });
                }
                data.face_starts.push(data.corners.len() as u32);
                data.face_parts.push(PartId(0));
                data.face_materials.push(MaterialSlot(0));
            }
            _ => {}
        }
    }
    data.parts.push(Part { name: "torus".to_owned(), axis: Vec3::Y });
    data.material_names.push("bronze".to_owned());
    Mesh::new(data).unwrap()
}
