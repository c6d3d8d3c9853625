//! How fast the fast compositor is, beside a peer and the memory's read rate, in one run.
//!
//! Ten layers of random texels of 4096 texels edge, each with a coverage of its own; 16 bits a value,
//! planar, straight. The peer, tiny-skia, composites the same number of layers in premultiplied 8-bit
//! RGBA, layer by layer. Every figure is the best of several rounds and is also printed as
//! `@<TAB>name<TAB>value<TAB>unit`. `--quick` takes fewer rounds and fewer layers of the peer.
#![expect(clippy::expect_used, reason = "a bench stops at the first thing that is wrong")]

use std::collections::BTreeMap;
use std::hint::black_box;
use std::sync::Arc;
use std::time::Instant;

use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelDescriptor, ChannelId, Combine, Composition,
    Content, DisplayTile, FastCompositor, Ground, Layer, LayerId, MaskSource, MaskTerm, NoFields,
    Opacity, PaintedCell, Stack, TermId, standard_channels,
};
use raster::{Lanes, Plane, TILE_TEXELS, TextureSize, Tile, TileAt};
use rayon::{ThreadPool, ThreadPoolBuilder};
use tiny_skia::{Pixmap, PixmapPaint, Transform};

const EDGE: u32 = 4096;
const LAYERS: usize = 10;
const CHANNELS: [ChannelId; 3] =
    [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS, ChannelId::METALNESS];
const MODES: [BlendMode; 4] =
    [BlendMode::Normal, BlendMode::Multiply, BlendMode::Overlay, BlendMode::SoftLight];

fn main() {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let rounds = if quick { 2 } else { 5 };
    let bench = Bench { pools: [1, 2].map(pool), size: size(), rounds };
    let reads = bench.read_rates();
    let layers = material_layers();
    for mode in MODES {
        let speed = bench.colour(&layers, mode);
        figure(&format!("compositor {}", name(mode)), speed, "Mpx-layers/s");
    }
    let [one, two] = bench.material(&layers);
    figure("compositor five values, coverage, mask: one thread", one, "GB/s");
    figure("compositor five values, coverage, mask: two threads", two, "GB/s");
    figure("compositor share of the read rate, one thread", 100.0 * one / reads[0], "%");
    figure("compositor second thread", two / one, "x");
    for count in [LAYERS, 10 * LAYERS] {
        let [first, next] = bench.dab(&layers, count).map(|seconds| 1000.0 * seconds);
        figure(&format!("compositor dab over {count} layers, first frame"), first, "ms");
        figure(&format!("compositor dab over {count} layers, next frames"), next, "ms");
    }
    drop(layers);
    peer(if quick { 3 } else { LAYERS }, rounds);
}

fn name(mode: BlendMode) -> &'static str {
    if mode == BlendMode::Normal { "over" } else { mode.key() }
}

fn figure(name: &str, value: f64, unit: &str) {
    println!("{name:60} {value:9.1} {unit}");
    println!("@\t{name}\t{value:.2}\t{unit}");
}

fn size() -> TextureSize {
    TextureSize::new(EDGE).expect("a power of two")
}

fn pool(threads: usize) -> ThreadPool {
    ThreadPoolBuilder::new().num_threads(threads).build().expect("threads")
}

/// Words that look random: xorshift64 (Marsaglia 2003, "Xorshift RNGs").
struct Words(u64);

impl Words {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn plane(&mut self) -> Plane {
        let mut plane = Plane::uniform(size().extent(), 0);
        for at in size().extent().tile_places() {
            let mut texels = [0; TILE_TEXELS];
            for four in texels.as_chunks_mut::<4>().0 {
                let word = self.next();
                *four =
                    [word as u16, (word >> 16) as u16, (word >> 32) as u16, (word >> 48) as u16];
            }
            plane.set_tile(at, Tile::of(&texels));
        }
        plane
    }
}

/// Layers of three channels that share their coverage, with a mask each.
fn material_layers() -> Vec<Layer> {
    let mut words = Words(0x9E37_79B9_7F4A_7C15);
    (0..LAYERS)
        .map(|id| {
            let coverage = words.plane();
            let mut cell = |components| PaintedCell {
                values: (0..components).map(|_| words.plane()).collect(),
                coverage: coverage.clone(),
            };
            let cells = BTreeMap::from([
                (ChannelId::BASE_COLOUR, cell(3)),
                (ChannelId::ROUGHNESS, cell(1)),
                (ChannelId::METALNESS, cell(1)),
            ]);
            let content = Content::Painted(cells);
            let mut layer = Layer::new(LayerId(id as u32), format!("layer {id}"), content);
            layer.mask.terms.push(MaskTerm {
                id: TermId(0),
                on: true,
                invert: false,
                strength: Opacity::FULL,
                combine: Combine::Multiply,
                source: MaskSource::Painted(words.plane()),
            });
            layer
        })
        .collect()
}

struct Bench {
    pools: [ThreadPool; 2],
    size: TextureSize,
    rounds: usize,
}

impl Bench {
    /// The least seconds of any round.
    fn best(&self, mut work: impl FnMut()) -> f64 {
        let once = |_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        };
        (0..self.rounds).map(once).fold(f64::INFINITY, f64::min)
    }

    /// GB/s of a sum over half a gigabyte, on one thread and on two.
    fn read_rates(&self) -> [f64; 2] {
        let mut words = Words(7);
        let buffer: Vec<u64> = (0..1 << 26).map(|_| words.next()).collect();
        let sum = |part: &[u64]| {
            Lanes::widest().run(|| part.iter().fold(0_u64, |sum, &word| sum.wrapping_add(word)))
        };
        let bytes = size_of_val(buffer.as_slice()) as f64;
        let (first, second) = buffer.split_at(buffer.len() / 2);
        let one = bytes / self.best(|| _ = black_box(sum(&buffer))) / 1e9;
        let both = || self.pools[1].join(|| sum(first), || sum(second));
        let two = bytes / self.best(|| _ = black_box(both())) / 1e9;
        figure("memory read, one thread", one, "GB/s");
        figure("memory read, two threads", two, "GB/s");
        [one, two]
    }

    /// Mpx-layers/s of the base colour alone, without masks, on one thread.
    fn colour(&self, layers: &[Layer], mode: BlendMode) -> f64 {
        let of = |layer: &Layer| {
            let mut layer = layer.clone();
            layer.mask.terms.clear();
            let cell = CellSettings { blend: mode, ..CellSettings::default() };
            layer.cells.insert(ChannelId::BASE_COLOUR, cell);
            Arc::new(layer)
        };
        let stack = Stack { layers: layers.iter().map(of).collect() };
        let seconds = self.seconds(&stack, &[ChannelId::BASE_COLOUR], 0);
        (LAYERS * self.size.extent().texels()) as f64 / seconds / 1e6
    }

    /// GB/s of tile bytes read for all channels with masks, on one thread and on two.
    fn material(&self, layers: &[Layer]) -> [f64; 2] {
        let stack = Stack { layers: layers.iter().cloned().map(Arc::new).collect() };
        let bytes = (7 * 2 * LAYERS * self.size.extent().texels()) as f64;
        [0, 1].map(|pool| bytes / self.seconds(&stack, &CHANNELS, pool) / 1e9)
    }

    /// Seconds from a stack to 8-bit texels of all tiles under a dab of 250 texels radius, its layer in
    /// the middle of `count`, for the first frame and for later ones; on two threads. Layers beyond
    /// those that there are repeat them.
    fn dab(&self, layers: &[Layer], count: usize) -> [f64; 2] {
        let layer = |(id, layer): (usize, &Layer)| {
            Arc::new(Layer { id: LayerId(id as u32), ..layer.clone() })
        };
        let layers = layers.iter().cycle().take(count).enumerate().map(layer).collect();
        let stack = Stack { layers };
        let (ground, descriptors) = (Ground::new(), standard_channels());
        let composition = self.composition(&stack, &ground, &descriptors);
        let reach = 250.0 / 64.0 + 0.75;
        let middle = (EDGE / 64) as f32 / 2.0;
        let off = |place: u32| place as f32 + 0.5 - middle;
        let under = |at: &TileAt| off(at.x).hypot(off(at.y)) < reach;
        let tiles: Vec<TileAt> = self.size.extent().tile_places().filter(under).collect();
        let active = Some(LayerId(count as u32 / 2));
        let sink = |_: TileAt, tile: &DisplayTile| {
            let (mut rgba, mut bytes) = ([0; 4 * TILE_TEXELS], [0; TILE_TEXELS]);
            tile.write_rgba(ChannelId::BASE_COLOUR, &mut rgba);
            tile.write_r(ChannelId::ROUGHNESS, &mut bytes);
            black_box((rgba, bytes));
            tile.write_r(ChannelId::METALNESS, &mut bytes);
            black_box(bytes);
        };
        let compositor = FastCompositor::new(1 << 30);
        let frame = || {
            let start = Instant::now();
            let done = self.pools[1]
                .install(|| compositor.tiles(&composition, active, &CHANNELS, &tiles, &sink));
            done.expect("a stack that can be composited");
            start.elapsed().as_secs_f64()
        };
        let first = frame();
        frame();
        let mut later: Vec<f64> = (0..41).map(|_| frame()).collect();
        later.sort_by(f64::total_cmp);
        [first, later[later.len() / 2]]
    }

    fn composition<'a>(
        &self,
        stack: &'a Stack,
        ground: &'a Ground,
        channels: &'a [ChannelDescriptor],
    ) -> Composition<'a> {
        let (blend_space, size, fields) = (BlendSpace::Encoded, self.size, &NoFields);
        Composition { stack, ground, channels, blend_space, size, fields }
    }

    fn seconds(&self, stack: &Stack, channels: &[ChannelId], pool: usize) -> f64 {
        let (ground, descriptors) = (Ground::new(), standard_channels());
        let composition = self.composition(stack, &ground, &descriptors);
        let tiles: Vec<TileAt> = self.size.extent().tile_places().collect();
        let compositor = FastCompositor::new(0);
        self.best(|| {
            let done = self.pools[pool].install(|| {
                compositor
                    .tiles(&composition, None, channels, &tiles, &|_, tile| _ = black_box(tile))
            });
            done.expect("a stack that can be composited");
        })
    }
}

/// The peer's speeds, on one thread.
fn peer(layers: usize, rounds: usize) {
    let mut words = Words(99);
    let sources: Vec<Pixmap> = (0..layers).map(|_| random_pixmap(&mut words)).collect();
    for mode in MODES {
        let blend_mode = match mode {
            BlendMode::Multiply => tiny_skia::BlendMode::Multiply,
            BlendMode::Overlay => tiny_skia::BlendMode::Overlay,
            BlendMode::SoftLight => tiny_skia::BlendMode::SoftLight,
            _ => tiny_skia::BlendMode::SourceOver,
        };
        let paint = PixmapPaint { blend_mode, ..PixmapPaint::default() };
        let mut best = f64::INFINITY;
        for _ in 0..rounds.min(2) {
            let mut canvas = Pixmap::new(EDGE, EDGE).expect("a size that can be had");
            canvas.fill(tiny_skia::Color::from_rgba8(128, 128, 128, 255));
            let start = Instant::now();
            for source in &sources {
                canvas.draw_pixmap(0, 0, source.as_ref(), &paint, Transform::identity(), None);
            }
            best = best.min(start.elapsed().as_secs_f64());
            black_box(&canvas);
        }
        let speed = (layers * (EDGE * EDGE) as usize) as f64 / best / 1e6;
        figure(&format!("tiny-skia {}", name(mode)), speed, "Mpx-layers/s");
    }
}

fn random_pixmap(words: &mut Words) -> Pixmap {
    let mut pixmap = Pixmap::new(EDGE, EDGE).expect("a size that can be had");
    for pixel in pixmap.data_mut().as_chunks_mut::<4>().0 {
        let [r, g, b, a, ..] = words.next().to_le_bytes();
        let premultiplied = |c: u8| (u16::from(c) * u16::from(a) / 255) as u8;
        *pixel = [premultiplied(r), premultiplied(g), premultiplied(b), a];
    }
    pixmap
}
