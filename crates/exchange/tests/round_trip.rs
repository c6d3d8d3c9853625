//! What is exported and read again is the same: OBJ to the bit, GLB up to triangulation, PNG exactly.

#![expect(clippy::unwrap_used, reason = "a test that can't be set up has failed")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::Arc;

use document::{Model, PassMap, PassMapKind};
use exchange::{
    BitDepth, Embedded, ExchangeError, ExportFiles, ExportMaterial, ExportModel, ImageUse,
    MaterialMaps, export, read_image, read_model, read_model_bytes,
};
use glam::{DVec3, Vec3};
use raster::{Bitmap, Extent, Unobserved};
use surface::{Surface, TriangleId};

const EXTENT: Extent = Extent { width: 64, height: 64 };
const ALL: ExportFiles = ExportFiles { maps: Some(BitDepth::Sixteen), obj: true, glb: true };

/// A board with a dent (one concave face), a bolt of quads and triangles with split normals, colours,
/// and one face without UVs or normals.
const MODEL: &str =
    "v 0 0 0 0.1 0.2 0.3\nv 4 0 0 1 0 0\nv 4 4 0 0 1 0\nv 2 1 0 0 0 1\nv 0 4 0 1 1 1
v 0 0 -1 0 0 0\nv 1.5e-7 0.1 -1 0.25 0.5 0.75\nv -3.4e38 0.333333343 -1 0 0 0\nv 1 1 -1 0 0 0
vt 0 0\nvt 1 0\nvt 1 1\nvt 0.5 0.25\nvt 0 1\nvt 0.1 0.7\n
vn 0 0 1\nvn 0 1 0\nvn 0.6 0.8 0
o board\nusemtl oak\nf 1/1/1 2/2/1 3/3/1 4/4/1 5/5/1
o bolt\nusemtl iron\nf 6/1/2 7/2/3 9/6/1 8/4/2\nf 6/1/1 9/6/2 7/3/3\nusemtl oak\nf 1 6 7
";

fn model() -> Model {
    read_model_bytes("m.obj", MODEL.as_bytes(), &Embedded(&[]), &Unobserved).unwrap().model
}

fn maps(seed: usize) -> MaterialMaps {
    let map = |components: usize, step: usize| {
        let count = EXTENT.texels() * components;
        let values = (0..count).map(|n| ((n * step + seed * 977) % 65_536) as u16).collect();
        Bitmap::new(EXTENT, components, values).unwrap()
    };
    MaterialMaps { base_colour: map(3, 40_503), roughness: map(1, 10_007), metalness: map(1, 31) }
}

fn normal_map() -> PassMap {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let image = image::RgbImage::from_pixel(4, 4, image::Rgb([128, 128, 255]));
    image.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    let bytes: Arc<[u8]> = bytes.into_inner().into();
    let media_type = "image/png".to_owned();
    PassMap { kind: PassMapKind::Normal, media_type, bytes, factor: [0.5; 3] }
}

fn export_to(
    folder: &Path,
    name: &str,
    model: &Model,
    pass_maps: &[PassMap],
    files: ExportFiles,
) -> Result<Vec<String>, ExchangeError> {
    let surface = Surface::prepare(Arc::clone(model.mesh()), &Unobserved).unwrap();
    let names = model.mesh().material_names();
    let materials: Vec<_> = names.iter().map(|name| ExportMaterial { name, pass_maps }).collect();
    let exported = ExportModel { name, surface: &surface, materials: &materials };
    let mut source = |slot: surface::MaterialSlot| Ok(maps(slot.0 as usize));
    let paths = export(&exported, &mut source, files, folder, &Unobserved)?;
    let file_name = |path: &std::path::PathBuf| {
        assert_eq!(path.parent(), Some(folder));
        path.file_name().unwrap().to_str().unwrap().to_owned()
    };
    Ok(paths.iter().map(file_name).collect())
}

#[test]
fn an_obj_comes_back_to_the_bit() {
    let folder = tempfile::tempdir().unwrap();
    let first = model();
    export_to(folder.path(), "bell", &first, &[normal_map()], ALL).unwrap();
    let second = read_model(&folder.path().join("bell.obj"), &Unobserved).unwrap();
    assert_eq!(second.model.mesh().data(), first.mesh().data());
    assert!(second.notes.is_empty(), "{:?}", second.notes);
    for (seed, material) in second.model.materials().iter().enumerate() {
        let maps = maps(seed);
        assert_eq!(material.base_colour_map.as_deref(), Some(&maps.base_colour));
        assert_eq!(material.roughness_map.as_deref(), Some(&maps.roughness));
        assert_eq!(material.metalness_map.as_deref(), Some(&maps.metalness));
        assert_eq!(material.pass_maps[0].bytes, normal_map().bytes);
    }
}

/// Each triangle as the bits of its corners' position, colour, UV and normal, and its names.
type Triangles = BTreeMap<(String, String, Vec<u32>), usize>;

fn triangles(model: &Model) -> Triangles {
    let mesh = model.mesh();
    let surface = Surface::prepare(Arc::clone(mesh), &Unobserved).unwrap();
    let mut triangles = Triangles::new();
    for index in 0..surface.triangle_count() {
        let triangle = surface.triangle(TriangleId(index as u32));
        let mut values = Vec::new();
        for corner in triangle.corners.map(|corner| mesh.corners()[corner as usize]) {
            // All edges of this model are sharp. A triangle without an area has no normal of its own.
            let flat = surface.geometric_normal(TriangleId(index as u32)).try_normalize();
            let flat = flat.unwrap_or(DVec3::Y).as_vec3();
            let normal = mesh.normals().get(corner.normal as usize).copied().unwrap_or(flat);
            let uv = mesh.uvs().get(corner.uv as usize).copied().unwrap_or_default();
            values.extend(mesh.positions()[corner.position as usize].to_array());
            values.extend(mesh.data().colours[corner.position as usize]);
            values.extend(uv.to_array());
            values.extend(normal.to_array());
        }
        // Which corner comes first means nothing.
        let each = values.len() / 3;
        let turns = (0..3).map(|turn| {
            let mut turned = values.clone();
            turned.rotate_left(turn * each);
            turned.iter().map(|v| (v + 0.0).to_bits()).collect::<Vec<u32>>()
        });
        let face = triangle.face as usize;
        let part = mesh.parts()[mesh.face_part(face).0 as usize].name.clone();
        let material = mesh.material_names()[mesh.face_material(face).0 as usize].clone();
        *triangles.entry((part, material, turns.min().unwrap())).or_insert(0) += 1;
    }
    triangles
}

#[test]
fn a_glb_comes_back_up_to_triangulation() {
    let folder = tempfile::tempdir().unwrap();
    let first = model();
    export_to(folder.path(), "bell", &first, &[], ALL).unwrap();
    let second = read_model(&folder.path().join("bell.glb"), &Unobserved).unwrap();
    assert!(second.notes.is_empty(), "{:?}", second.notes);
    assert_eq!(triangles(&second.model), triangles(&first));
    // Positions that were split by UVs and normals are shared again, within a part.
    assert_eq!(second.model.mesh().positions().len(), 5 + 5);
    // And what comes back goes out the same: the second time, to the byte.
    let again = tempfile::tempdir().unwrap();
    export_to(again.path(), "bell", &second.model, &[], ALL).unwrap();
    let third = read_model(&again.path().join("bell.glb"), &Unobserved).unwrap();
    assert_eq!(triangles(&third.model), triangles(&first));
}

#[test]
fn a_glb_holds_the_maps_rounded_to_eight_bits() {
    let folder = tempfile::tempdir().unwrap();
    let first = model();
    export_to(folder.path(), "bell", &first, &[normal_map()], ALL).unwrap();
    let second = read_model(&folder.path().join("bell.glb"), &Unobserved).unwrap().model;
    let rounded = |map: &Bitmap<u16>| -> Vec<u16> {
        map.values().iter().map(|&v| ((u32::from(v) + 128) / 257 * 257) as u16).collect()
    };
    assert_eq!(second.mesh().material_names(), first.mesh().material_names());
    for (seed, material) in second.materials().iter().enumerate() {
        let maps = maps(seed);
        for (got, expected) in [
            (&material.base_colour_map, &maps.base_colour),
            (&material.roughness_map, &maps.roughness),
            (&material.metalness_map, &maps.metalness),
        ] {
            assert!(got.as_ref().unwrap().values() == rounded(expected));
        }
        assert_eq!(material.pass_maps, [normal_map()]);
    }
}

#[test]
fn png_maps_are_exact_in_sixteen_bits_and_nearest_in_eight() {
    let folder = tempfile::tempdir().unwrap();
    for depth in [BitDepth::Sixteen, BitDepth::Eight] {
        let files = ExportFiles { maps: Some(depth), obj: false, glb: false };
        let written = export_to(folder.path(), "bell", &model(), &[], files).unwrap();
        assert_eq!(written.len(), 6);
        let read = read_image(&folder.path().join("bell_oak_base_colour.png"), ImageUse::Colour);
        for (&got, &sent) in read.unwrap().bitmap.values().iter().zip(maps(0).base_colour.values())
        {
            match depth {
                BitDepth::Sixteen => assert_eq!(got, sent),
                BitDepth::Eight => assert!(got % 257 == 0 && got.abs_diff(sent) <= 128),
            }
        }
    }
}

#[test]
fn the_same_model_gives_the_same_bytes() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let written = export_to(one.path(), "bell", &model(), &[normal_map()], ALL).unwrap();
    export_to(two.path(), "bell", &model(), &[normal_map()], ALL).unwrap();
    for file in written {
        let bytes = |folder: &Path| fs::read(folder.join(&file)).unwrap();
        assert!(bytes(one.path()) == bytes(two.path()), "{file}");
    }
}

#[test]
fn hostile_names_stay_in_the_folder() {
    let outer = tempfile::tempdir().unwrap();
    for (number, name) in
        ["../../x", "CON", "a:b", "\u{202e}x", "/x", "a\nb", &"x".repeat(300)].iter().enumerate()
    {
        let folder = outer.path().join(number.to_string());
        fs::create_dir(&folder).unwrap();
        let text = MODEL.replace("oak", &name.replace('\n', " ")).replace("bolt", "bo\u{202e}lt");
        let model = read_model_bytes("m.obj", text.as_bytes(), &Embedded(&[]), &Unobserved);
        let model = model.unwrap().model;
        let written = export_to(&folder, name, &model, &[], ALL).unwrap();
        assert_eq!(fs::read_dir(&folder).unwrap().count(), written.len());
        for file in &written {
            assert!(
                file.len() < 200 && !file.contains(['/', '\\', ':', '\u{202e}', '\n']),
                "{file}"
            );
        }
        let obj =
            written.iter().find(|file| Path::new(file).extension().unwrap() == "obj").unwrap();
        assert_eq!(read_model(&folder.join(obj), &Unobserved).unwrap().notes, [""; 0]);
    }
    assert_eq!(fs::read_dir(outer.path()).unwrap().count(), 7);
}

#[test]
fn a_folder_that_is_missing_or_read_only_is_refused_and_left_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("missing");
    let message = export_to(&missing, "bell", &model(), &[], ALL).unwrap_err().to_string();
    assert!(message.contains("missing: ") && message.contains("make it first"), "{message}");
    assert!(!missing.exists());
    let file = folder.path().join("file");
    fs::write(&file, b"kept").unwrap();
    let message = export_to(&file, "bell", &model(), &[], ALL).unwrap_err().to_string();
    assert!(message.contains("file: this is no folder"), "{message}");
    assert_eq!(fs::read(&file).unwrap(), b"kept");
}

/// Nobody can make files there, not even root.
#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_takes_no_files_is_refused() {
    let message =
        export_to(Path::new("/proc"), "bell", &model(), &[], ALL).unwrap_err().to_string();
    assert!(
        message.contains("/proc/bell_oak_base_colour.png: the file can't be made"),
        "{message}"
    );
}

#[test]
fn an_export_that_fails_half_way_replaces_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let model = model();
    fs::write(folder.path().join("bell_oak_roughness.png"), b"old").unwrap();
    let surface = Surface::prepare(Arc::clone(model.mesh()), &Unobserved).unwrap();
    let material = ExportMaterial { name: "oak", pass_maps: &[] };
    let materials = [material, ExportMaterial { name: "iron", ..material }];
    let exported = ExportModel { name: "bell", surface: &surface, materials: &materials };
    let mut source = |slot: surface::MaterialSlot| match slot.0 {
        0 => Ok(maps(0)),
        _ => Err(ExchangeError::from(raster::Cancelled)),
    };
    let failed = export(&exported, &mut source, ALL, folder.path(), &Unobserved);
    assert!(matches!(failed, Err(ExchangeError::Cancelled(_))));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    assert_eq!(fs::read(folder.path().join("bell_oak_roughness.png")).unwrap(), b"old");
}

#[test]
fn maps_of_the_wrong_kind_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let model = model();
    let surface = Surface::prepare(Arc::clone(model.mesh()), &Unobserved).unwrap();
    let material = ExportMaterial { name: "oak", pass_maps: &[] };
    let exported = ExportModel { name: "bell", surface: &surface, materials: &[material; 2] };
    let mut source = |_| {
        let grey = Bitmap::filled(EXTENT, 1, 7);
        Ok(MaterialMaps { base_colour: grey.clone(), roughness: grey.clone(), metalness: grey })
    };
    assert!(export(&exported, &mut source, ALL, folder.path(), &Unobserved).is_err());
    let exported = ExportModel { materials: &[material], ..exported };
    assert!(export(&exported, &mut source, ALL, folder.path(), &Unobserved).is_err());
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn a_sculpt_without_uvs_goes_out_and_comes_back() {
    let text = "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 3 2\nf 1 2 4\nf 2 3 4\nf 3 1 4\n";
    let first = read_model_bytes("m.obj", text.as_bytes(), &Embedded(&[]), &Unobserved).unwrap();
    let folder = tempfile::tempdir().unwrap();
    export_to(folder.path(), "sculpt", &first.model, &[], ALL).unwrap();
    let glb = read_model(&folder.path().join("sculpt.glb"), &Unobserved).unwrap().model;
    assert_eq!(glb.mesh().positions(), [Vec3::ZERO, Vec3::Y, Vec3::X, Vec3::Z]);
    // Without normals glTF shades flat: so what was seen while painting is written, here the faces' own.
    let surface = Surface::prepare(Arc::clone(glb.mesh()), &Unobserved).unwrap();
    for triangle in (0..4).map(TriangleId) {
        for corner in surface.triangle(triangle).corners {
            let normal =
                glb.mesh().normals()[glb.mesh().corners()[corner as usize].normal as usize];
            assert!((normal - surface.geometric_normal(triangle).as_vec3()).length() < 1e-6);
        }
    }
}
