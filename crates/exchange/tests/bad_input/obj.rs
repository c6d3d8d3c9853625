//! OBJ and MTL files that must be refused.

use crate::images::png;
use crate::{Case, case};

pub(crate) const TRIANGLE: &str = "v 0 0 0\nv 1 0 0\nv 0 1 0\n";

pub(crate) fn obj(more: &str) -> String {
    format!("{TRIANGLE}{more}")
}

pub(crate) fn utf16(text: &str) -> Vec<u8> {
    let units = std::iter::once(0xFEFF).chain(text.encode_utf16());
    units.flat_map(u16::to_le_bytes).collect()
}

pub(crate) fn obj_cases() -> Vec<Case> {
    let long = "9".repeat(400);
    let huge = obj(&format!("v {long} 0 0\nf 1 2 3\n"));
    vec![
        case("empty.obj", "", &["empty.obj: ", "empty"]),
        case("blank.obj", "\n\n", &["blank.obj: ", "no face"]),
        case("points.obj", "v 0 0 0\n", &["points.obj: ", "no face"]),
        case("utf16.obj", utf16("v 0 0 0\n"), &["utf16.obj:1: ", "UTF-16", "UTF-8"]),
        case("nan.obj", "v 0 0 nan\n", &["nan.obj:1: ", "'nan'", "finite"]),
        case("inf.obj", "v 0 0 0\nv 1 -inf 0\n", &["inf.obj:2: ", "'-inf'", "finite"]),
        case("overflow.obj", "v 1e99 0 0\n", &["overflow.obj:1: ", "'1e99'", "finite"]),
        case("huge.obj", huge, &["huge.obj:4: ", "finite"]),
        case("word.obj", "v 0 zero 0\n", &["word.obj:1: ", "'zero'", "number"]),
        case("short.obj", "v 0 0 0\nv 1 2\n", &["short.obj:2: ", "3 numbers", "are 2"]),
        case("uv.obj", obj("vt\n"), &["uv.obj:4: ", "2 numbers"]),
        case("uvnan.obj", obj("vt 0 NaN\n"), &["uvnan.obj:4: ", "'NaN'"]),
        case("normal.obj", obj("vn 0 1\n"), &["normal.obj:4: ", "3 numbers"]),
        case("range.obj", obj("f 1 2 4\n"), &["range.obj:4: ", "position 4", "only 3"]),
        case("zero.obj", obj("f 0 1 2\n"), &["zero.obj:4: ", "position 0", "begins at 1"]),
        case("negative.obj", obj("f -1 -2 -4\n"), &["negative.obj:4: ", "position -4"]),
        case("wild.obj", obj("f 1 2 9223372036854775807\n"), &["wild.obj:4: ", "no index"]),
        case("wilder.obj", obj("f 1 2 -999999999999999999\n"), &["wilder.obj:4: ", "only 3"]),
        case("uvindex.obj", obj("f 1/1 2/1 3/1\n"), &["uvindex.obj:4: ", "UV 1", "only 0"]),
        case("nindex.obj", obj("f 1//7 2//1 3//1\n"), &["nindex.obj:4: ", "normal 7"]),
        case("word-face.obj", obj("f 1 2 x\n"), &["word-face.obj:4: ", "'x'", "no index"]),
        case("slashes.obj", obj("f 1/1/1/1 2 3\n"), &["slashes.obj:4: ", "slashes"]),
        case("bare.obj", obj("f /1 2 3\n"), &["bare.obj:4: ", "no position"]),
        case("two.obj", obj("f 1 2\n"), &["two.obj:4: ", "3 corners", "has 2"]),
        case("none.obj", obj("f\n"), &["none.obj:4: ", "3 corners", "has 0"]),
        case("cut.obj", obj("f 1 2"), &["cut.obj:4: ", "3 corners"]),
        case("joined.obj", obj("f 1 \\\n2 \\\n9\n"), &["joined.obj:6: ", "position 9"]),
        case(
            "garbage.obj",
            b"\x01\x02\x7f\x03\n\x00\x01".to_vec(),
            &["garbage.obj:1: ", "no text"],
        ),
        case("name.obj", obj("o bell\x07\u{1b}[2J\n"), &["name.obj:4: ", "no text"]),
        case("line.obj", vec![b'x'; 17 << 20], &["line.obj:1: ", "16 MiB"]),
        case("png.obj", png(4, 4), &["png.obj:", "no text"]),
        case("unknown.ply", "ply\nformat ascii 1.0\n", &["unknown.ply: ", "OBJ, glTF or GLB"]),
        case(
            "climb.obj",
            obj("mtllib ../x.mtl\nf 1 2 3\n"),
            &["climb.obj:4: ", "'../x.mtl'", "folder"],
        ),
        case("drive.obj", obj("mtllib C:\\x.mtl\nf 1 2 3\n"), &["drive.obj:4: ", "folder"]),
        case("self.obj", obj("mtllib self.obj\nf 1 2 3\n"), &["self.obj:4: ", "itself"]),
        case(
            "badmtl.obj",
            obj("mtllib bad.mtl\nusemtl a\nf 1 2 3\n"),
            &["bad.mtl:2: ", "'red'", "number"],
        ),
        case(
            "mtlclimb.obj",
            obj("mtllib climb.mtl\nusemtl a\nf 1 2 3\n"),
            &["climb.mtl:2: ", "/etc/hostname", "folder"],
        ),
        case("mtlnan.obj", obj("mtllib nan.mtl\nf 1 2 3\n"), &["nan.mtl:2: ", "'nan'"]),
        case("mtlshort.obj", obj("mtllib short.mtl\nf 1 2 3\n"), &["short.mtl:2: ", "Kd needs 3"]),
        case("mtl16.obj", obj("mtllib utf16.mtl\nf 1 2 3\n"), &["utf16.mtl:1: ", "UTF-16"]),
        case(
            "bomb.obj",
            obj("mtllib bomb.mtl\nusemtl a\nf 1 2 3\n"),
            &["bomb.png: ", "60000 x 60000"],
        ),
        case(
            "cutmap.obj",
            obj("mtllib cutmap.mtl\nusemtl a\nf 1 2 3\n"),
            &["cut.png: ", "can't be decoded"],
        ),
    ]
}
