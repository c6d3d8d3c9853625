//! What each kind of stroke costs while the pen is down. `cargo bench -p brush --bench kinds`; `-- --quick` takes fewer
//! frames, `-- smudge` only the kinds whose names hold that word.
//!
//! A torus of 500,000 triangles at 4096², three channels painted all over; a frame brings one dab, of 64 or of 256
//! texels radius. The plain brush is the peer in the same run: a line that ends in `against plain` is a ratio of medians.

#[path = "../../../surface/benches/mesh/grid.rs"]
mod grid;

use std::error::Error;
use std::f64::consts::TAU;
use std::sync::Arc;
use std::time::Instant;

use brush::{
    Anchor, Axis, BrushSettings, BrushSize, Camera, CellPlanes, CloneFrom, GreyImage, Hold, Jitter,
    LeftOut, Lies, LiveStroke, Mixing, Pattern, PenSample, Projection, Relief, Smoothing,
    StrokeBuffers, StrokeKind, StrokeStart, StrokeView, Symmetry, Tiling, Tip, Tooth,
};
use glam::{DVec2, DVec3};
use raster::{Extent, Plane, TextureSize, Unobserved};
use surface::{DecodedTiles, MaterialSlot, Mesh, Ray, Surface, TexelMap};

use crate::grid::grid;

type Outcome<T> = Result<T, Box<dyn Error>>;

fn torus() -> Outcome<Arc<Mesh>> {
    let data = grid(500, 4, 0.96, |u, v| {
        let (around, across) = (u.fract() * TAU, v.fract() * TAU);
        let thickness = 0.4 + 0.004 * (40.0 * across).sin() * (60.0 * around).cos();
        let out = 1.0 + thickness * across.cos();
        DVec3::new(out * around.cos(), thickness * across.sin(), out * around.sin())
    });
    Ok(Arc::new(Mesh::new(data)?))
}

/// A surface, its texels, paint on it, and a place to paint, seen from above.
struct Easel {
    tiles: Arc<DecodedTiles>,
    cells: Vec<CellPlanes>,
    camera: Camera,
    /// The width of a texel where the camera looks.
    texel: f64,
}

impl Easel {
    fn new() -> Outcome<Self> {
        let surface = Arc::new(Surface::prepare(torus()?, &Unobserved)?);
        let size = TextureSize::new(4096)?;
        let map = Arc::new(TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved)?);
        let ray = Ray { origin: DVec3::new(1.0, 100.0, 0.0), direction: DVec3::NEG_Y };
        let hit = surface.raycast(&ray).ok_or("nothing to paint on")?;
        let target = surface.position(hit.triangle, hit.barycentric);
        let [a, b, c] = surface.positions_of(hit.triangle);
        let [s, t, u] = surface.uvs_of(hit.triangle).ok_or("no layout")?;
        let (on_surface, in_layout) = ((b - a).cross(c - a).length(), (t - s).perp_dot(u - s));
        let texel = (on_surface / in_layout.abs()).sqrt() / 4096.0;
        let camera = Camera {
            eye: target + DVec3::Y * 10.0,
            target,
            up: DVec3::NEG_Z,
            projection: Projection::Orthographic { height: 1000.0 * texel },
            viewport_px: DVec2::splat(1000.0),
        };
        let coverage = Plane::uniform(size.extent(), u16::MAX);
        let checks = |shift: u32| {
            Plane::from_fn(size.extent(), move |x, y| {
                if (x >> shift ^ y >> shift) & 1 == 0 { 20_000 } else { 50_000 }
            })
        };
        let cell = |count: u32| CellPlanes {
            values: (0..count).map(|n| checks(4 + n)).collect(),
            coverage: coverage.clone(),
            paint: Vec::new(),
            mixing: Mixing::Stored,
        };
        let tiles = Arc::new(DecodedTiles::new(surface, map, 2 << 30));
        Ok(Self { tiles, cells: vec![cell(3), cell(1), cell(1)], camera, texel })
    }

    fn begin(&self, radius: f64, how: &How) -> Outcome<LiveStroke> {
        let size = BrushSize::Object(radius * self.texel);
        let mut brush = how.brush.clone();
        if let Some(tooth) = brush.tooth.as_mut().filter(|tooth| tooth.hold == Hold::Anchored) {
            let texels = if tooth.relief.image().is_some() { 512.0 } else { 8.0 };
            tooth.scale = (texels * self.texel) as f32;
        }
        let start = StrokeStart {
            view: StrokeView::Model { camera: self.camera, size },
            smoothing: Smoothing::Off,
            kind: how.kind,
            brush,
            seed: 0,
            left_out: LeftOut::default(),
            symmetry: how.symmetry,
            stencil: None,
        };
        let (tiles, buffers) = (Arc::clone(&self.tiles), StrokeBuffers::default());
        Ok(if how.kind.is_transport() {
            LiveStroke::begin_moving(&start, tiles, (self.cells.clone(), None), buffers)?
        } else {
            LiveStroke::begin(&start, tiles, buffers)?
        })
    }
}

/// One kind of stroke.
#[derive(Clone)]
struct How {
    kind: StrokeKind,
    brush: BrushSettings,
    symmetry: Option<Symmetry>,
}

/// An image of 512 pixels, none like its neighbours.
fn image() -> Outcome<GreyImage> {
    let value = |n: u32| (n.wrapping_mul(0x9E37_79B1) >> 16) as u16 | 1;
    Ok(GreyImage::new(Extent { width: 512, height: 512 }, (0..512 * 512).map(value).collect())?)
}

/// Brushes with images, and one whose tooth belongs to its dabs.
fn images(brush: &BrushSettings) -> Outcome<[(&'static str, BrushSettings); 4]> {
    let image = image()?;
    let tip = Tip { image: Some(image.clone()), ..Tip::ROUND };
    let tooth = |tiling| {
        let relief = Relief::Image(image.clone(), tiling);
        Some(Tooth { relief, contrast: 0.0, ..Tooth::default() })
    };
    let stamped = Some(Tooth { hold: Hold::Stamped, scale: 0.5, ..Tooth::default() });
    Ok([
        ("image tip", BrushSettings { tip, ..brush.clone() }),
        ("scattered image", BrushSettings { tooth: tooth(Tiling::Unstructured), ..brush.clone() }),
        ("image side by side", BrushSettings { tooth: tooth(Tiling::Structured), ..brush.clone() }),
        ("stamped tooth", BrushSettings { tooth: stamped, ..brush.clone() }),
    ])
}

fn kinds(easel: &Easel) -> Outcome<Vec<(&'static str, How)>> {
    let brush = BrushSettings { hardness: 0.5, flow: 0.5, ..BrushSettings::default() };
    let plain = How { kind: StrokeKind::Deposit, brush: brush.clone(), symmetry: None };
    let with = |brush| How { brush, ..plain };
    let tooth = |pattern| Some(Tooth { relief: Relief::Pattern(pattern), ..Tooth::default() });
    let moving = |kind| How { kind, ..plain.clone() };
    let target = easel.camera.target;
    let anchor = |position| Anchor { position, normal: DVec3::Y };
    let source = anchor(target + DVec3::X * 300.0 * easel.texel);
    let clone = CloneFrom::Surface { source, start: anchor(target) };
    let turns = Some((Axis::Y, 6));
    let symmetry = Symmetry { centre: DVec3::ZERO, mirrors: [false; 3], turns };
    let jitter = Jitter { size: 0.3, opacity: 0.3, position: 0.3, ..Jitter::NONE };
    let mut all = vec![
        ("plain", plain.clone()),
        (
            "oval",
            with(BrushSettings {
                tip: Tip { aspect: 0.3, lies: Lies::Stroke, ..Tip::ROUND },
                ..brush.clone()
            }),
        ),
        ("jitter", with(BrushSettings { jitter, ..brush.clone() })),
        ("clouds", with(BrushSettings { tooth: tooth(Pattern::Gradient), ..brush.clone() })),
        ("scratches", with(BrushSettings { tooth: tooth(Pattern::Scratches), ..brush.clone() })),
        ("mirrored six times", How { symmetry: Some(symmetry), ..plain.clone() }),
        ("smudge", moving(StrokeKind::Smudge { hold: 0.8 })),
        ("soften", moving(StrokeKind::Soften { reach: 0.25 })),
        ("clone", moving(StrokeKind::Clone(clone))),
    ];
    all.extend(images(&brush)?.map(|(name, brush)| (name, with(brush))));
    Ok(all)
}

/// A hand that goes to and fro over 500 pixels.
fn sample(number: usize, step: f64) -> PenSample {
    let along = (number as f64 * step) % 1000.0;
    let x = 250.0 + if along < 500.0 { along } else { 1000.0 - along };
    PenSample::mouse(DVec2::new(x, 480.0 + 0.04 * along), number as f64 / 133.0)
}

/// Milliseconds of frames that bring one dab each, sorted, and dabs a second.
fn frames(easel: &Easel, radius: f64, how: &How, count: usize) -> Outcome<(Vec<f64>, f64)> {
    let mut stroke = easel.begin(radius, how)?;
    let step = 0.2 * radius;
    for number in 0..12 {
        stroke.extend(&[sample(number, step)])?;
        stroke.changed()?;
    }
    let before = stroke.dabs();
    let (mut taken, whole) = (Vec::new(), Instant::now());
    for number in 12..12 + count {
        let start = Instant::now();
        stroke.extend(&[sample(number, step)])?;
        stroke.changed()?;
        taken.push(start.elapsed().as_secs_f64() * 1e3);
    }
    let dabs = (stroke.dabs() - before) as f64 / whole.elapsed().as_secs_f64();
    taken.sort_by(f64::total_cmp);
    Ok((taken, dabs))
}

fn main() -> Outcome<()> {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let word = std::env::args().skip(1).find(|argument| !argument.starts_with('-'));
    let is_wanted =
        |name: &str| name == "plain" || word.as_ref().is_none_or(|word| name.contains(word));
    let count = if quick { 60 } else { 300 };
    let easel = Easel::new()?;
    for radius in [64.0, 256.0] {
        let mut plain = 0.0;
        for (name, how) in kinds(&easel)?.into_iter().filter(|(name, _)| is_wanted(name)) {
            let (taken, dabs) = frames(&easel, radius, &how, count)?;
            let at = |share: f64| taken[(taken.len() as f64 * share) as usize];
            let name = format!("{name}, radius {radius}");
            println!("@\t{name}\t{dabs:.0}\tdabs/s");
            println!("@\t{name}, median\t{:.3}\tms", at(0.5));
            println!("@\t{name}, p99\t{:.3}\tms", at(0.99));
            if plain == 0.0 {
                plain = at(0.5);
            } else {
                println!("@\t{name}, against plain\t{:.2}\tx", at(0.5) / plain);
            }
        }
    }
    Ok(())
}
