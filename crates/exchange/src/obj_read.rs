//! OBJ files. The library parses; `obj_scan` checks what it is handed and keeps what it would lose.
//!
//! Rules. Where a file has objects (`o`), they are the parts and groups (`g`) are not kept; else groups
//! are the parts. A name that comes again goes on with its part. Positions, UVs and normals keep the
//! file's order; those that no face uses are left out. Vertex colours are taken as they stand (common
//! practice, no source: OBJ says nothing of them). The fourth number of a position is the weight of
//! rational curves and is ignored; so is the third of a UV. Faces may name only what stands before them.

use std::io;
use std::panic::resume_unwind;
use std::sync::Arc;
use std::sync::mpsc::sync_channel;
use std::thread;

use document::Model;
use glam::{Vec2, Vec3};
use raster::Observer;
use surface::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId};

use crate::error::ExchangeError;
use crate::folder::Beside;
use crate::import::Imported;
use crate::mtl_read::read_materials;
use crate::notes::Notes;
use crate::obj_found::{Found, Names, Run, Used};
use crate::obj_scan::{BUFFERS_AHEAD, Handed, Input, ObjScan, Stop};

/// The name of the part of faces before any object or group, and of the material of faces without.
const UNNAMED: &str = "unnamed";

/// Reads an OBJ file of about `size` bytes and the material libraries and maps that it names.
/// `open` gives its bytes, and gives them again when asked again.
pub(crate) fn read_obj<'a>(
    file: &'a str,
    size: u64,
    open: &dyn Fn() -> io::Result<Input<'a>>,
    beside: &dyn Beside,
    observer: &'a dyn Observer,
) -> Result<Imported, ExchangeError> {
    let pass = |coloured| {
        let input = open().map_err(|source| ExchangeError::Io {
            file: file.to_owned(),
            doing: "opening",
            source,
        })?;
        parse(ObjScan::new(file, size, coloured, observer), input, file)
    };
    let parsed = match pass(false) {
        Err(Stop::ColoursCameLate) => pass(true),
        other => other,
    };
    let (found, objects) = match parsed {
        Ok(parsed) => parsed,
        Err(Stop::Error(error)) => return Err(error),
        Err(Stop::ColoursCameLate) => return Err(ExchangeError::file(file, "changed while read")),
    };
    if found.faces == 0 {
        return Err(ExchangeError::file(file, "there is no face in it; export the model again"));
    }
    observer.check()?;
    let mut notes = Notes::default();
    tell(file, &found, &mut notes);
    let data = assemble(&found, objects);
    let mesh = Mesh::new(data).map_err(|error| ExchangeError::file(file, error.to_string()))?;
    let materials = read_materials(
        file,
        &found.libraries,
        mesh.material_names(),
        beside,
        &mut notes,
        observer,
    )?;
    Ok(Imported { model: Model::new(Arc::new(mesh), materials), notes: notes.into_lines() })
}

/// What the pass found, and the objects that the library was told of, in order.
fn parse(
    scan: ObjScan<'_>,
    input: Input<'_>,
    file: &str,
) -> Result<(Found, Vec<tobj::Model>), Stop> {
    let (hand_on, handed) = sync_channel(BUFFERS_AHEAD);
    let (found, parsed) = thread::scope(|scope| {
        let pass = scope.spawn(move || scan.run(input, &hand_on));
        // No library and no material is handed on, so there is nothing to load.
        let parsed =
            tobj::load_obj_buf(&mut Handed::new(handed), &tobj::LoadOptions::default(), |_| {
                Err(tobj::LoadError::OpenFileFailed)
            });
        (pass.join(), parsed)
    });
    let found = found.unwrap_or_else(|panic| resume_unwind(panic))?;
    let (objects, _) = parsed.map_err(|error| ExchangeError::file(file, error.to_string()))?;
    Ok((found, objects))
}

fn tell(file: &str, found: &Found, notes: &mut Notes) {
    if found.latin1 {
        notes.add(format!("names in {file} are not UTF-8: read as Latin-1"));
    }
    if found.lines + found.points > 0 {
        let (lines, points) = (found.lines, found.points);
        notes.add(format!("{lines} lines and {points} points were left out: only faces are kept"));
    }
    if found.free_forms > 0 {
        notes.add(format!("{} free-form curves or surfaces were left out", found.free_forms));
    }
    if found.positions.unused() > 0 {
        let unused = found.positions.unused();
        notes.add(format!("{unused} positions that no face uses were left out"));
    }
    if found.uncoloured > 0 {
        let without = found.uncoloured;
        notes.add(format!("{without} positions have no vertex colour, others do: they are white"));
    }
    if !found.objects.list.is_empty() && found.runs.iter().any(|run| run.group.is_some()) {
        notes.add("groups inside objects were not kept: objects are the parts");
    }
}

fn assemble(found: &Found, objects: Vec<tobj::Model>) -> MeshData {
    let mut data = MeshData {
        positions: vec![Vec3::ZERO; found.positions.used()],
        uvs: vec![Vec2::ZERO; found.uvs.used()],
        normals: vec![Vec3::ZERO; found.normals.used()],
        face_starts: Vec::with_capacity(found.faces as usize + 1),
        corners: Vec::with_capacity(found.corners as usize),
        ..MeshData::default()
    };
    if objects.iter().any(|object| !object.mesh.vertex_color.is_empty()) {
        data.colours = vec![[0.0; 4]; data.positions.len()];
    }
    data.face_starts.push(0);
    let positions = found.positions.in_file_order();
    let others = found.uvs.in_file_order().zip(found.normals.in_file_order());
    for (object, (positions, (uvs, normals))) in objects.into_iter().zip(positions.zip(others)) {
        let mesh = object.mesh;
        place(&mut data.positions, &positions, &mesh.positions, |p: [f32; 3]| Vec3::from(p));
        place(&mut data.colours, &positions, &mesh.vertex_color, |[r, g, b]: [f32; 3]| {
            [r, g, b, 1.0]
        });
        // OBJ's v points up, ours down.
        place(&mut data.uvs, &uvs, &mesh.texcoords, |[u, v]: [f32; 2]| Vec2::new(u, 1.0 - v));
        place(&mut data.normals, &normals, &mesh.normals, |n: [f32; 3]| Vec3::from(n));
        let first = data.corners.len();
        let uvs = IndexList { places: &uvs, corners: &mesh.texcoord_indices, list: &found.uvs };
        let normals =
            IndexList { places: &normals, corners: &mesh.normal_indices, list: &found.normals };
        let corner = |(at, &position): (usize, &u32)| Corner {
            position: positions[position as usize],
            uv: uvs.index(at, first),
            normal: normals.index(at, first),
        };
        data.corners.extend(mesh.indices.iter().enumerate().map(corner));
        start_faces(&mut data.face_starts, &mesh);
    }
    name_faces(found, &mut data);
    data
}

/// Adds where faces end; the library lists no corner counts where all faces are triangles.
fn start_faces(starts: &mut Vec<u32>, mesh: &tobj::Mesh) {
    let mut end = starts.last().copied().unwrap_or(0);
    let mut next = |count: u32| {
        end += count;
        end
    };
    if mesh.face_arities.is_empty() {
        starts.extend((0..mesh.indices.len() / 3).map(|_| next(3)));
    } else {
        starts.extend(mesh.face_arities.iter().map(|&count| next(count)));
    }
}

/// Puts values of an object's list where they stood in the file.
fn place<const N: usize, T>(
    list: &mut [T],
    places: &[u32],
    values: &[f32],
    value: impl Fn([f32; N]) -> T,
) {
    let (entries, _) = values.as_chunks::<N>();
    for (&entry, &place) in entries.iter().zip(places) {
        if let Some(slot) = list.get_mut(place as usize) {
            *slot = value(entry);
        }
    }
}

/// New numbers, the library's index of each corner of an object, and which corners of all have none.
struct IndexList<'a> {
    places: &'a [u32],
    corners: &'a [u32],
    list: &'a Used,
}

impl IndexList<'_> {
    /// The index of an object's corner, whose first is corner `first` of all.
    fn index(&self, corner: usize, first: usize) -> u32 {
        match self.corners.get(corner) {
            Some(&index) if !self.list.is_left_out(first + corner) => self.places[index as usize],
            _ => NO_INDEX,
        }
    }
}

/// Parts and materials of faces, numbered as faces first name them.
fn name_faces(found: &Found, data: &mut MeshData) {
    let by_object = !found.objects.list.is_empty();
    let (mut parts, mut materials) = (Names::default(), Names::default());
    let unnamed = || UNNAMED.to_owned();
    let none_before = (found.runs.first().map_or(u32::MAX, |run| run.face) > 0).then(Run::default);
    let runs: Vec<Run> = none_before.into_iter().chain(found.runs.iter().copied()).collect();
    for (at, run) in runs.iter().enumerate() {
        let end = runs.get(at + 1).map_or(found.faces, |next| next.face);
        let length = (end - run.face) as usize;
        if length == 0 {
            continue;
        }
        let part = if by_object {
            run.object.map(|object| found.objects.list[object as usize].clone())
        } else {
            run.group.map(|group| found.groups.list[group as usize].clone())
        };
        let part = parts.number(part.filter(|name| !name.is_empty()).unwrap_or_else(unnamed));
        let material = run.material.map(|number| found.materials.list[number as usize].clone());
        let material = materials.number(material.unwrap_or_else(unnamed));
        data.face_parts.extend(std::iter::repeat_n(PartId(part), length));
        data.face_materials.extend(std::iter::repeat_n(MaterialSlot(material), length));
    }
    data.parts = parts.list.into_iter().map(|name| Part { name, axis: Vec3::Y }).collect();
    data.material_names = materials.list;
}
