//! The fast compositor against the exact one, value by value.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelId, Combine, Composite, Content, DisplayTile,
    FastCompositor, FieldExpr, FieldId, Isolation, Layer, LayerId, Mask, MaskSource, MaskTerm,
    Opacity, PaintedCell, Stack, TermId, Value, composite,
};
use proptest::prelude::*;
use raster::{Plane, TILE_TEXELS, Tile, TileAt, Unobserved};

use crate::scene::{OneField, Scene, channels, hash, scene, scenes, size, texels};

/// Exact values are rounded to 16 bits: half a step of that is not the fast compositor's error.
pub(crate) const ROUNDED: f64 = 0.5 / 65_535.0;
/// What the design allows for one blend.
const ONE_BLEND: f64 = 1.0 / 16_384.0;
/// And over 40 layers.
pub(crate) const STACK: f64 = 1.0 / 4096.0;

pub(crate) const BOTH: [ChannelId; 2] = [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS];

/// Numbers that look random but are the same on every run.
#[derive(Debug, Clone)]
pub(crate) struct Dice(u32, u32);

impl Dice {
    pub(crate) fn new(seed: u32) -> Self {
        Self(seed, 0)
    }

    pub(crate) fn bits(&mut self) -> u32 {
        self.1 += 1;
        hash(self.0, self.1)
    }

    pub(crate) fn below(&mut self, sides: u32) -> u32 {
        (self.bits() >> 8) % sides
    }

    pub(crate) fn value(&mut self) -> u16 {
        match self.below(8) {
            0 => 0,
            1 => u16::MAX,
            _ => self.bits() as u16,
        }
    }

    fn opacity(&mut self) -> Opacity {
        match self.below(3) {
            0 => Opacity::FULL,
            _ => Opacity::new(self.bits() as f32 / u32::MAX as f32).unwrap(),
        }
    }

    pub(crate) fn plane(&mut self, uniform: u32) -> Plane {
        let mut plane = Plane::uniform(size().extent(), self.value());
        for at in size().extent().tile_places() {
            if self.below(100) >= uniform {
                plane.set_tile(at, texels(self.bits()));
            }
        }
        plane
    }

    fn mask(&mut self) -> Mask {
        let combines = [
            Combine::Multiply,
            Combine::Add,
            Combine::Subtract,
            Combine::Lighten,
            Combine::Darken,
            Combine::Replace,
        ];
        let terms = [0, 0, 1, 1, 2][self.below(5) as usize];
        let term = |id| MaskTerm {
            id: TermId(id),
            on: self.below(8) != 0,
            invert: self.below(3) == 0,
            strength: self.opacity(),
            combine: combines[self.below(6) as usize],
            source: if self.below(4) == 0 {
                MaskSource::Field(FieldExpr::new(FieldId::Occlusion, 0.9, 0.1).unwrap())
            } else {
                MaskSource::Painted(self.plane(20))
            },
        };
        Mask { terms: (0..terms).map(term).collect() }
    }

    fn cell(&mut self, colour: bool) -> CellSettings {
        let modes: Vec<_> =
            BlendMode::ALL.into_iter().filter(|mode| colour || mode.is_separable()).collect();
        CellSettings {
            on: self.below(10) != 0,
            blend: modes[self.below(modes.len() as u32) as usize],
            opacity: self.opacity(),
            mask: self.mask(),
        }
    }

    /// A layer that takes its number, and those of its children, from `next`. At most `budget` layers.
    fn layer(&mut self, next: &mut u32, budget: &mut u32, depth: u32) -> Layer {
        *budget = budget.saturating_sub(1);
        let id = LayerId(*next);
        *next += 1;
        let content = match self.below(10) {
            0..2 if depth < 3 && *budget > 0 => {
                let isolation =
                    [Isolation::Isolated, Isolation::PassThrough][self.below(2) as usize];
                let mut children = Vec::new();
                for _ in 0..=self.below(5) {
                    if *budget > 0 {
                        children.push(Arc::new(self.layer(next, budget, depth + 1)));
                    }
                }
                Content::Group { isolation, children }
            }
            2..4 => Content::Solid(BTreeMap::from([
                (ChannelId::BASE_COLOUR, Value::Colour([(); 3].map(|()| self.value()))),
                (ChannelId::ROUGHNESS, Value::Scalar(self.value())),
            ])),
            _ => {
                let coverage = self.plane(20);
                let mut cell = |components| PaintedCell {
                    values: (0..components).map(|_| self.plane(20)).collect(),
                    coverage: coverage.clone(),
                };
                let cells = [(ChannelId::BASE_COLOUR, cell(3)), (ChannelId::ROUGHNESS, cell(1))];
                Content::Painted(cells.into())
            }
        };
        let mut layer = Layer::new(id, format!("layer {id}"), content);
        layer.opacity = self.opacity();
        layer.mask = self.mask();
        layer.cells =
            [(ChannelId::BASE_COLOUR, self.cell(true)), (ChannelId::ROUGHNESS, self.cell(false))]
                .into();
        layer
    }

    /// A scene of so many layers, those in groups counted.
    pub(crate) fn scene(&mut self, layers: u32, blend_space: BlendSpace) -> Scene {
        let (mut next, mut budget, mut list) = (0, layers, Vec::new());
        while budget > 0 {
            list.push(Arc::new(self.layer(&mut next, &mut budget, 0)));
        }
        Scene {
            stack: Stack { layers: list },
            ground: BTreeMap::from([
                (ChannelId::BASE_COLOUR, Value::Colour([(); 3].map(|()| self.value()))),
                (ChannelId::ROUGHNESS, Value::Scalar(self.value())),
            ]),
            channels: channels(),
            blend_space,
            size: size(),
            fields: OneField(self.plane(20)),
        }
    }
}

/// The furthest that the fast compositor's values are from the exact ones, each rounded to 16 bits.
fn furthest(scene: &Scene) -> f64 {
    let exact = composite(&scene.composition(), &Unobserved).unwrap();
    let all: Vec<_> = size().extent().tile_places().collect();
    let found = Mutex::new((0.0, 0));
    let sink = |at: TileAt, tile: &DisplayTile| {
        let mut found = found.lock().unwrap();
        found.0 = off(&exact, at, tile).max(found.0);
        found.1 += 1;
    };
    FastCompositor::new(0).tiles(&scene.composition(), None, &BOTH, &all, &sink).unwrap();
    let found = found.into_inner().unwrap();
    assert_eq!(found.1, all.len());
    found.0
}

pub(crate) fn off(exact: &Composite, at: TileAt, tile: &DisplayTile) -> f64 {
    let mut furthest: f64 = 0.0;
    for (&id, channel) in &exact.channels {
        for (component, plane) in channel.values.iter().enumerate() {
            let exact = plane.tile(at).read().unwrap();
            let fast = tile.component(id, component).unwrap();
            for (index, &fast) in fast.iter().enumerate() {
                let fast = f64::from(fast) / f64::from(DisplayTile::ONE);
                let exact = f64::from(exact.at(index)) / 65_535.0;
                furthest = furthest.max((fast - exact).abs());
            }
        }
    }
    furthest
}

/// One layer of random texels over a random ground.
fn one_blend(seed: u32, mode: BlendMode, opacity: f32, mask: bool, space: BlendSpace) -> Scene {
    let mut dice = Dice::new(seed);
    let mut scene = dice.scene(0, space);
    let coverage = dice.plane(0);
    let mut cell = |components| PaintedCell {
        values: (0..components).map(|_| dice.plane(0)).collect(),
        coverage: coverage.clone(),
    };
    let cells = [(ChannelId::BASE_COLOUR, cell(3)), (ChannelId::ROUGHNESS, cell(1))];
    let mut layer = Layer::new(LayerId(0), "one", Content::Painted(cells.into()));
    layer.opacity = Opacity::new(opacity).unwrap();
    if mask {
        layer.mask.terms.push(MaskTerm {
            id: TermId(0),
            on: true,
            invert: false,
            strength: Opacity::FULL,
            combine: Combine::Multiply,
            source: MaskSource::Painted(dice.plane(0)),
        });
    }
    let with = |blend| CellSettings { blend, ..CellSettings::default() };
    layer.cells.insert(ChannelId::BASE_COLOUR, with(mode));
    if mode.is_separable() {
        layer.cells.insert(ChannelId::ROUGHNESS, with(mode));
    }
    scene.stack.layers.push(Arc::new(layer));
    scene
}

#[test]
fn one_blend_of_any_mode_is_within_a_16384th_of_exact() {
    let mut worst: BTreeMap<&str, f64> = BTreeMap::new();
    for (number, mode) in BlendMode::ALL.into_iter().enumerate() {
        for seed in 0..12 {
            let opacity = [1.0, 0.5, 0.123, 0.99][seed as usize % 4];
            let mask = seed / 4 % 2 == 1;
            let space = if seed < 8 { BlendSpace::Encoded } else { BlendSpace::Linear };
            let scene = one_blend(seed * 100 + number as u32, mode, opacity, mask, space);
            let off = furthest(&scene);
            let worst = worst.entry(mode.key()).or_default();
            *worst = worst.max(off * 16_384.0);
        }
    }
    let over = worst.iter().find(|(_, off)| **off > (ONE_BLEND + ROUNDED) * 16_384.0);
    assert!(over.is_none(), "in 16384ths: {over:?}");
}

/// Layers that hardly cover leave every error in place: the worst case for a sum of errors.
#[test]
fn forty_faint_layers_are_within_a_4096th_of_exact() {
    for (seed, mode) in
        [BlendMode::Normal, BlendMode::Multiply, BlendMode::Overlay, BlendMode::Screen]
            .into_iter()
            .enumerate()
    {
        let mut scene = one_blend(seed as u32, mode, 0.03, false, BlendSpace::Encoded);
        for id in 1..40 {
            let one = one_blend(100 * id + seed as u32, mode, 0.03, false, BlendSpace::Encoded);
            let layer = Layer::clone(&one.stack.layers[0]);
            scene.stack.layers.push(Arc::new(Layer { id: LayerId(id), ..layer }));
        }
        let off = furthest(&scene);
        assert!(off <= STACK + ROUNDED, "{mode:?}: {} 4096ths", off * 4096.0);
    }
}

#[test]
fn forty_random_layers_are_within_a_4096th_of_exact() {
    for seed in 0..12 {
        let space = [BlendSpace::Encoded, BlendSpace::Linear][usize::from(seed % 4 == 3)];
        let off = furthest(&Dice::new(seed).scene(40, space));
        assert!(off <= STACK + ROUNDED, "seed {seed}: {} 4096ths", off * 4096.0);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn random_scenes_are_within_a_4096th_of_exact(spec in scenes(&BlendMode::ALL)) {
        let off = furthest(&scene(&spec));
        prop_assert!(off <= STACK + ROUNDED, "{} 4096ths", off * 4096.0);
    }
}

#[test]
fn bytes_for_the_screen_are_the_values_rounded() {
    let scene = Dice::new(5).scene(3, BlendSpace::Encoded);
    let sink = |_: TileAt, tile: &DisplayTile| {
        let mut rgba = [7; 4 * TILE_TEXELS];
        assert!(tile.write_rgba(ChannelId::BASE_COLOUR, &mut rgba));
        let mut bytes = [7; TILE_TEXELS];
        assert!(tile.write_r(ChannelId::ROUGHNESS, &mut bytes));
        assert!(!tile.write_r(ChannelId::BASE_COLOUR, &mut bytes.clone()));
        assert!(!tile.write_rgba(ChannelId::METALNESS, &mut rgba.clone()));
        let nearest = |value: u16| (f64::from(value) * 255.0 / 32_767.0).round() as u8;
        for index in 0..TILE_TEXELS {
            let of = |n| nearest(tile.component(ChannelId::BASE_COLOUR, n).unwrap()[index]);
            assert_eq!(rgba[4 * index..][..4], [of(0), of(1), of(2), 255]);
            let rough = tile.component(ChannelId::ROUGHNESS, 0).unwrap()[index];
            assert_eq!(bytes[index], nearest(rough));
        }
    };
    let tiles = [TileAt { x: 1, y: 0 }];
    FastCompositor::new(0).tiles(&scene.composition(), None, &BOTH, &tiles, &sink).unwrap();
}

#[test]
fn tiles_are_let_go_of_so_that_a_writer_need_not_copy_them() {
    let scene = one_blend(3, BlendMode::Normal, 1.0, true, BlendSpace::Encoded);
    let Content::Painted(cells) = &scene.stack.layers[0].content else { panic!("painted") };
    let at = TileAt { x: 0, y: 0 };
    let Tile::Texels(body) = cells[&ChannelId::ROUGHNESS].values[0].tile(at) else {
        panic!("random texels")
    };
    let compositor = FastCompositor::new(1 << 20);
    let active = Some(LayerId(0));
    compositor.tiles(&scene.composition(), active, &BOTH, &[at], &|_, _| {}).unwrap();
    // The body's own, and this one.
    assert_eq!(Arc::strong_count(&body.read().unwrap()), 2);
}

#[test]
fn full_black_and_full_white_arrive_whole() {
    let tile = |value| {
        let mut scene = Dice::new(1).scene(0, BlendSpace::Encoded);
        let mut coverage = Plane::uniform(size().extent(), 0);
        // One texel short of full, so that the tile isn't uniform.
        let mut texels = [u16::MAX; TILE_TEXELS];
        texels[9] = 0;
        coverage.set_tile(TileAt { x: 0, y: 0 }, Tile::of(&texels));
        let values = vec![Plane::uniform(size().extent(), value)];
        let cells = [(ChannelId::ROUGHNESS, PaintedCell { values, coverage })];
        let layer = Layer::new(LayerId(0), "whole", Content::Painted(cells.into()));
        scene.stack.layers.push(Arc::new(layer));
        let found = Mutex::new(None);
        let sink = |_: TileAt, tile: &DisplayTile| {
            *found.lock().unwrap() = Some(tile.component(ChannelId::ROUGHNESS, 0).unwrap()[10]);
        };
        let tiles = [TileAt { x: 0, y: 0 }];
        FastCompositor::new(0).tiles(&scene.composition(), None, &BOTH, &tiles, &sink).unwrap();
        found.into_inner().unwrap()
    };
    assert_eq!(tile(0), Some(0));
    assert_eq!(tile(u16::MAX), Some(DisplayTile::ONE));
}
