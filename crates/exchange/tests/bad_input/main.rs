//! Broken and hostile files: each is refused with one line that names file and place, nothing panics,
//! and nothing is written.

#![expect(clippy::unwrap_used, reason = "a test that can't be set up has failed")]

mod gltf;
mod images;
mod obj;

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use exchange::{ImageUse, read_image, read_model};
use image::ImageFormat::{Jpeg, OpenExr, Png, Tiff};
use raster::Unobserved;

use gltf::{gltf, gltf_cases};
use images::{chunk, deflated_zeros, encoded, image_cases, png, png_header};
use obj::{obj, obj_cases, utf16};

/// A file to open and words that its error must hold, the place among them.
struct Case {
    file: &'static str,
    content: Vec<u8>,
    says: &'static [&'static str],
}

fn case(file: &'static str, content: impl Into<Vec<u8>>, says: &'static [&'static str]) -> Case {
    Case { file, content: content.into(), says }
}

fn put_neighbours(folder: &Path) {
    for (name, content) in [
        ("bad.mtl", b"newmtl a\nKd red green blue\n".to_vec()),
        ("climb.mtl", b"newmtl a\nmap_Kd /etc/hostname\n".to_vec()),
        ("nan.mtl", b"newmtl a\nPr nan\n".to_vec()),
        ("short.mtl", b"newmtl a\nKd 0.5 0.5\n".to_vec()),
        ("utf16.mtl", utf16("newmtl a\n")),
        ("bomb.mtl", b"newmtl a\nmap_Kd bomb.png\n".to_vec()),
        ("cutmap.mtl", b"newmtl a\nmap_Kd cut.png\n".to_vec()),
        ("bomb.png", png_header(60_000, 60_000)),
        ("cut.png", png(40, 40)[..60].to_vec()),
    ] {
        fs::write(folder.join(name), content).unwrap();
    }
}

fn refuses(cases: &[Case], read: impl Fn(&Path) -> Option<String>) {
    let folder = tempfile::tempdir().unwrap();
    put_neighbours(folder.path());
    let mut wrong = String::new();
    for Case { file, content, says } in cases {
        let path = folder.path().join(file);
        fs::write(&path, content).unwrap();
        let before = fs::read_dir(folder.path()).unwrap().count();
        let message = read(&path);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), before, "{file} left a file");
        match message {
            None => writeln!(wrong, "{file}: was read").unwrap(),
            Some(message) => {
                if message.contains('\n') || !says.iter().all(|word| message.contains(word)) {
                    writeln!(wrong, "{file}: {message:?} lacks some of {says:?}").unwrap();
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

fn model_error(path: &Path) -> Option<String> {
    read_model(path, &Unobserved).err().map(|error| error.to_string())
}

#[test]
fn broken_obj_and_mtl_files_are_refused_with_their_line() {
    refuses(&obj_cases(), model_error);
}

#[test]
fn broken_gltf_files_are_refused_with_their_place() {
    refuses(&gltf_cases(), model_error);
}

#[test]
fn broken_images_are_refused_with_their_name() {
    refuses(&image_cases(), |path| {
        read_image(path, ImageUse::Colour).err().map(|error| error.to_string())
    });
}

#[test]
fn what_is_no_file_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("missing.obj");
    let message = model_error(&missing).unwrap();
    assert!(message.contains("missing.obj: opening: "), "{message}");
    fs::create_dir(folder.path().join("folder.obj")).unwrap();
    let message = model_error(&folder.path().join("folder.obj")).unwrap();
    assert!(message.contains("folder.obj: this is no file"), "{message}");
    assert!(read_image(folder.path(), ImageUse::Values).is_err());
}

/// The most memory that this process had so far, in MiB.
#[cfg(target_os = "linux")]
fn most_memory() -> usize {
    let status = fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<usize>().unwrap() / 1024
}

#[cfg(target_os = "linux")]
#[test]
fn a_small_file_that_inflates_without_end_takes_little_memory() {
    // 512 MiB of zeros behind a header of 8 x 8, and text and profile chunks of the same.
    let zeros = deflated_zeros(512 << 20);
    let mut header = Vec::new();
    header.extend(8u32.to_be_bytes());
    header.extend(8u32.to_be_bytes());
    header.extend([8, 0, 0, 0, 0]);
    let named = [b"name\0\0", zeros.as_slice()].concat();
    for kind in [b"zTXt", b"iCCP", b"IDAT"] {
        let bomb = [
            b"\x89PNG\r\n\x1a\n".to_vec(),
            chunk(b"IHDR", &header),
            if kind == b"IDAT" { Vec::new() } else { chunk(kind, &named) },
            chunk(b"IDAT", &zeros),
            chunk(b"IEND", &[]),
        ]
        .concat();
        assert!(bomb.len() < 4 << 20);
        let before = most_memory();
        // Read or refused: both are right.
        if let Ok(read) = exchange::read_image_bytes("bomb.png", &bomb, ImageUse::Values) {
            assert_eq!(read.bitmap.values().len(), 64);
        }
        let after = most_memory();
        assert!(after < before + 128, "{before} MiB, then {after} for {kind:?}");
    }
}

#[test]
fn zero_area_uvs_and_faces_are_accepted() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("flat.obj");
    fs::write(&path, "v 0 0 0\nv 0 0 0\nv 0 0 0\nvt 0.5 0.5\nf 1/1 2/1 3/1\n").unwrap();
    assert_eq!(read_model(&path, &Unobserved).unwrap().model.mesh().face_count(), 1);
}

#[test]
fn the_unchanged_triangle_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("fine.gltf");
    fs::write(&path, gltf(|text| text)).unwrap();
    assert_eq!(read_model(&path, &Unobserved).unwrap().model.mesh().face_count(), 1);
}

#[test]
fn damaged_files_never_panic() {
    let mut random = 0x9E37_79B9_7F4A_7C15u64;
    let mut next = move |below: usize| {
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        (random % below as u64) as usize
    };
    let obj = obj("vt 0 1\nvn 0 0 1\no a\ng b\nusemtl c\nf 1/1/1 -2/1/1 3//1\nl 1 2\n");
    let models = [("a.obj", obj.into_bytes()), ("a.gltf", gltf(|text| text).into_bytes())];
    let images = [Png, Jpeg, OpenExr, Tiff].map(encoded);
    for round in 0..4000 {
        let (name, whole) = &models[round % models.len()];
        let broken = damaged(whole, &mut next);
        _ = exchange::read_model_bytes(name, &broken, &exchange::Embedded(&[]), &Unobserved);
        let broken = damaged(&images[round % images.len()], &mut next);
        _ = exchange::read_image_bytes("a", &broken, ImageUse::Colour);
    }
}

fn damaged(whole: &[u8], next: &mut impl FnMut(usize) -> usize) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    for _ in 0..=next(6) {
        let at = next(bytes.len());
        match next(4) {
            0 => bytes[at] = next(256) as u8,
            1 => bytes[at] ^= 1 << next(8),
            2 => {
                bytes.remove(at);
            }
            _ => bytes.insert(at, b"0123456789-e./ \n,"[next(17)]),
        }
    }
    if next(4) == 0 {
        bytes.truncate(next(bytes.len()).max(1));
    }
    bytes
}
