//! Writes what the targets begin with: small files that are whole.

use std::fs;
use std::io::Cursor;
use std::path::Path;

use document::{Document, History};
use image::{DynamicImage, ImageFormat};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let put = |target: &str, name: &str, bytes: &[u8]| {
        let folder = corpus.join(target);
        fs::create_dir_all(&folder).and_then(|()| fs::write(folder.join(name), bytes))
    };
    put("obj", "model", scumble_fuzz::MODEL.as_bytes())?;
    put("mtl", "library", scumble_fuzz::LIBRARY.as_bytes())?;
    for (name, text) in lists() {
        put("edit_list", &name, text.as_bytes())?;
    }
    let json = gltf();
    put("gltf", "text", json.as_bytes())?;
    put("gltf", "binary", &glb(json.replace("\"uri\":\"a.bin\",", "").as_bytes(), &[63; 400]))?;
    for (name, bytes) in images()? {
        put("image", &name, &bytes)?;
    }
    let reference = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/reference/projects");
    for file in fs::read_dir(reference)? {
        let path = file?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        put("project", &name, &fs::read(&path)?)?;
    }
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("empty");
    store::Project::create(&path, &History::new(Document::default()))?.close()?;
    put("project", "empty", &fs::read(path)?)?;
    Ok(())
}

/// Lists with every edit that the manual shows.
fn lists() -> Vec<(String, String)> {
    let manual = include_str!("../../DEVELOPERS.md");
    let blocks = manual.split("```json\n").skip(1).filter_map(|rest| rest.split("```").next());
    let lists = blocks.filter(|block| block.contains("scumble_edits"));
    let small = |text: &str| text.replace("512", "64").replace("1024", "128");
    lists.enumerate().map(|(number, text)| (format!("manual {number}"), small(text))).collect()
}

fn gltf() -> String {
    let accessor = |view: u32, kind: u32, of: &str, count: u32| {
        format!(
            "{{\"bufferView\":{view},\"componentType\":{kind},\"count\":{count},\"type\":\"{of}\",\
             \"min\":[0,0,0],\"max\":[1,1,1]}}"
        )
    };
    format!(
        "{{\"asset\":{{\"version\":\"2.0\"}},\"scene\":0,\"scenes\":[{{\"nodes\":[0]}}],\
         \"nodes\":[{{\"mesh\":0,\"name\":\"bell\",\"scale\":[1,2,1],\"children\":[1]}},{{\"mesh\":0}}],\
         \"meshes\":[{{\"primitives\":[{{\"attributes\":{{\"POSITION\":0,\"TEXCOORD_0\":1}},\
         \"material\":0}}]}}],\
         \"materials\":[{{\"name\":\"bronze\",\"pbrMetallicRoughness\":{{\"metallicFactor\":0.5,\
         \"baseColorTexture\":{{\"index\":0}}}},\"normalTexture\":{{\"index\":0}}}}],\
         \"textures\":[{{\"source\":0}}],\"images\":[{{\"uri\":\"a.png\"}}],\
         \"buffers\":[{{\"uri\":\"a.bin\",\"byteLength\":400}}],\
         \"bufferViews\":[{{\"buffer\":0,\"byteLength\":72}},{{\"buffer\":0,\"byteOffset\":72,\
         \"byteLength\":48}}],\
         \"accessors\":[{},{}]}}",
        accessor(0, 5126, "VEC3", 6),
        accessor(1, 5126, "VEC2", 6).replace("[0,0,0]", "[0,0]").replace("[1,1,1]", "[1,1]"),
    )
}

/// The container of glTF 2.0, section "Binary glTF Layout".
fn glb(json: &[u8], buffer: &[u8]) -> Vec<u8> {
    let mut json = json.to_vec();
    json.resize(json.len().next_multiple_of(4), b' ');
    let word = |number: usize| (number as u32).to_le_bytes();
    let length = 12 + 8 + json.len() + 8 + buffer.len();
    [
        b"glTF",
        &word(2)[..],
        &word(length),
        &word(json.len()),
        b"JSON",
        &json,
        &word(buffer.len()),
        b"BIN\0",
        buffer,
    ]
    .concat()
}

fn images() -> Result<Vec<(String, Vec<u8>)>, image::ImageError> {
    let kinds = [
        ("grey", DynamicImage::new_luma8(3, 2)),
        ("grey 16", DynamicImage::new_luma16(2, 3)),
        ("colour", DynamicImage::new_rgb8(9, 8)),
        ("coverage 16", DynamicImage::new_rgba16(2, 2)),
        ("floats", DynamicImage::new_rgb32f(4, 2)),
    ];
    let formats = [
        ImageFormat::Png,
        ImageFormat::Jpeg,
        ImageFormat::Tiff,
        ImageFormat::OpenExr,
        ImageFormat::Hdr,
    ];
    let mut found = Vec::new();
    for (kind, image) in &kinds {
        for format in formats {
            let mut bytes = Cursor::new(Vec::new());
            // Not every format has every kind of pixel.
            if image.write_to(&mut bytes, format).is_ok() {
                found.push((format!("{kind} {format:?}"), bytes.into_inner()));
            }
        }
    }
    Ok(found)
}
