//! From the pen's sample to composited display texels: one dab, beside a long job, over the size of the
//! texture, the number of layers and of triangles, and a hundred thousand strokes. Also what the window
//! asks beside the pen.
//!
//! Run by `cargo bench -p editor --bench pen`; `--quick` leaves out what takes long, and names run those
//! parts alone: `soak`, `dab`, `sizes`, `layers`, `triangles`, `looks`. Each figure stands on a line of its
//! own: `@`, name, value, unit, parted by tabs.

#[path = "../../../surface/benches/mesh/grid.rs"]
mod grid;
mod looks;
mod scene;
mod soak;
mod strokes;

use std::error::Error;
use std::sync::Arc;

use document::Model;
use editor::Settings;
use layers::BlendMode;
use raster::{TextureSize, Unobserved};
use surface::{MaterialSlot, Surface, TexelMap};

use crate::scene::{Scene, plate, texels};
use crate::strokes::{frames, percentile};

/// As in the program.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

const MIXED: &[BlendMode] = &[
    BlendMode::Normal,
    BlendMode::Multiply,
    BlendMode::Overlay,
    BlendMode::Screen,
    BlendMode::Normal,
];
/// Modes whose runs above the painted layer fold into one.
const AFFINE: &[BlendMode] =
    &[BlendMode::Normal, BlendMode::Multiply, BlendMode::Screen, BlendMode::Exclusion];

type Done = Result<(), Box<dyn Error>>;
/// Draws on a model; true for quick.
type Part = fn(&Arc<Model>, bool) -> Done;

fn main() -> Done {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let quick = arguments.iter().any(|argument| argument == "--quick");
    let named: Vec<&String> = arguments.iter().filter(|a| !a.starts_with('-')).collect();
    let wanted = |part: &str| named.is_empty() || named.iter().any(|name| *name == part);
    if wanted("soak") {
        // First, so that what the process takes is what the soak takes.
        soaked(quick)?;
    }
    let model = model(500_000)?;
    let parts: [(&str, Part); 5] = [
        ("dab", one_dab),
        ("sizes", over_sizes),
        ("layers", over_layers),
        ("triangles", over_triangles),
        ("looks", looked_at),
    ];
    parts.iter().filter(|(name, _)| wanted(name)).try_for_each(|(_, part)| part(&model, quick))
}

fn soaked(quick: bool) -> Done {
    let scene = Scene {
        model: model(20_000)?,
        size: TextureSize::new(1024)?,
        below: 1,
        above: 1,
        modes: MIXED,
        tiles: 16,
    };
    let (strokes, budget) = if quick { (4_000, 96 << 20) } else { (100_000, 256 << 20) };
    soak::soak(&scene, strokes, budget)
}

fn model(triangles: u32) -> Result<Arc<Model>, Box<dyn Error>> {
    Ok(Arc::new(Model::new(Arc::new(plate(triangles)?), Vec::new())))
}

fn figure(name: &str, value: f64, unit: &str) {
    println!("@\t{name}\t{value:.3}\t{unit}");
}

/// A dab of 250 texels radius at 4096 x 4096, in a stack of 10 with 5 above.
fn one_dab(model: &Arc<Model>, quick: bool) -> Done {
    let size = TextureSize::new(4096)?;
    let scene =
        Scene { model: Arc::clone(model), size, below: 4, above: 5, modes: MIXED, tiles: 256 };
    let mut editor = scene.open(Settings::default())?;
    let (radius, count) = (texels(250.0, size), if quick { 150 } else { 600 });
    let cold = frames(&mut editor, scene.painted(), radius, count, false)?;
    figure("dab to display, first of all", cold.whole[0], "ms");
    cold.print("dab to display, not ready");
    let alone = frames(&mut editor, scene.painted(), radius, count, true)?;
    alone.print("dab to display");

    let mesh = Arc::clone(model.mesh());
    let job = editor.start(move |observer| {
        let surface = Surface::prepare(mesh, observer).map_err(document::DocumentError::from)?;
        loop {
            let map = TexelMap::build(&surface, MaterialSlot(0), size, observer);
            std::hint::black_box(map.map_err(document::DocumentError::from)?);
        }
    });
    let beside = frames(&mut editor, scene.painted(), radius, count, true)?;
    job.stop();
    let stopped: Result<(), _> = job.wait();
    println!(
        "the job beside: {}",
        stopped.map_or_else(|error| error.to_string(), |()| String::new())
    );
    beside.print("dab to display beside a job");
    Ok(())
}

/// The median frame of a dab of so many texels radius.
fn median(scene: &Scene, radius: f64, quick: bool) -> Result<f64, Box<dyn Error>> {
    let mut editor = scene.open(Settings::default())?;
    editor.texel_map(document::MaterialId(0), &Unobserved)?;
    let count = if quick { 60 } else { 300 };
    let radius = texels(radius, scene.size);
    let times = frames(&mut editor, scene.painted(), radius, count, true)?;
    Ok(percentile(&times.whole, 0.5))
}

fn over_sizes(model: &Arc<Model>, quick: bool) -> Done {
    let sizes = [(1024, "1k"), (2048, "2k"), (4096, "4k"), (8192, "8k")];
    for (edge, name) in if quick { &sizes[..3] } else { &sizes } {
        let size = TextureSize::new(*edge)?;
        let scene =
            Scene { model: Arc::clone(model), size, below: 4, above: 5, modes: MIXED, tiles: 64 };
        let time = median(&scene, 100.0, quick)?;
        figure(&format!("curve dab over texture size/{name}"), time, "ms");
    }
    Ok(())
}

fn over_layers(model: &Arc<Model>, quick: bool) -> Done {
    let size = TextureSize::new(if quick { 1024 } else { 2048 })?;
    let curve = |name: &str, modes, counts: &[u32], scene: &dyn Fn(u32) -> (u32, u32)| -> Done {
        for &count in counts {
            let (below, above) = scene(count);
            let model = Arc::clone(model);
            let scene = Scene { model, size, below, above, modes, tiles: 32 };
            let time = median(&scene, 100.0, quick)?;
            figure(&format!("curve dab over layers {name}/{count}"), time, "ms");
        }
        Ok(())
    };
    let counts: &[u32] = if quick { &[10, 100] } else { &[10, 25, 50, 100] };
    curve("below", MIXED, counts, &|count| (count, 0))?;
    curve("above that fold", AFFINE, counts, &|count| (0, count))?;
    if quick {
        return Ok(());
    }
    curve("above, every fifth overlay", MIXED, counts, &|count| (0, count))
}

/// A stack of 40 at 4096 x 4096, every texel of every cell painted and masked.
fn looked_at(model: &Arc<Model>, _quick: bool) -> Done {
    let size = TextureSize::new(4096)?;
    let model = Arc::clone(model);
    looks::looks(&Scene { model, size, below: 40, above: 0, modes: MIXED, tiles: 256 }, 40)
}

fn over_triangles(model: &Arc<Model>, quick: bool) -> Done {
    let size = TextureSize::new(4096)?;
    let scene = |model| Scene { model, size, below: 4, above: 5, modes: MIXED, tiles: 64 };
    let time = median(&scene(self::model(50_000)?), 100.0, quick)?;
    figure("curve dab over triangles/50k", time, "ms");
    let time = median(&scene(Arc::clone(model)), 100.0, quick)?;
    figure("curve dab over triangles/500k", time, "ms");
    if !quick {
        let time = median(&scene(self::model(5_000_000)?), 100.0, quick)?;
        figure("curve dab over triangles/5M", time, "ms");
    }
    Ok(())
}
