//! How long it takes to read an OBJ of a million triangles, and one of half a million quads, to a model: its
//! mesh checked, its content hashed. Beside it what the library alone takes for the same bytes.
//! Run by `cargo bench -p exchange --bench obj`; `--quick` reads each once less.

use std::error::Error;
use std::fmt::Write;
use std::hint::black_box;
use std::time::Instant;

use exchange::{Embedded, read_model_bytes};
use raster::Unobserved;

/// Quads along an edge of a part, and parts.
const QUADS: u32 = 250;
const PARTS: u32 = 8;
const LIBRARY: &str = "newmtl bronze\nKd 0.8 0.5 0.3\nnewmtl oak\nKd 0.4 0.3 0.2\n";

#[derive(Clone, Copy, PartialEq)]
enum Faces {
    Triangles,
    Quads,
}

/// Rippled sheets, each a part of its own, in two materials by turns. Every position has a UV and a normal.
fn obj(faces: Faces) -> Result<String, std::fmt::Error> {
    let mut text = String::from("mtllib bench.mtl\n");
    for part in 0..PARTS {
        writeln!(text, "o sheet {part}")?;
        let at = |index: u32| index as f32 / QUADS as f32;
        for (y, x) in (0..=QUADS).flat_map(|y| (0..=QUADS).map(move |x| (y, x))) {
            let (u, v) = (at(x), at(y));
            let height = (u * 40.0).sin() * (v * 30.0).cos() * 0.02 + part as f32;
            writeln!(text, "v {:.6} {height:.6} {:.6}", u * 2.0 - 1.0, v * 2.0 - 1.0)?;
            writeln!(text, "vt {u:.6} {v:.6}")?;
            writeln!(text, "vn {:.4} {:.4} {:.4}", (u * 40.0).cos() * 0.3, 0.9, v * 0.1)?;
        }
        for y in 0..QUADS {
            if y % 50 == 0 {
                writeln!(
                    text,
                    "usemtl {}",
                    if (y / 50 + part) % 2 == 0 { "bronze" } else { "oak" }
                )?;
            }
            for x in 0..QUADS {
                let a = part * (QUADS + 1) * (QUADS + 1) + y * (QUADS + 1) + x + 1;
                let (b, c, d) = (a + 1, a + QUADS + 2, a + QUADS + 1);
                if faces == Faces::Quads {
                    writeln!(text, "f {a}/{a}/{a} {b}/{b}/{b} {c}/{c}/{c} {d}/{d}/{d}")?;
                } else {
                    writeln!(text, "f {a}/{a}/{a} {b}/{b}/{b} {c}/{c}/{c}")?;
                    writeln!(text, "f {a}/{a}/{a} {c}/{c}/{c} {d}/{d}/{d}")?;
                }
            }
        }
    }
    Ok(text)
}

fn bare(text: &str) -> Result<(), tobj::LoadError> {
    let options = tobj::LoadOptions::default();
    let library = |_: &std::path::Path| tobj::load_mtl_buf(&mut LIBRARY.as_bytes());
    tobj::load_obj_buf(&mut text.as_bytes(), &options, library).map(|read| drop(black_box(read)))
}

fn ours(text: &str, faces: usize) -> Result<(), Box<dyn Error>> {
    let beside: [(&str, &[u8]); 1] = [("bench.mtl", LIBRARY.as_bytes())];
    let read = read_model_bytes("bench.obj", text.as_bytes(), &Embedded(&beside), &Unobserved)?;
    let mesh = read.model.mesh();
    let whole = mesh.face_count() == faces && mesh.parts().len() == PARTS as usize;
    if whole && read.notes.is_empty() { Ok(()) } else { Err("it was not read as it is".into()) }
}

fn seconds<E>(work: impl FnOnce() -> Result<(), E>) -> Result<f64, E> {
    let started = Instant::now();
    work()?;
    Ok(started.elapsed().as_secs_f64())
}

fn main() -> Result<(), Box<dyn Error>> {
    let runs = if std::env::args().any(|argument| argument == "--quick") { 2 } else { 5 };
    let quads = (QUADS * QUADS * PARTS) as usize;
    for (faces, name, count) in [
        (Faces::Triangles, "a million triangles", 2 * quads),
        (Faces::Quads, "half a million quads", quads),
    ] {
        let text = obj(faces)?;
        println!("OBJ of {name}: {} MB", text.len() / 1_000_000);
        let (mut best, mut best_bare) = (f64::INFINITY, f64::INFINITY);
        for _ in 0..runs {
            best_bare = best_bare.min(seconds(|| bare(&text))?);
            best = best.min(seconds(|| ours(&text, count))?);
        }
        println!("@\tOBJ of {name}\t{best:.6}\ts");
        println!("@\ttobj, {name}\t{best_bare:.6}\ts");
        println!("{:.2} times the library alone", best / best_bare);
    }
    Ok(())
}
