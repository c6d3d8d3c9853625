//! From shells to one mesh: weld points, shade, lay out, list faces in their order.

use std::collections::HashMap;
use std::hash::Hash;

use glam::{DVec2, DVec3, Vec2, Vec3};
use surface::{Corner, MaterialSlot, MeshData, NO_INDEX, Part, PartId};

use super::layout::pack;
use super::shell::{Face, Shell};

/// Faces whose normals differ by more than this (its cosine; 40 degrees) meet in a hard edge.
const CREASE: f64 = 0.766;

/// One part of the model.
pub(crate) struct PartShells {
    /// Its name.
    pub(crate) name: &'static str,
    /// Its material's name.
    pub(crate) material: &'static str,
    /// What it is made of.
    pub(crate) shells: Vec<Shell>,
}

/// A shell whose islands share their points.
pub(crate) struct Welded {
    /// Its points.
    pub(crate) points: Vec<DVec3>,
    /// Its faces, in order.
    pub(crate) faces: Vec<WeldedFace>,
}

/// One face of a welded shell.
pub(crate) struct WeldedFace {
    /// Indices into the shell's points.
    pub(crate) points: Vec<usize>,
    /// Which island it belongs to.
    pub(crate) island: usize,
    /// Indices into that island's points.
    pub(crate) flat: Vec<u32>,
}

/// Joins points that lie within a micrometre, in the order in which the faces name them.
pub(crate) fn weld(shell: &Shell) -> Welded {
    let mut ordered: Vec<(usize, &Face)> = Vec::new();
    for (index, island) in shell.islands.iter().enumerate() {
        ordered.extend(island.faces.iter().map(|face| (index, face)));
    }
    ordered.sort_by_key(|(_, face)| face.order);
    let (mut points, mut known) = (Vec::new(), HashMap::new());
    let mut faces = Vec::new();
    for (island, face) in ordered {
        let welded = face.corners.iter().map(|&corner| {
            let point = shell.islands[island].points[corner as usize];
            let key = [cell(point.x), cell(point.y), cell(point.z)];
            number(&mut known, &mut points, key, point) as usize
        });
        faces.push(WeldedFace { points: welded.collect(), island, flat: face.corners.clone() });
    }
    Welded { points, faces }
}

impl Welded {
    /// Each face's normal, as long as twice its area.
    pub(crate) fn face_normals(&self) -> Vec<DVec3> {
        let normal = |face: &WeldedFace| {
            let first = self.points[face.points[0]];
            let edges: Vec<DVec3> =
                face.points[1..].iter().map(|&p| self.points[p] - first).collect();
            edges.windows(2).map(|pair| pair[0].cross(pair[1])).sum()
        };
        self.faces.iter().map(normal).collect()
    }

    /// Which faces touch each point.
    fn faces_at_points(&self) -> Vec<Vec<usize>> {
        let mut at = vec![Vec::new(); self.points.len()];
        for (index, face) in self.faces.iter().enumerate() {
            for &point in &face.points {
                at[point].push(index);
            }
        }
        at
    }

    /// One normal a corner: the mean over the neighbours that meet this face smoothly, weighted by area.
    fn corner_normals(&self) -> Vec<Vec<DVec3>> {
        let normals = self.face_normals();
        let at = self.faces_at_points();
        let corner = |own: DVec3, point: usize| -> DVec3 {
            let smooth = |&&face: &&usize| {
                normals[face].dot(own) >= CREASE * normals[face].length() * own.length()
            };
            at[point].iter().filter(smooth).map(|&face| normals[face]).sum::<DVec3>()
        };
        self.faces
            .iter()
            .zip(&normals)
            .map(|(face, &own)| {
                face.points.iter().map(|&p| corner(own, p).normalize_or_zero()).collect()
            })
            .collect()
    }

    /// One normal a point: the mean over all faces that touch it, weighted by area.
    pub(crate) fn point_normals(&self) -> Vec<DVec3> {
        let normals = self.face_normals();
        let mean = |faces: &Vec<usize>| faces.iter().map(|&face| normals[face]).sum::<DVec3>();
        self.faces_at_points().iter().map(|faces| mean(faces).normalize_or_zero()).collect()
    }
}

/// The number of a value that is listed once, in the order in which values come.
fn number<K: Eq + Hash, V>(
    known: &mut HashMap<K, u32>,
    values: &mut Vec<V>,
    key: K,
    value: V,
) -> u32 {
    *known.entry(key).or_insert_with(|| {
        values.push(value);
        values.len() as u32 - 1
    })
}

/// A cell a micrometre wide. The offset keeps round figures away from the boundary between two.
fn cell(value: f64) -> i64 {
    (value * 1e6 + 0.317).round() as i64
}

/// An island's place in its material's square: flat metres to UV, y up.
#[derive(Clone, Copy)]
struct Place {
    scale: f64,
    offset: DVec2,
}

/// The mesh with normals and UVs.
pub(crate) fn laid_out(parts: &[PartShells]) -> MeshData {
    let mut places = places(parts).into_iter();
    let mut builder = Builder::default();
    for part in parts {
        builder.part(part.name, part.material);
        for shell in &part.shells {
            let places: Vec<Place> = places.by_ref().take(shell.islands.len()).collect();
            let uvs = |face: &WeldedFace| {
                let (island, place) = (&shell.islands[face.island], places[face.island]);
                let uv = |&at: &u32| island.flat[at as usize] * place.scale + place.offset;
                face.flat.iter().map(uv).collect()
            };
            builder.shell(&weld(shell), Some(&uvs));
        }
    }
    builder.mesh
}

/// The mesh without normals, UVs and materials, of parts whose shells are welded.
pub(crate) fn bare(parts: &[(&str, Vec<Welded>)]) -> MeshData {
    let mut builder = Builder::default();
    for (name, shells) in parts {
        builder.part(name, "");
        for shell in shells {
            builder.shell(shell, None);
        }
    }
    builder.mesh
}

/// A place for each island of each shell of each part.
fn places(parts: &[PartShells]) -> Vec<Place> {
    let islands = || {
        parts.iter().flat_map(|part| {
            let islands = part.shells.iter().flat_map(|shell| &shell.islands);
            islands.map(|island| (part.material, island.flat_bounds()))
        })
    };
    let mut places = vec![Place { scale: 0.0, offset: DVec2::ZERO }; islands().count()];
    let mut done: Vec<&str> = Vec::new();
    for material in parts.iter().map(|part| part.material) {
        if done.contains(&material) {
            continue;
        }
        done.push(material);
        let of_material: Vec<_> =
            islands().enumerate().filter(|(_, (name, _))| *name == material).collect();
        let sizes: Vec<DVec2> =
            of_material.iter().map(|(_, (_, (low, high)))| *high - *low).collect();
        let packing = pack(&sizes);
        for ((island, (_, (low, _))), corner) in of_material.iter().zip(packing.corners) {
            let offset = corner - *low * packing.scale;
            places[*island] = Place { scale: packing.scale, offset };
        }
    }
    places
}

/// The UVs (y up) of a face's corners.
type FaceUvs<'a> = dyn Fn(&WeldedFace) -> Vec<DVec2> + 'a;

/// Collects shells into one mesh.
struct Builder {
    mesh: MeshData,
    /// The slot of the part that was begun last.
    material: u32,
    normals: HashMap<[i64; 3], u32>,
    uvs: HashMap<(u32, [i64; 2]), u32>,
}

impl Default for Builder {
    fn default() -> Self {
        let mesh = MeshData { face_starts: vec![0], ..MeshData::default() };
        Self { mesh, material: 0, normals: HashMap::new(), uvs: HashMap::new() }
    }
}

impl Builder {
    /// Begins a part; the shells that follow belong to it.
    fn part(&mut self, name: &str, material: &str) {
        self.mesh.parts.push(Part { name: name.to_owned(), axis: Vec3::Y });
        let names = &mut self.mesh.material_names;
        let known = names.iter().position(|known| known == material);
        self.material = known.unwrap_or(names.len()) as u32;
        if known.is_none() {
            names.push(material.to_owned());
        }
    }

    /// Adds a shell; it is shaded and laid out where UVs are given.
    fn shell(&mut self, welded: &Welded, uvs: Option<&FaceUvs<'_>>) {
        let part = self.mesh.parts.len() as u32 - 1;
        let material = self.material;
        let first = self.mesh.positions.len() as u32;
        self.mesh.positions.extend(welded.points.iter().map(|point| point.as_vec3()));
        let normals = welded.corner_normals();
        for (face, normals) in welded.faces.iter().zip(normals) {
            let laid = uvs.map(|uvs| uvs(face));
            for (corner, &point) in face.points.iter().enumerate() {
                let (uv, normal) = laid.as_ref().map_or((NO_INDEX, NO_INDEX), |laid| {
                    (self.uv(material, laid[corner]), self.normal(normals[corner]))
                });
                let position = first + point as u32;
                self.mesh.corners.push(Corner { position, uv, normal });
            }
            self.mesh.face_starts.push(self.mesh.corners.len() as u32);
            self.mesh.face_parts.push(PartId(part));
            self.mesh.face_materials.push(MaterialSlot(material));
        }
    }

    fn uv(&mut self, material: u32, at: DVec2) -> u32 {
        let uv = Vec2::new(at.x as f32, (1.0 - at.y) as f32);
        let key = (material, [cell(at.x), cell(at.y)]);
        number(&mut self.uvs, &mut self.mesh.uvs, key, uv)
    }

    fn normal(&mut self, normal: DVec3) -> u32 {
        let cell = |value: f64| (value * 1e4).round() as i64;
        let key = [cell(normal.x), cell(normal.y), cell(normal.z)];
        number(&mut self.normals, &mut self.mesh.normals, key, normal.as_vec3())
    }
}
