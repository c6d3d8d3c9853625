//! OBJ files. The library parses; `obj_scan` checks what it is handed and keeps what it would lose.
//!
//! Rules. Where a file has objects (`o`), they are the parts and groups (`g`) are not kept; else groups
//! are the parts. A name that comes again goes on with its part. Positions, UVs and normals keep the
//! file's order; those that no face uses are left out. Vertex colours are taken as they stand (common
//! practice, no source: OBJ says nothing of them). The fourth number of a position is the weight of
//! rational curves and is ignored; so is the third of a UV. Faces may name only what stands before them.

use std::io;
use std::sync::Arc;

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
use crate::obj_scan::{Input, ObjScan, Stop};

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
    let opened = |source| ExchangeError::Io { file: file.to_owned(), doing: "opening", source };
    let parsed = match parse(ObjScan::new(file, open().map_err(opened)?, size, false, observer)) {
        Err(Stop::ColoursCameLate) => {
            parse(ObjScan::new(file, open().map_err(opened)?, size, true, observer))
        }
        other => other,
    };
    let (found, mesh) = match parsed {
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
    let data = assemble(&found, &mesh);
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

fn parse(mut scan: ObjScan<'_>) -> Result<(Found, tobj::Mesh), Stop> {
    // No library and no material is handed on, so there is one model and nothing to load.
    let parsed = tobj::load_obj_buf(&mut scan, &tobj::LoadOptions::default(), |_| {
        Err(tobj::LoadError::OpenFileFailed)
    });
    if let Some(stop) = scan.stop {
        return Err(stop);
    }
    let file = scan.file();
    match parsed {
        Ok((mut models, _)) if models.len() == 1 => Ok((scan.found, models.remove(0).mesh)),
        Ok(_) => Err(ExchangeError::file(file, "there is no face in it").into()),
        Err(error) => Err(ExchangeError::file(file, error.to_string()).into()),
    }
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

fn assemble(found: &Found, mesh: &tobj::Mesh) -> MeshData {
    let positions = found.positions.in_file_order();
    let mut data = MeshData {
        positions: placed(&mesh.positions, &positions, |p: [f32; 3]| Vec3::from(p)),
        colours: placed(&mesh.vertex_color, &positions, |[r, g, b]: [f32; 3]| [r, g, b, 1.0]),
        face_starts: starts(found.faces as usize, &mesh.face_arities),
        ..MeshData::default()
    };
    let uvs = index_list(&found.uvs, &mesh.texcoord_indices);
    let normals = index_list(&found.normals, &mesh.normal_indices);
    if found.uvs.count > 0 {
        // OBJ's v points up, ours down.
        data.uvs = placed(&mesh.texcoords, &uvs.0, |[u, v]: [f32; 2]| Vec2::new(u, 1.0 - v));
    }
    if found.normals.count > 0 {
        data.normals = placed(&mesh.normals, &normals.0, |n: [f32; 3]| Vec3::from(n));
    }
    let corner = |(at, &position): (usize, &u32)| Corner {
        position: positions[position as usize],
        uv: uvs.index(at),
        normal: normals.index(at),
    };
    data.corners = mesh.indices.iter().enumerate().map(corner).collect();
    name_faces(found, &mut data);
    data
}

/// Where faces begin; the library lists no corner counts where all faces are triangles.
fn starts(faces: usize, corner_counts: &[u32]) -> Vec<u32> {
    if corner_counts.is_empty() {
        return (0..=faces as u32).map(|face| face * 3).collect();
    }
    let mut starts = Vec::with_capacity(faces + 1);
    starts.push(0);
    starts.extend(corner_counts.iter().scan(0, |end, &count| {
        *end += count;
        Some(*end)
    }));
    starts
}

/// Values of the library's list, put where they stood in the file.
fn placed<const N: usize, T: Clone + Default>(
    values: &[f32],
    places: &[u32],
    value: impl Fn([f32; N]) -> T,
) -> Vec<T> {
    let (entries, _) = values.as_chunks::<N>();
    let mut list = vec![T::default(); entries.len()];
    for (&entry, &place) in entries.iter().zip(places) {
        if let Some(slot) = list.get_mut(place as usize) {
            *slot = value(entry);
        }
    }
    list
}

/// New numbers, the library's index of each corner, and which corners have none.
struct IndexList<'a>(Vec<u32>, &'a [u32], &'a Used);

fn index_list<'a>(used: &'a Used, corners: &'a [u32]) -> IndexList<'a> {
    IndexList(used.in_file_order(), corners, used)
}

impl IndexList<'_> {
    fn index(&self, corner: usize) -> u32 {
        let Self(places, corners, used) = self;
        match corners.get(corner) {
            Some(&index) if !used.is_left_out(corner) => places[index as usize],
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
