//! Random stacks as plain data that proptest can make and shrink, and what is built from them.

use std::collections::BTreeMap;
use std::sync::Arc;

use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelDescriptor, ChannelId, Combine, Composition,
    Content, FieldExpr, FieldId, Fields, Ground, Isolation, Layer, LayerId, LayersError, Mask,
    MaskSource, MaskTerm, Opacity, PaintedCell, Stack, TermId, Value, standard_channels,
};
use proptest::prelude::*;
use raster::{Extent, Plane, TILE_TEXELS, TextureSize, Tile, TileAt};

/// Texels along an edge: two tiles.
pub(crate) const EDGE: u32 = 128;

pub(crate) fn size() -> TextureSize {
    TextureSize::new(EDGE).unwrap()
}

/// Base colour and roughness: one channel of each kind.
pub(crate) fn channels() -> Vec<ChannelDescriptor> {
    standard_channels().into_iter().take(2).collect()
}

#[derive(Debug, Clone, Copy)]
pub(crate) enum TileSpec {
    Nothing,
    Full,
    Uniform(u16),
    Texels(u32),
}

pub(crate) type PlaneSpec = [TileSpec; 4];

#[derive(Debug, Clone)]
pub(crate) struct TermSpec {
    on: bool,
    invert: bool,
    strength: f32,
    combine: Combine,
    source: Result<PlaneSpec, FieldExpr>,
}

#[derive(Debug, Clone)]
pub(crate) struct CellSpec {
    on: bool,
    blend: BlendMode,
    opacity: f32,
    mask: Vec<TermSpec>,
}

#[derive(Debug, Clone)]
pub(crate) struct LayerSpec {
    visible: bool,
    opacity: f32,
    mask: Vec<TermSpec>,
    cells: [CellSpec; 2],
    content: ContentSpec,
}

#[derive(Debug, Clone)]
pub(crate) enum ContentSpec {
    Painted { colour: Option<[PlaneSpec; 3]>, roughness: Option<PlaneSpec>, coverage: PlaneSpec },
    Solid { colour: Option<[u16; 3]>, roughness: Option<u16> },
    Group { isolated: bool, children: Vec<LayerSpec> },
}

#[derive(Debug, Clone)]
pub(crate) struct SceneSpec {
    layers: Vec<LayerSpec>,
    ground: ([u16; 3], u16),
    linear: bool,
    occlusion: PlaneSpec,
}

/// Everything that a composition borrows.
#[derive(Debug, Clone)]
pub(crate) struct Scene {
    pub(crate) stack: Stack,
    pub(crate) ground: Ground,
    pub(crate) channels: Vec<ChannelDescriptor>,
    pub(crate) blend_space: BlendSpace,
    pub(crate) size: TextureSize,
    pub(crate) fields: OneField,
}

/// Occlusion is baked, nothing else is.
#[derive(Debug, Clone)]
pub(crate) struct OneField(pub(crate) Plane);

impl Fields for OneField {
    fn tile(&self, field: FieldId, at: TileAt) -> Result<Option<Tile>, LayersError> {
        Ok((field == FieldId::Occlusion).then(|| self.0.tile(at).clone()))
    }
}

impl Scene {
    pub(crate) fn composition(&self) -> Composition<'_> {
        Composition {
            stack: &self.stack,
            ground: &self.ground,
            channels: &self.channels,
            blend_space: self.blend_space,
            size: self.size,
            fields: &self.fields,
        }
    }

    /// The same with other layers.
    pub(crate) fn with_stack(&self, stack: Stack) -> Self {
        Self { stack, ..self.clone() }
    }
}

/// Bits that look random but are the same on every run.
pub(crate) fn hash(seed: u32, index: u32) -> u32 {
    let mut bits = seed ^ index.wrapping_mul(0x9E37_79B9);
    for _ in 0..2 {
        bits = (bits ^ (bits >> 16)).wrapping_mul(0x45D9_F3B3);
    }
    bits ^ (bits >> 16)
}

/// A tile of texels; a quarter of them are 0 or 65535, where formulas have their corners.
pub(crate) fn texels(seed: u32) -> Tile {
    let values: [u16; TILE_TEXELS] = std::array::from_fn(|index| {
        let bits = hash(seed, index as u32);
        match bits >> 29 {
            0 => 0,
            1 => u16::MAX,
            _ => bits as u16,
        }
    });
    Tile::of(&values)
}

fn plane(spec: &PlaneSpec) -> Plane {
    let mut plane = Plane::uniform(Extent { width: EDGE, height: EDGE }, 0);
    for (at, tile) in plane.extent().tile_places().zip(spec) {
        let tile = match *tile {
            TileSpec::Nothing => Tile::Uniform(0),
            TileSpec::Full => Tile::Uniform(u16::MAX),
            TileSpec::Uniform(value) => Tile::Uniform(value),
            TileSpec::Texels(seed) => texels(seed),
        };
        plane.set_tile(at, tile);
    }
    plane
}

fn mask(terms: &[TermSpec]) -> Mask {
    let term = |(id, term): (usize, &TermSpec)| MaskTerm {
        id: TermId(id as u32),
        on: term.on,
        invert: term.invert,
        strength: Opacity::new(term.strength).unwrap(),
        combine: term.combine,
        source: match &term.source {
            Ok(spec) => MaskSource::Painted(plane(spec)),
            Err(expr) => MaskSource::Field(*expr),
        },
    };
    Mask { terms: terms.iter().enumerate().map(term).collect() }
}

fn content(spec: &ContentSpec, next_id: &mut u32) -> Content {
    match spec {
        ContentSpec::Painted { colour, roughness, coverage } => {
            let coverage = plane(coverage);
            let cell = |planes: &[PlaneSpec]| PaintedCell {
                values: planes.iter().map(plane).collect(),
                coverage: coverage.clone(),
            };
            let colour = colour.as_ref().map(|planes| (ChannelId::BASE_COLOUR, cell(planes)));
            let roughness = roughness.as_ref().map(|spec| (ChannelId::ROUGHNESS, cell(&[*spec])));
            Content::Painted(colour.into_iter().chain(roughness).collect())
        }
        ContentSpec::Solid { colour, roughness } => {
            let colour = colour.map(|value| (ChannelId::BASE_COLOUR, Value::Colour(value)));
            let roughness = roughness.map(|value| (ChannelId::ROUGHNESS, Value::Scalar(value)));
            Content::Solid(colour.into_iter().chain(roughness).collect())
        }
        ContentSpec::Group { isolated, children } => Content::Group {
            isolation: if *isolated { Isolation::Isolated } else { Isolation::PassThrough },
            children: children.iter().map(|child| layer(child, next_id)).collect(),
        },
    }
}

fn layer(spec: &LayerSpec, next_id: &mut u32) -> Arc<Layer> {
    let id = LayerId(*next_id);
    *next_id += 1;
    let cell = |cell: &CellSpec| CellSettings {
        on: cell.on,
        blend: cell.blend,
        opacity: Opacity::new(cell.opacity).unwrap(),
        mask: mask(&cell.mask),
    };
    let mut layer = Layer::new(id, format!("layer {id}"), content(&spec.content, next_id));
    layer.visible = spec.visible;
    layer.opacity = Opacity::new(spec.opacity).unwrap();
    layer.mask = mask(&spec.mask);
    layer.cells = BTreeMap::from([
        (ChannelId::BASE_COLOUR, cell(&spec.cells[0])),
        (ChannelId::ROUGHNESS, cell(&spec.cells[1])),
    ]);
    Arc::new(layer)
}

pub(crate) fn scene(spec: &SceneSpec) -> Scene {
    let mut next_id = 0;
    Scene {
        stack: Stack { layers: spec.layers.iter().map(|one| layer(one, &mut next_id)).collect() },
        ground: BTreeMap::from([
            (ChannelId::BASE_COLOUR, Value::Colour(spec.ground.0)),
            (ChannelId::ROUGHNESS, Value::Scalar(spec.ground.1)),
        ]),
        channels: channels(),
        blend_space: if spec.linear { BlendSpace::Linear } else { BlendSpace::Encoded },
        size: size(),
        fields: OneField(plane(&spec.occlusion)),
    }
}

/// Modes whose result does not jump, and of no slope that makes rounding grow without bound.
pub(crate) const STEADY: [BlendMode; 14] = [
    BlendMode::Normal,
    BlendMode::Multiply,
    BlendMode::Screen,
    BlendMode::Overlay,
    BlendMode::Darken,
    BlendMode::Lighten,
    BlendMode::HardLight,
    BlendMode::SoftLight,
    BlendMode::Difference,
    BlendMode::Exclusion,
    BlendMode::Color,
    BlendMode::Luminosity,
    BlendMode::Add,
    BlendMode::Subtract,
];

fn factors() -> impl Strategy<Value = f32> + Clone {
    prop_oneof![3 => Just(1.0_f32), 1 => Just(0.0_f32), 4 => 0.0_f32..=1.0]
}

fn planes() -> impl Strategy<Value = PlaneSpec> + Clone {
    prop::array::uniform4(prop_oneof![
        2 => Just(TileSpec::Nothing),
        1 => Just(TileSpec::Full),
        1 => any::<u16>().prop_map(TileSpec::Uniform),
        3 => any::<u32>().prop_map(TileSpec::Texels),
    ])
}

fn masks() -> impl Strategy<Value = Vec<TermSpec>> + Clone {
    let combine = prop::sample::select(vec![
        Combine::Multiply,
        Combine::Add,
        Combine::Subtract,
        Combine::Lighten,
        Combine::Darken,
        Combine::Replace,
    ]);
    let field = prop::sample::select(vec![(0.0, 1.0), (0.9, 0.1), (0.25, 0.75), (-1.0, 2.0)])
        .prop_map(|(low, high)| FieldExpr::new(FieldId::Occlusion, low, high).unwrap());
    let source = prop_oneof![planes().prop_map(Ok), field.prop_map(Err)];
    let term = (prop::bool::weighted(0.8), any::<bool>(), factors(), combine, source).prop_map(
        |(on, invert, strength, combine, source)| TermSpec {
            on,
            invert,
            strength,
            combine,
            source,
        },
    );
    prop_oneof![3 => Just(Vec::new()), 2 => prop::collection::vec(term, 1..3)]
}

fn cells(modes: Vec<BlendMode>) -> impl Strategy<Value = [CellSpec; 2]> + Clone {
    let cell = move |modes: Vec<BlendMode>| {
        let blend = prop::sample::select(modes);
        (prop::bool::weighted(0.9), blend, factors(), masks())
            .prop_map(|(on, blend, opacity, mask)| CellSpec { on, blend, opacity, mask })
    };
    let separable = modes.iter().copied().filter(|mode| mode.is_separable()).collect();
    (cell(modes), cell(separable)).prop_map(|(colour, roughness)| [colour, roughness])
}

fn layers(modes: &[BlendMode]) -> impl Strategy<Value = LayerSpec> + use<> {
    let modes = modes.to_vec();
    let painted = (
        prop::option::weighted(0.9, prop::array::uniform3(planes())),
        prop::option::weighted(0.7, planes()),
        planes(),
    )
        .prop_map(|(colour, roughness, coverage)| ContentSpec::Painted {
            colour,
            roughness,
            coverage,
        });
    let solid = (prop::option::of(any::<[u16; 3]>()), prop::option::of(any::<u16>()))
        .prop_map(|(colour, roughness)| ContentSpec::Solid { colour, roughness });
    let around = move |content: BoxedStrategy<ContentSpec>| {
        (prop::bool::weighted(0.9), factors(), masks(), cells(modes.clone()), content).prop_map(
            |(visible, opacity, mask, cells, content)| LayerSpec {
                visible,
                opacity,
                mask,
                cells,
                content,
            },
        )
    };
    let leaf = around(prop_oneof![2 => painted, 1 => solid].boxed());
    leaf.prop_recursive(3, 10, 3, move |inner| {
        let group = (any::<bool>(), prop::collection::vec(inner, 0..4))
            .prop_map(|(isolated, children)| ContentSpec::Group { isolated, children });
        around(group.boxed())
    })
}

/// Scenes whose cells blend by these modes.
pub(crate) fn scenes(modes: &[BlendMode]) -> impl Strategy<Value = SceneSpec> + use<> {
    let ground = (any::<[u16; 3]>(), any::<u16>());
    (prop::collection::vec(layers(modes), 0..5), ground, any::<bool>(), planes()).prop_map(
        |(layers, ground, linear, occlusion)| SceneSpec { layers, ground, linear, occlusion },
    )
}
