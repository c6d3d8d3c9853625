//! What OBJ and MTL files become: polygons, names, order, materials, and the notes on what is not kept.

#![expect(clippy::unwrap_used, reason = "a test that can't be set up has failed")]

use std::fmt::Write;
use std::sync::atomic::{AtomicU64, Ordering};

use exchange::{Embedded, ExchangeError, Imported, read_model_bytes};
use glam::{Vec2, Vec3};
use raster::{Observer, Unobserved};
use surface::NO_INDEX;

fn read(obj: &str, beside: &[(&str, &[u8])]) -> Imported {
    read_model_bytes("bell.obj", obj.as_bytes(), &Embedded(beside), &Unobserved).unwrap()
}

const SQUARE: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n";

#[test]
fn polygons_stay_polygons_and_negative_indices_count_back() {
    let read = read(&format!("{SQUARE}f 1 2 3 4\nf -4 -3 -2\n"), &[]);
    let mesh = read.model.mesh();
    assert_eq!(mesh.data().face_starts, [0, 4, 7]);
    let positions: Vec<u32> = mesh.corners().iter().map(|corner| corner.position).collect();
    assert_eq!(positions, [0, 1, 2, 3, 0, 1, 2]);
    assert!(read.notes.is_empty(), "{:?}", read.notes);
}

#[test]
fn positions_keep_their_order_though_faces_use_them_in_another() {
    let read = read("v 0 0 0\nv 9 9 9\nv 1 0 0\nv 1 1 0\nf 4 1 3\n", &[]);
    let mesh = read.model.mesh();
    assert_eq!(mesh.positions(), [Vec3::ZERO, Vec3::X, Vec3::new(1., 1., 0.)]);
    let positions: Vec<u32> = mesh.corners().iter().map(|corner| corner.position).collect();
    assert_eq!(positions, [2, 0, 1]);
    assert_eq!(read.notes, ["1 positions that no face uses were left out"]);
}

#[test]
fn corners_without_uv_or_normal_have_none() {
    // The second face has neither: no other corner's may stand in for it.
    let text = format!(
        "{SQUARE}vt 0.25 0.75\nvn 0 0 1\nf 1/1/1 2/1/1 3/1/1\nf 1 3 4\nf 1//1 2//1 3//1\nf 1/1 2/1 3/1\n"
    );
    let read = read(&text, &[]);
    let corners = read.model.mesh().corners();
    let kinds: Vec<(bool, bool)> =
        corners.iter().map(|c| (c.uv != NO_INDEX, c.normal != NO_INDEX)).collect();
    assert_eq!(kinds[0], (true, true));
    assert_eq!(kinds[3], (false, false));
    assert_eq!(kinds[6], (false, true));
    assert_eq!(kinds[9], (true, false));
    // v points up in OBJ and down here.
    assert_eq!(read.model.mesh().uvs(), [Vec2::new(0.25, 0.25)]);
}

#[test]
fn the_very_first_corner_may_be_without_uv() {
    let read = read("v 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0 1\nvt 1 1\nf 1 2/2 3/2\n", &[]);
    let mesh = read.model.mesh();
    assert_eq!(mesh.corners()[0].uv, NO_INDEX);
    assert_eq!(mesh.uvs()[mesh.corners()[1].uv as usize], Vec2::new(1.0, 0.0));
}

#[test]
fn objects_are_parts_and_a_name_that_comes_again_goes_on() {
    let text = format!(
        "{SQUARE}o bell\nusemtl bronze\nf 1 2 3\no board\nusemtl oak\nf 1 3 4\no bell\nf 2 3 4\n"
    );
    let read = read(&text, &[]);
    let mesh = read.model.mesh();
    let names: Vec<&str> = mesh.parts().iter().map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["bell", "board"]);
    assert_eq!((0..3).map(|face| mesh.face_part(face).0).collect::<Vec<_>>(), [0, 1, 0]);
    // A material lasts over objects, until the next.
    assert_eq!((0..3).map(|face| mesh.face_material(face).0).collect::<Vec<_>>(), [0, 1, 1]);
    assert_eq!(mesh.material_names(), ["bronze", "oak"]);
}

#[test]
fn groups_are_parts_only_where_there_are_no_objects() {
    let parts = |text: String| -> Vec<String> {
        read(&text, &[]).model.mesh().parts().iter().map(|part| part.name.clone()).collect()
    };
    assert_eq!(parts(format!("{SQUARE}f 1 2 3\ng rim a\nf 1 3 4\n")), ["unnamed", "rim a"]);
    assert_eq!(parts(format!("{SQUARE}o bell\ng rim\nf 1 2 3\ng crown\nf 1 3 4\n")), ["bell"]);
}

#[test]
fn line_ends_marks_comments_and_continued_lines_change_nothing() {
    let plain = read(&format!("{SQUARE}o bell\nf 1 2 3 4\n"), &[]);
    for text in [
        format!("{SQUARE}o bell\nf 1 2 3 4\n").replace('\n', "\r\n"),
        format!("{SQUARE}o bell\nf 1 2 3 4\n").replace('\n', "\r"),
        format!("\u{feff}# mark\n{SQUARE}o bell\nf 1 2 \\\n 3 4 # quad"),
        format!("{SQUARE}\to   bell  \n\n  f\t1 2\t3 4\ns off\nwhatever 1 2 3\n"),
        "v 0 0 0 1\nv 1e0 0 0\nv +1 1. -0.0\nv 0 1 0\no bell\nf +1 2 3 4\n".replace("-0.0", "0"),
    ] {
        let read = read(&text, &[]);
        assert_eq!(read.model.mesh(), plain.model.mesh(), "{text:?}");
        assert_eq!(read.model.hash(), plain.model.hash());
    }
}

#[test]
fn vertex_colours_are_kept_and_those_that_lack_are_white() {
    let all = read("v 0 0 0 0.1 0.2 0.3\nv 1 0 0 1 1 1\nv 0 1 0 0 0 0\nf 3 2 1\n", &[]);
    assert_eq!(all.model.mesh().data().colours[0], [0.1, 0.2, 0.3, 1.0]);
    assert_eq!(all.model.mesh().data().colours[2], [0.0, 0.0, 0.0, 1.0]);
    let late = read("v 0 0 0\nv 1 0 0\nv 0 1 0 0 0.5 0\nf 1 2 3\n", &[]);
    assert_eq!(late.model.mesh().data().colours[0], [1.0; 4]);
    assert_eq!(late.model.mesh().data().colours[2], [0.0, 0.5, 0.0, 1.0]);
    assert!(late.notes[0].starts_with("2 positions have no vertex colour"), "{:?}", late.notes);
}

#[test]
fn names_that_are_not_utf_8_are_latin_1_with_a_note() {
    let mut bytes = format!("{SQUARE}o Gl").into_bytes();
    bytes.extend(b"\xF6ckchen\nf 1 2 3 4\n");
    let read = read_model_bytes("bell.obj", &bytes, &Embedded(&[]), &Unobserved).unwrap();
    assert_eq!(read.model.mesh().parts()[0].name, "Glöckchen");
    assert_eq!(read.notes, ["names in bell.obj are not UTF-8: read as Latin-1"]);
}

#[test]
fn what_is_not_kept_is_noted() {
    let text = format!("{SQUARE}mtllib none.mtl\nusemtl a\nf 1 2 3\nl 1 2\nl 2 3\np 1\nsurf 0 1\n");
    let notes = read(&text, &[]).notes;
    for words in ["2 lines and 1 points", "1 free-form", "'none.mtl' is not there", "'a' is in no"]
    {
        assert!(notes.iter().any(|note| note.contains(words)), "{words}: {notes:?}");
    }
}

#[test]
fn several_libraries_on_one_line_are_all_read() {
    let libraries: &[(&str, &[u8])] =
        &[("a.mtl", b"newmtl a\nKd 1 0 0\n"), ("b.mtl", b"newmtl b\nKd 0 1 0\nPr 0.25\nPm 1\n")];
    let text = format!("{SQUARE}mtllib a.mtl b.mtl\nusemtl a\nf 1 2 3\nusemtl b\nf 1 3 4\n");
    let read = read(&text, libraries);
    assert_eq!(read.model.materials()[0].base_colour.0, [1.0, 0.0, 0.0]);
    let b = &read.model.materials()[1];
    assert_eq!((b.base_colour.0, b.roughness, b.metalness), ([0.0, 1.0, 0.0], 0.25, 1.0));
    assert!(read.notes.is_empty(), "{:?}", read.notes);
}

#[test]
fn a_classic_material_gets_its_roughness_from_its_exponent() {
    // Walter and others 2007, section 5.2: an exponent of 30 is alpha = sqrt(2 / 32) = 0.25, which is
    // a perceptual roughness of 0.5.
    let text = format!("{SQUARE}mtllib a.mtl\nusemtl a\nf 1 2 3\n");
    let read = read(&text, &[("a.mtl", b"newmtl a\nNs 30\n")]);
    assert!((read.model.materials()[0].roughness - 0.5).abs() < 1e-6);
    assert_eq!(read.model.materials()[0].metalness, 0.0);
}

struct Stops {
    after: u64,
    asked: AtomicU64,
}

impl Observer for Stops {
    fn progress(&self, done: u64, total: u64) {
        assert!(done <= total);
    }

    fn stopped(&self) -> bool {
        self.asked.fetch_add(1, Ordering::Relaxed) >= self.after
    }
}

#[test]
fn reading_stops_when_it_is_asked_to() {
    let text = format!("{SQUARE}{}f 1 2 3\n", "v 0.123456 0.123456 0.123456\n".repeat(20_000));
    for after in [0, 3] {
        let observer = Stops { after, asked: AtomicU64::new(0) };
        let read = read_model_bytes("bell.obj", text.as_bytes(), &Embedded(&[]), &observer);
        assert!(matches!(read, Err(ExchangeError::Cancelled(_))));
        assert_eq!(observer.asked.into_inner(), after + 1);
    }
}

/// The library is handed large files in pieces; the corners below lie on both sides of many cuts.
#[test]
fn a_large_model_is_put_together_again_as_it_stood() {
    let count = 60_000u32;
    let mut text = String::from("o first\n");
    for index in 0..count {
        write!(text, "v {index} 0 1\nvt 0.5 {}\nvn 0 1 {index}\n", index % 7).unwrap();
    }
    // Faces go backwards; by turns a corner has no UV, no normal, or names position 2 of the file again.
    let names = |corner: u32| {
        let (index, back) = (count - corner % count, -1 - i64::from(corner % count));
        match corner % 5 {
            0 => format!("{index}//{index}"),
            1 => format!("{index}/{index}"),
            2 => format!("2/{index}/{index}"),
            3 => format!("{index}/{index}/{index}"),
            _ => format!("{back}/{back}/{back}"),
        }
    };
    let (mut corner, mut lengths) = (0, Vec::new());
    for face in 0..100_000u32 {
        if face == 70_001 {
            text += "o second\n";
        }
        // Long runs of triangles between polygons.
        let length = if face % 50_000 < 30_000 { 3 } else { 4 + face % 3 };
        let named: Vec<String> = (corner..corner + length).map(&names).collect();
        writeln!(text, "f {}", named.join(" ")).unwrap();
        lengths.push(length as usize);
        corner += length;
    }
    let read = read(&text, &[]);
    let mesh = read.model.mesh();
    assert_eq!(mesh.face_count(), lengths.len());
    assert!((0..lengths.len()).all(|face| mesh.face(face).len() == lengths[face]));
    assert_eq!((mesh.face_part(70_000).0, mesh.face_part(70_001).0), (0, 1));
    for (at, corner) in mesh.corners().iter().enumerate() {
        let kind = at as u32 % 5;
        let index = count - 1 - at as u32 % count;
        let position = if kind == 2 { 1 } else { index };
        assert_eq!(mesh.positions()[corner.position as usize].x, position as f32, "corner {at}");
        if kind == 0 {
            assert_eq!(corner.uv, NO_INDEX, "corner {at}");
        } else {
            let v = 1.0 - (index % 7) as f32;
            assert_eq!(mesh.uvs()[corner.uv as usize], Vec2::new(0.5, v), "corner {at}");
        }
        if kind == 1 {
            assert_eq!(corner.normal, NO_INDEX, "corner {at}");
        } else {
            assert_eq!(mesh.normals()[corner.normal as usize].z, index as f32, "corner {at}");
        }
    }
    assert!(mesh.positions().is_sorted_by(|a, b| a.x < b.x));
}

#[test]
fn uvs_that_come_only_after_many_faces_without_are_not_mixed_up() {
    let mut text = SQUARE.to_owned();
    text += &"f 1 2 3\n".repeat(20_000);
    text += "vt 0 0\nvt 1 0\nvt 1 1\nf 1/2 2/3 3/2\n";
    let read = read(&text, &[]);
    let mesh = read.model.mesh();
    assert!(mesh.corners()[..60_000].iter().all(|corner| corner.uv == NO_INDEX));
    let uvs: Vec<Vec2> =
        mesh.corners()[60_000..].iter().map(|corner| mesh.uvs()[corner.uv as usize]).collect();
    assert_eq!(uvs, [Vec2::new(1.0, 1.0), Vec2::new(1.0, 0.0), Vec2::new(1.0, 1.0)]);
}
