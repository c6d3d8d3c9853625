//! `scumble show` draws the demo model as it is kept in `tests/reference/pictures`, but for what drivers do
//! differently. After a wanted change: `SCUMBLE_KEEP_PICTURES=1 cargo nextest run -p cli pictures`, and look at
//! each.
#![cfg(test)]

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

const WIDTH: usize = 320;
const HEIGHT: usize = 240;

/// Each material in one plain layer, and a stroke over the bell.
const EDITS: &str = r##"{ "scumble_edits": 1, "edits": [
  { "edit": "import", "texture_size": 256 },
  { "edit": "add_layer", "material": "bronze", "layer": 1, "name": "cast",
    "content": { "solid": { "base_colour": "#c8a070", "roughness": 0.35, "metalness": 1 } } },
  { "edit": "add_layer", "material": "oak", "layer": 1, "name": "wood",
    "content": { "solid": { "base_colour": "#7a5838", "roughness": 0.7, "metalness": 0 } } },
  { "edit": "add_layer", "material": "iron", "layer": 1, "name": "forged",
    "content": { "solid": { "base_colour": "#8a8884", "roughness": 0.55, "metalness": 1 } } },
  { "edit": "add_layer", "material": "hemp", "layer": 1, "name": "fibre",
    "content": { "solid": { "base_colour": "#b8a078", "roughness": 0.95, "metalness": 0 } } },
  { "edit": "add_layer", "material": "bronze", "layer": 2, "name": "crust", "content": "painted" },
  { "edit": "paint", "material": "bronze", "layer": 2,
    "values": { "base_colour": [0.3, 0.55, 0.48], "roughness": 0.9, "metalness": 0 },
    "stroke": { "radius": 0.06, "brush": { "hardness": 0.6 },
      "runs": [[ { "position": [-0.1, 0.2, 0.36] }, { "position": [0.1, 0.22, 0.36] },
                 { "position": [0.3, 0.2, 0.2] } ]] } }
] }"##;

/// Red, green, blue, row by row.
type Picture = Vec<[u8; 3]>;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn show(folder: &Path, arguments: &[&str]) -> Output {
    let model = root().join("assets-demo/harbour-bell.obj");
    std::fs::write(folder.join("edits.json"), EDITS).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_scumble"));
    command.arg("show").arg(model).args(arguments).current_dir(folder).output().unwrap()
}

fn drawn(view: &str, edits: bool, more: &[&str]) -> Picture {
    let folder = TempDir::new().unwrap();
    let mut arguments = vec!["--out", "out.png", "--size", "320x240", "--view", view];
    if edits {
        arguments.extend(["--edits", "edits.json"]);
    }
    arguments.extend(more);
    let output = show(folder.path(), &arguments);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(0), "{told}");
    read(&folder.path().join("out.png"))
}

fn read(path: &Path) -> Picture {
    let file = File::open(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let mut reader = png::Decoder::new(BufReader::new(file)).read_info().unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut bytes).unwrap();
    assert_eq!((info.width as usize, info.height as usize), (WIDTH, HEIGHT));
    bytes[..info.buffer_size()].as_chunks::<3>().0.to_vec()
}

/// How two pictures differ once each pixel is averaged with its neighbours, so that an edge which lies a
/// fraction of a pixel elsewhere counts little: mean of all, and share of pixels that anyone would see.
fn difference(a: &Picture, b: &Picture) -> (f64, f64) {
    let blurred = |picture: &Picture, x: usize, y: usize, k: usize| -> f64 {
        let around = (y - 1..=y + 1).flat_map(|y| (x - 1..=x + 1).map(move |x| (x, y)));
        around.map(|(x, y)| f64::from(picture[y * WIDTH + x][k])).sum::<f64>() / 9.0
    };
    let (mut sum, mut seen) = (0.0, 0.0);
    for y in 1..HEIGHT - 1 {
        for x in 1..WIDTH - 1 {
            let off = (0..3).map(|k| (blurred(a, x, y, k) - blurred(b, x, y, k)).abs());
            let off = off.fold(0.0, f64::max);
            sum += off;
            seen += f64::from(u8::from(off > 10.0));
        }
    }
    let pixels = ((WIDTH - 2) * (HEIGHT - 2)) as f64;
    (sum / pixels, seen / pixels)
}

/// What another driver may do differently: ours, from how filters and edges vary between drivers.
fn is_alike((mean, seen): (f64, f64)) -> bool {
    mean < 0.6 && seen < 0.004
}

fn kept(view: &str) -> PathBuf {
    root().join(format!("tests/reference/pictures/{view}.png"))
}

fn compare(view: &str) {
    let keep = std::env::var_os("SCUMBLE_KEEP_PICTURES").is_some();
    if keep {
        let folder = TempDir::new().unwrap();
        let arguments =
            ["--out", "out.png", "--size", "320x240", "--view", view, "--edits", "edits.json"];
        assert_eq!(show(folder.path(), &arguments).status.code(), Some(0));
        std::fs::create_dir_all(kept(view).parent().unwrap()).unwrap();
        std::fs::copy(folder.path().join("out.png"), kept(view)).unwrap();
    }
    let difference = difference(&drawn(view, true, &[]), &read(&kept(view)));
    assert!(is_alike(difference), "{view}: {difference:?}");
}

#[test]
fn the_lit_view_is_as_it_was() {
    compare("lit");
}

#[test]
fn the_colour_view_is_as_it_was() {
    compare("colour");
}

#[test]
fn the_roughness_view_is_as_it_was() {
    compare("roughness");
}

#[test]
fn the_metal_view_is_as_it_was() {
    compare("metal");
}

#[test]
fn the_checker_view_is_as_it_was() {
    compare("checker");
}

#[test]
fn the_wire_view_is_as_it_was() {
    compare("wire");
}

#[test]
fn the_islands_view_is_as_it_was() {
    compare("islands");
}

/// The comparison must see a fault: each of these is one that a renderer could have.
#[test]
fn a_fault_is_seen() {
    let lit = read(&kept("lit"));
    let shifted: Picture = (0..lit.len()).map(|at| lit[at.saturating_sub(2)]).collect();
    let darker: Picture = lit.iter().map(|texel| texel.map(|v| v.saturating_sub(4))).collect();
    let swapped: Picture = lit.iter().map(|&[r, g, b]| [b, g, r]).collect();
    let encoded_twice: Picture = lit
        .iter()
        .map(|texel| {
            texel.map(|v| (f64::from(v) / 255.0).powf(1.0 / 2.2).mul_add(255.0, 0.5) as u8)
        })
        .collect();
    let other_views = ["colour", "wire", "checker"].map(|view| read(&kept(view)));
    for (name, fault) in
        ["shifted", "darker", "swapped", "encoded twice", "unlit", "wire", "checker"]
            .into_iter()
            .zip([shifted, darker, swapped, encoded_twice].into_iter().chain(other_views))
    {
        assert!(!is_alike(difference(&lit, &fault)), "{name}: {:?}", difference(&lit, &fault));
    }
    assert!(is_alike(difference(&lit, &lit)));
}

#[test]
fn a_model_without_edits_and_from_another_side_is_drawn() {
    let front = drawn("lit", false, &["--from", "front"]);
    let back = drawn("lit", false, &["--from", "back"]);
    assert!(!is_alike(difference(&front, &back)));
    let corner = front[0];
    let drawn = front.iter().filter(|texel| **texel != corner).count();
    assert!(drawn * 8 > front.len(), "the model fills a good part of it");
}

#[test]
fn without_an_adapter_it_says_so_in_one_line_and_ends_with_four() {
    let folder = TempDir::new().unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_scumble"));
    let model = root().join("assets-demo/harbour-bell.obj");
    command.arg("show").arg(model).args(["--out", "out.png"]).current_dir(folder.path());
    // A backend that no machine of this kind has.
    let output = command.env("WGPU_BACKEND", "noop").output().unwrap();
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(4), "{told}");
    assert!(told.contains("no graphics adapter") && told.contains("install"), "{told}");
    assert!(!folder.path().join("out.png").exists());
}

#[test]
fn sizes_that_are_none_are_refused_with_two() {
    let folder = TempDir::new().unwrap();
    for size in ["0x40", "100", "axb", "99999999x2", "x", "-1x5"] {
        let output = show(folder.path(), &["--out", "out.png", "--size", size]);
        assert_eq!(output.status.code(), Some(2), "{size}");
    }
}
