//! A plate with ripples and a stack of painted layers on it, to draw on.

use std::collections::BTreeMap;
use std::sync::Arc;

use document::{Document, Material, MaterialId, Model, Recipes};
use editor::{Editor, EditorError, Settings};
use glam::{DVec3, Vec2};
use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelId, ChannelKind, Content, Ground, Layer, LayerId,
    Mask, MaskSource, MaskTerm, Opacity, PaintedCell, Stack, TermId, standard_channels,
};
use raster::{Plane, Texels, TextureSize, Tile};
use surface::{Mesh, SurfaceError};

use crate::grid::grid;

/// Pieces of the layout along each edge.
const PIECES: u32 = 4;
/// The share of its square that a piece fills.
const FILLED: f64 = 0.92;

/// A plate of 1 x 1 with ripples, of about so many triangles, its layout cut into square pieces.
pub(crate) fn plate(triangles: u32) -> Result<Mesh, SurfaceError> {
    let quads = (f64::from(triangles / 2).sqrt() as u32 / PIECES).max(1) * PIECES;
    Mesh::new(grid(quads, PIECES, FILLED, |x, z| {
        DVec3::new(x, 0.004 * (90.0 * x).sin() * (70.0 * z).cos(), z)
    }))
}

/// The length on the plate of so many texels.
pub(crate) fn texels(count: f64, size: TextureSize) -> f64 {
    count / (FILLED * f64::from(size.edge()))
}

/// What is drawn on.
#[derive(Debug, Clone)]
pub(crate) struct Scene {
    pub(crate) model: Arc<Model>,
    pub(crate) size: TextureSize,
    pub(crate) below: u32,
    pub(crate) above: u32,
    /// The modes that layers take in turn.
    pub(crate) modes: &'static [BlendMode],
    /// Different tiles a plane; they are used again and again over it.
    pub(crate) tiles: usize,
}

impl Scene {
    /// An editor with this scene open.
    pub(crate) fn open(&self, settings: Settings) -> Result<Editor, EditorError> {
        let mut noise = Noise(0x5eed);
        let layers = (0..=self.below + self.above).map(|number| {
            let painted = number == self.below;
            Arc::new(if painted { self.bare() } else { self.layer(number, &mut noise) })
        });
        let material = Material {
            id: MaterialId(0),
            name: "bronze".to_owned(),
            size: self.size,
            blend_space: BlendSpace::Encoded,
            ground: Ground::new(),
            stack: Stack { layers: layers.collect() },
            recipes: Recipes::default(),
            fields: BTreeMap::new(),
            selection: None,
            pass_maps: Arc::default(),
        };
        let document = Document {
            channels: standard_channels().into(),
            model: Some(Arc::clone(&self.model)),
            materials: vec![Arc::new(material)],
        };
        Editor::open(document, settings)
    }

    /// The layer that is drawn on.
    pub(crate) fn painted(&self) -> LayerId {
        LayerId(self.below)
    }

    fn bare(&self) -> Layer {
        Layer::new(self.painted(), "drawn on", Content::Painted(BTreeMap::new()))
    }

    /// All channels full of texels under one coverage and one mask.
    fn layer(&self, number: u32, noise: &mut Noise) -> Layer {
        let coverage = self.plane(noise);
        let cells = standard_channels().into_iter().map(|channel| {
            let components = match channel.kind {
                ChannelKind::Colour => 3,
                ChannelKind::Scalar => 1,
            };
            let values = (0..components).map(|_| self.plane(noise)).collect();
            (channel.id, PaintedCell { values, coverage: coverage.clone() })
        });
        let content = Content::Painted(cells.collect());
        let mut layer = Layer::new(LayerId(number), format!("layer {number}"), content);
        let blend = self.modes[number as usize % self.modes.len()];
        let settings = CellSettings { blend, ..CellSettings::DEFAULT };
        let all = [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS, ChannelId::METALNESS];
        layer.cells = all.into_iter().map(|channel| (channel, settings.clone())).collect();
        layer.mask = Mask {
            terms: vec![MaskTerm {
                id: TermId(0),
                on: true,
                invert: false,
                strength: Opacity::FULL,
                combine: layers::Combine::Multiply,
                source: MaskSource::Painted(self.plane(noise)),
            }],
        };
        layer
    }

    fn plane(&self, noise: &mut Noise) -> Plane {
        let pool: Vec<Tile> = (0..self.tiles).map(|_| Tile::of(&noise.tile())).collect();
        let mut plane = Plane::uniform(self.size.extent(), 0);
        for (number, at) in self.size.extent().tile_places().enumerate() {
            plane.set_tile(at, pool[number % pool.len()].clone());
        }
        plane
    }
}

/// Random numbers that are the same in every run (Knuth's linear congruential generator, MMIX).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> u16 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 48) as u16
    }

    /// A soft slope with a little grain: no two texels alike, as paint is.
    fn tile(&mut self) -> Texels {
        let (from, slope) =
            (self.next() / 2, Vec2::new(f32::from(self.next()), f32::from(self.next())));
        std::array::from_fn(|index| {
            let at = Vec2::new((index % 64) as f32, (index / 64) as f32) / 256.0;
            from + slope.dot(at) as u16 + self.next() / 64
        })
    }
}
