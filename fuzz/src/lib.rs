//! What the targets do with the bytes that they are given. Each function returns; whatever panics, hangs or
//! takes more memory than it may is a finding. Bytes that were one are kept and read by the tests.

use std::path::Path;
use std::sync::{Arc, OnceLock};

use document::Model;
use document::wire::{EditList, WireEdit};
use editor::{Editor, Settings};
use exchange::{Embedded, ImageUse};
use raster::{TextureSize, Unobserved};
use store::{Access, Opened, Project};

/// An OBJ file with all that it can name, for libraries and lists that belong to one.
pub const MODEL: &str = "\
mtllib a.mtl
v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 0 1\n
vt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nvn 0 0 1
o bell\nusemtl bronze\nf 1/1/1 2/2/1 3/3/1 4/4/1
o frame\nusemtl iron\nf 1/1 2/2 5/3\n";

/// Colours and files of the model's materials.
pub const LIBRARY: &str = "\
newmtl bronze\nKd 0.8 0.5 0.2\nPr 0.3\nPm 1\nmap_Kd -s 1 1 1 a.png\nmap_Pr a.png\nnorm a.png
newmtl iron\nKd 0.2 0.2 0.2\nNs 200\nd 0.5\nKe 1 0 0\nmap_Bump -bm 0.5 a.png\n";

/// The smallest image.
pub fn image() -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let image = image::DynamicImage::new_rgb8(2, 2);
    image.write_to(&mut bytes, image::ImageFormat::Png).expect("an image in memory is written");
    bytes.into_inner()
}

fn kept_image() -> &'static [u8] {
    static IMAGE: OnceLock<Vec<u8>> = OnceLock::new();
    IMAGE.get_or_init(image)
}

/// A project file: opened, checked, and if nothing is missing written to and opened again.
pub fn project(folder: &Path, bytes: &[u8]) {
    let path = folder.join("a.scumble");
    std::fs::write(&path, bytes).expect("a temporary file is written");
    look_at(&path);
    for beside in ["", "-wal", "-shm", "-journal"] {
        // Those that are not there need not be taken away.
        _ = std::fs::remove_file(folder.join(format!("a.scumble{beside}")));
    }
}

fn look_at(path: &Path) {
    if let Ok(opened) = Project::open(path, Access::ReadOnly) {
        let damage = opened.project.verify().unwrap_or_default();
        assert!(damage.len() >= opened.damage.len(), "{:?} {damage:?}", opened.damage);
    }
    let Ok(Opened { mut project, mut history, damage, .. }) =
        Project::open(path, Access::ReadWrite)
    else {
        return;
    };
    let document = history.present().clone();
    history.push(document, "again");
    let committed = project.commit(&store::Changes::of_history(&history));
    if damage.is_empty() && committed.is_ok() && project.close().is_ok() {
        let again = Project::open(path, Access::ReadOnly).expect("what was whole opens again");
        assert_eq!(again.history.entries().0.len(), history.entries().0.len());
    }
}

/// The model that lists are read for.
fn model() -> &'static Arc<Model> {
    static FOUND: OnceLock<Arc<Model>> = OnceLock::new();
    FOUND.get_or_init(|| {
        let beside = [("a.mtl", LIBRARY.as_bytes()), ("a.png", kept_image())];
        let read =
            exchange::read_model_bytes("a.obj", MODEL.as_bytes(), &Embedded(&beside), &Unobserved);
        Arc::new(read.expect("the model is whole").model)
    })
}

/// An edit list: read, written and read again, and applied.
pub fn edit_list(text: &str) {
    let Ok(list) = EditList::parse(text) else { return };
    let json = list.to_json().expect("what was read is written");
    let again = EditList::parse(&json).expect("what was written is read");
    assert!(list.edits.iter().map(|e| &e.edit).eq(again.edits.iter().map(|e| &e.edit)));
    // Large textures are slow, and no finding.
    let large = |edit: &WireEdit| match edit {
        WireEdit::Import { texture_size, .. } => *texture_size > 64,
        WireEdit::TextureSize { size, .. } => *size > 128,
        _ => false,
    };
    if list.edits.len() > 16 || list.edits.iter().any(|listed| large(&listed.edit)) {
        return;
    }
    let settings = Settings { threads: Some(1), ..Settings::default() };
    let mut editor = Editor::new(settings).expect("there are threads");
    let smallest = TextureSize::new(64).expect("a size");
    // That an edit is refused is no finding.
    _ = editor.apply_list(&list, model(), smallest, &Unobserved);
}

/// An OBJ file.
pub fn obj(bytes: &[u8]) {
    let beside = [("a.mtl", LIBRARY.as_bytes()), ("a.png", kept_image())];
    read_model("a.obj", bytes, &beside);
}

/// A library of materials.
pub fn mtl(bytes: &[u8]) {
    read_model("a.obj", MODEL.as_bytes(), &[("a.mtl", bytes), ("a.png", kept_image())]);
}

/// A glTF or GLB file.
pub fn gltf(bytes: &[u8]) {
    read_model("a.gltf", bytes, &[("a.bin", &[63; 400]), ("a.png", kept_image())]);
}

fn read_model(name: &str, bytes: &[u8], beside: &[(&str, &[u8])]) {
    if let Err(error) = exchange::read_model_bytes(name, bytes, &Embedded(beside), &Unobserved) {
        assert_one_line(&error.to_string());
    }
}

/// An image, as colour, as values and as an environment.
pub fn picture(bytes: &[u8]) {
    for wanted in [ImageUse::Colour, ImageUse::Values] {
        if let Err(error) = exchange::read_image_bytes("a.png", bytes, wanted) {
            assert_one_line(&error.to_string());
        }
    }
    if let Err(error) = exchange::read_environment_bytes("a.hdr", bytes) {
        assert_one_line(&error.to_string());
    }
}

fn assert_one_line(text: &str) {
    assert!(!text.is_empty() && !text.contains(['\n', '\r']), "{text:?}");
}
