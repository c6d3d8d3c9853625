//! How long until a stroke is on disk, and how long a project takes to open, beside plain files.
//!
//! A material of 4096 texels edge with ten painted layers. A stroke changes 200 tiles of one of them: three
//! planes and their coverage in 50 places; then the history grows until the file has 2 GiB. The peer writes as many bytes as the project got to one plain
//! file, and syncs it and its folder. Every figure is also printed as `@<TAB>name<TAB>value<TAB>unit`.
//! `--quick` takes fewer strokes. The files go beside the build, since a folder for temporary files may lie
//! in memory.
#![expect(clippy::expect_used, reason = "a bench stops at the first thing that is wrong")]

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Write as _;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use document::{Document, History, Material, MaterialId, Recipes};
use layers::{
    BlendSpace, ChannelId, Content, Ground, Layer, LayerId, LayersError, PaintedCell, Stack,
};
use raster::{Plane, TextureSize, Tile, TileAt, Unobserved};
use rayon::prelude::*;
use store::{Access, Changes, Opened, Project};

const EDGE: u32 = 4096;
const ACROSS: u32 = EDGE / 64;
const LAYERS: u32 = 10;
/// Places that are painted in each layer at first, one row of tiles after the other.
const PAINTED: u32 = 1500;

fn main() {
    let strokes = if std::env::args().any(|argument| argument == "--quick") { 40 } else { 300 };
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a folder");
    let path = folder.path().join("bench.scumble");
    let mut history = History::new(document());
    let (milliseconds, project) = timed(|| Project::create(&path, &history).expect("a project"));
    figure("project, create", milliseconds / 1000.0, "s");
    let mut bench = Bench { folder: folder.path(), project, history: &mut history };
    bench.commits("stroke of 200 tiles", 50, strokes);
    bench.commits("stroke of 4 tiles", 1, strokes);
    bench.project.close().expect("closed");

    // A history as a week's work leaves it.
    let most = if strokes < 100 { 256 << 20 } else { 2 << 30 };
    grow(&path, most);
    opening(&path);
}

/// Strokes until the file has so many bytes.
fn grow(path: &Path, most: u64) {
    let Opened { mut project, mut history, .. } =
        Project::open(path, Access::ReadWrite).expect("it opens");
    let bytes = || std::fs::metadata(path).expect("a file").len();
    for seed in 10_000.. {
        history.push(stroke(history.present(), seed, 250), "paint");
        if seed % 16 == 0 {
            project.commit(&Changes::of_history(&history)).expect("a commit");
            project.checkpoint().expect("a checkpoint");
            if bytes() > most {
                break;
            }
        }
    }
    project.close().expect("closed");
}

fn opening(path: &Path) {
    let bytes = std::fs::metadata(path).expect("a file").len();
    figure("project, size", bytes as f64 / f64::from(1 << 20), "MiB");
    let (milliseconds, (opened, earlier)) =
        timed(|| Project::open_shown(path, Access::ReadOnly).expect("it opens"));
    assert!(opened.damage.is_empty(), "nothing is damaged");
    figure("project, open", milliseconds / 1000.0, "s");
    let document = opened.history.present();
    let (reading, read) = timed(|| read_all(document));
    figure("project, open and read all tiles on show", (milliseconds + reading) / 1000.0, "s");
    figure("project, tiles on show", f64::from(read), "");
    figure("project, revisions before", earlier.list().len() as f64, "");
    let (milliseconds, earlier) = timed(|| earlier.read(&Unobserved).expect("they are there"));
    assert!(earlier.damage.is_empty(), "nothing is damaged");
    figure("project, read the revisions before", milliseconds / 1000.0, "s");
    assert!(opened.project.watch().damage(0).is_empty(), "nothing is damaged");
    let (milliseconds, read) = timed(|| std::fs::read(path).expect("its bytes"));
    assert_eq!(read.len() as u64, bytes, "all of it");
    figure("plain file, read", milliseconds / 1000.0, "s");
}

/// Reads the tiles of all layers, side by side, as who puts them together does; gives how many.
fn read_all(document: &Document) -> u32 {
    let mut bodies = Vec::new();
    document.for_each_idle_tile(None, &mut |tile| {
        if let Tile::Texels(body) = tile {
            bodies.push(Arc::clone(body));
        }
    });
    bodies.par_iter().for_each(|body| _ = body.read().expect("it is there"));
    bodies.len() as u32
}

struct Bench<'a> {
    folder: &'a Path,
    project: Project,
    history: &'a mut History,
}

impl Bench<'_> {
    fn commits(&mut self, name: &str, places: u32, strokes: u32) {
        let (mut ours, mut plain) = (Vec::new(), Vec::new());
        for seed in 0..strokes {
            let painted = stroke(self.history.present(), seed, places);
            self.history.push(painted, "paint");
            let changes = Changes::of_history(self.history);
            let commit = || self.project.commit(&changes).expect("a commit");
            let (milliseconds, committed) = timed(commit);
            ours.push(milliseconds);
            let bytes = vec![seed as u8 ^ 0x5A; committed.bytes as usize];
            let peer = self.folder.join(format!("{places}-{seed}"));
            plain.push(timed(|| write_plain(&peer, &bytes)).0);
            if seed % 50 == 49 {
                self.project.checkpoint().expect("a checkpoint");
            }
        }
        for (what, mut times) in [("project", ours), ("plain file", plain)] {
            times.sort_by(f64::total_cmp);
            let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize];
            figure(&format!("{what}, {name}, p50"), at(0.5), "ms");
            figure(&format!("{what}, {name}, p99"), at(0.99), "ms");
        }
    }
}

fn figure(name: &str, value: f64, unit: &str) {
    println!("{name:60} {value:9.2} {unit}");
    println!("@\t{name}\t{value:.3}\t{unit}");
}

/// How long something takes, in milliseconds.
fn timed<T>(work: impl FnOnce() -> T) -> (f64, T) {
    let start = Instant::now();
    let done = work();
    (start.elapsed().as_secs_f64() * 1000.0, done)
}

fn write_plain(path: &Path, bytes: &[u8]) {
    let mut file = File::create(path).expect("a file");
    file.write_all(bytes).expect("written");
    file.sync_all().expect("synced");
    let folder = path.parent().expect("a folder");
    if cfg!(unix) {
        File::open(folder).and_then(|folder| folder.sync_all()).expect("the folder synced");
    }
}

/// A soft spot, as painted coverage is, like no other one.
fn soft(seed: u32) -> Tile {
    let middle = (16.0 + (seed % 32) as f32, 16.0 + (seed / 32 % 32) as f32);
    let mark = (seed.wrapping_mul(40_503) >> 8) as u16 & 0xFFF;
    Tile::of(&std::array::from_fn(|index| {
        let (x, y) = ((index % 64) as f32 - middle.0, (index / 64) as f32 - middle.1);
        let away = (x * x + y * y).sqrt() / 40.0;
        (60_000.0 * (1.0 - away).max(0.0)) as u16
            ^ if index < 4 { (seed >> (4 * index)) as u16 } else { mark }
    }))
}

fn size() -> TextureSize {
    TextureSize::new(EDGE).expect("a power of two")
}

fn painted(layer: u32) -> Layer {
    let plane = |component: u32| {
        let mut plane = Plane::uniform(size().extent(), 0);
        for number in 0..PAINTED {
            let at = TileAt { x: number % ACROSS, y: number / ACROSS };
            plane.set_tile(at, soft((layer * 4 + component) * PAINTED + number));
        }
        plane
    };
    let cell = PaintedCell { values: (0..3).map(plane).collect(), coverage: plane(3) };
    let cells = BTreeMap::from([(ChannelId::BASE_COLOUR, cell)]);
    Layer::new(LayerId(layer), format!("layer {layer}"), Content::Painted(cells))
}

fn document() -> Document {
    let material = Material {
        id: MaterialId(0),
        name: "bronze".to_owned(),
        size: size(),
        blend_space: BlendSpace::Encoded,
        ground: Ground::new(),
        stack: Stack { layers: (0..LAYERS).map(|layer| Arc::new(painted(layer))).collect() },
        recipes: Recipes::default(),
        fields: BTreeMap::new(),
        selection: None,
        pass_maps: Arc::default(),
    };
    Document { materials: vec![Arc::new(material)], ..Document::default() }
}

/// The document with new texels in some places of one layer.
fn stroke(document: &Document, seed: u32, places: u32) -> Document {
    let mut material = Material::clone(&document.materials[0]);
    let changed = material.stack.replaced(LayerId(seed % LAYERS), |layer| {
        let mut layer = layer.clone();
        if let Content::Painted(cells) = &mut layer.content {
            for cell in cells.values_mut() {
                paint(cell, seed, places);
            }
        }
        Ok::<_, LayersError>(layer)
    });
    material.stack = changed.expect("the layer is there");
    Document { materials: vec![Arc::new(material)], ..document.clone() }
}

fn paint(cell: &mut PaintedCell, seed: u32, places: u32) {
    let planes = cell.values.iter_mut().chain([&mut cell.coverage]);
    for (component, plane) in (0..).zip(planes) {
        for place in 0..places {
            let at =
                TileAt { x: (seed * 3 + place % 10) % ACROSS, y: (seed * 7 + place / 10) % ACROSS };
            plane.set_tile(at, soft(1_000_000 + ((places + seed) * 4 + component) * 64 + place));
        }
    }
}
