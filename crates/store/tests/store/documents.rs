//! Documents for tests, made by hand.

use std::collections::BTreeMap;
use std::sync::Arc;

use brush::{
    Axis, BrushSettings, BuildUp, Easing, Fade, FillScope, Gradient, KernelVersion, LeftOut,
    Mirror, Path, PathPoint, Reach, Response, Responses, Stroke, StrokeKind, SurfacePath,
    TexturePoint,
};
use document::{
    Deposit, Document, MaskAt, MaskOwner, Material, MaterialId, Model, ModelMaterial, PassMap,
    PassMapKind, Recipe, RecipeBase, RecipeStep, Recipes, Selection, Shape, Step, Target,
};
use glam::{DVec3, Vec2, Vec3};
use layers::{
    BlendMode, BlendSpace, CellSettings, ChannelId, Combine, Content, FieldExpr, FieldId, Ground,
    Isolation, Layer, LayerId, Mask, MaskSource, MaskTerm, Opacity, PaintedCell, Stack, TermId,
    Value,
};
use raster::{Bitmap, EncodedRgb, Extent, Plane, TILE_TEXELS, TextureSize, Tile, TileAt};
use surface::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId, TriangleId};

use crate::steps::step;

const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
const ROUGHNESS: ChannelId = ChannelId::ROUGHNESS;
const METALNESS: ChannelId = ChannelId::METALNESS;

pub(crate) fn size(edge: u32) -> TextureSize {
    TextureSize::new(edge).unwrap()
}

pub(crate) fn opacity(value: f32) -> Opacity {
    Opacity::new(value).unwrap()
}

/// A tile that is like no other one.
pub(crate) fn noise(seed: u32) -> Tile {
    let mut state = seed.wrapping_mul(2_654_435_761) | 1;
    Tile::of(&std::array::from_fn::<u16, TILE_TEXELS, _>(|_| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 16) as u16
    }))
}

/// A soft spot: what painted coverage looks like.
pub(crate) fn soft(seed: u32) -> Tile {
    let middle = (20.0 + (seed % 24) as f32, 20.0 + (seed / 24 % 24) as f32);
    Tile::of(&std::array::from_fn::<u16, TILE_TEXELS, _>(|index| {
        let (x, y) = ((index % 64) as f32 - middle.0, (index / 64) as f32 - middle.1);
        (60_000.0 * (1.0 - (x * x + y * y).sqrt() / 30.0).max(0.0) + (seed % 1000) as f32) as u16
    }))
}

/// A plane of 0 with some tiles.
pub(crate) fn plane(edge: u32, tiles: impl IntoIterator<Item = (u32, u32, Tile)>) -> Plane {
    let mut plane = Plane::uniform(size(edge).extent(), 0);
    for (x, y, tile) in tiles {
        plane.set_tile(TileAt { x, y }, tile);
    }
    plane
}

pub(crate) fn surface_stroke(seed: u32, points: usize) -> Step {
    let point = |index: usize| {
        let t = index as f32 / 7.0 + seed as f32;
        PathPoint {
            part: PartId(seed % 2),
            triangle: TriangleId(seed % 3),
            barycentric: [0.2, 0.3, 0.5],
            position: Vec3::new(t, -t, 1e-20 * t),
            normal: Vec3::Y,
            radius: 0.1 + t,
            pressure: 1.0 / (1.0 + t),
            lean: Vec3::ZERO,
            speed: 0.0,
        }
    };
    let runs = vec![(0..points).map(point).collect(), Vec::new(), vec![point(99)]];
    let eye = (seed % 2 == 1).then_some(DVec3::new(0.1, f64::MAX, -0.0));
    let response = Response { at_zero: 0.25, gamma: 2.0, ..Response::NONE };
    let stroke = Stroke {
        kernel: KernelVersion::PLAIN,
        kind: StrokeKind::Deposit,
        path: Path::Surface(SurfacePath { runs, eye }),
        brush: BrushSettings {
            hardness: 0.1,
            opacity: 0.2,
            flow: 0.3,
            spacing: 0.4,
            build_up: BuildUp::Even,
            reach: Reach::Connected,
            pressure: Responses { size: response, ..Responses::NONE },
            ..BrushSettings::default()
        },
        seed: u64::MAX - u64::from(seed),
        left_out: LeftOut::new([PartId(1)], [PartId(0)]),
        symmetry: None,
        stencil: None,
    };
    let values =
        BTreeMap::from([(COLOUR, Value::Colour([1, 2, 3])), (METALNESS, Value::Scalar(9))]);
    Step::Deposit { deposit: Deposit::Paint(values), shape: Shape::Stroke(stroke) }
}

fn other_steps() -> Vec<Step> {
    let at = |owner| MaskAt { owner, term: TermId(4) };
    let point = TexturePoint { pressure: 0.5, ..TexturePoint::of(Vec2::new(0.25, 1.5), 0.01) };
    let stroke = Stroke {
        kernel: KernelVersion(77),
        kind: StrokeKind::Smudge { hold: 0.0 },
        path: Path::Texture(vec![vec![point; 3]]),
        brush: BrushSettings { reach: Reach::Part, ..BrushSettings::default() },
        seed: 3,
        left_out: LeftOut::default(),
        symmetry: None,
        stencil: None,
    };
    let fill =
        |scope| Shape::Fill { scope, opacity: 0.5, left_out: LeftOut::default(), tooth: None };
    let erase = || Deposit::Erase(vec![ROUGHNESS, COLOUR]);
    let mask = Deposit::Mask { at: at(MaskOwner::Cell(METALNESS)), value: 400 };
    vec![
        Step::MaskStart { at: at(MaskOwner::Layer), value: 65_535 },
        Step::Deposit { deposit: erase(), shape: Shape::Stroke(stroke) },
        Step::Deposit { deposit: mask, shape: fill(FillScope::Material) },
        Step::Deposit { deposit: erase(), shape: fill(FillScope::Part(PartId(1))) },
        Step::Deposit { deposit: erase(), shape: fill(FillScope::Island(TriangleId(2))) },
        Step::Clear(vec![METALNESS]),
    ]
}

pub(crate) fn recipe_step(step: Step, blend_space: BlendSpace) -> RecipeStep {
    RecipeStep { step: Arc::new(step), blend_space, within: None }
}

/// Two parts, quads and a triangle, corners with and without UVs and normals, colours, a rest pose.
fn mesh() -> Mesh {
    let corner = |position: u32, bare: bool| Corner {
        position,
        uv: if bare { NO_INDEX } else { position % 2 },
        normal: if bare { NO_INDEX } else { 0 },
    };
    let positions: Vec<Vec3> =
        (0..7).map(|i| Vec3::new(i as f32 * 0.1, -0.0, 1.0 / (i + 1) as f32)).collect();
    Mesh::new(MeshData {
        rest_positions: positions.iter().map(|p| *p * 2.0).collect(),
        colours: (0..7).map(|i| [i as f32, 0.5, 0.25, 1.0]).collect(),
        positions,
        normals: vec![Vec3::new(0.0, 3.0, 0.0)],
        uvs: vec![Vec2::new(0.5, 0.25), Vec2::new(-1.0, 7.5)],
        face_starts: vec![0, 4, 7],
        corners: (0..7).map(|i| corner(i, i > 3)).collect(),
        face_parts: vec![PartId(1), PartId(0)],
        face_materials: vec![MaterialSlot(0), MaterialSlot(1)],
        parts: vec![
            Part { name: "näme \u{1f514}\n\"'\0".to_owned(), axis: Vec3::Y },
            Part { name: String::new(), axis: Vec3::new(0.5, -0.5, 0.1) },
        ],
        material_names: vec!["bronze".to_owned(), "; DROP TABLE object --".to_owned()],
    })
    .unwrap()
}

fn pass_map(kind: PassMapKind, bytes: usize) -> PassMap {
    let bytes: Vec<u8> = (0..bytes).map(|index| (index * index / 7) as u8).collect();
    let media_type = "image/png".to_owned();
    PassMap { kind, media_type, bytes: bytes.into(), factor: [1.0, 0.5, 1e-30] }
}

pub(crate) fn model() -> Arc<Model> {
    let bitmap = |components: usize| {
        let extent = Extent { width: 5, height: 3 };
        let values = (0..extent.texels() * components).map(|i| (i * 4001) as u16).collect();
        Some(Arc::new(Bitmap::new(extent, components, values).unwrap()))
    };
    let came = ModelMaterial {
        base_colour: EncodedRgb([0.1, 0.2, 0.3]),
        roughness: 0.7,
        metalness: 0.9,
        base_colour_map: bitmap(3),
        roughness_map: None,
        metalness_map: bitmap(1),
        pass_maps: vec![pass_map(PassMapKind::Occlusion, 0), pass_map(PassMapKind::Normal, 300)],
    };
    Arc::new(Model::new(Arc::new(mesh()), vec![came, ModelMaterial::default()]))
}

/// A painted cell of `edge` texels with texels in one tile.
pub(crate) fn cell(edge: u32, components: usize, coverage: &Plane, seed: u32) -> PaintedCell {
    let value = |component| plane(edge, [(0, 0, soft(seed + component))]);
    PaintedCell { values: (0..components as u32).map(value).collect(), coverage: coverage.clone() }
}

fn mask(edge: u32, seed: u32) -> Mask {
    let combines = [
        Combine::Multiply,
        Combine::Add,
        Combine::Subtract,
        Combine::Lighten,
        Combine::Darken,
        Combine::Replace,
    ];
    let term = |(index, combine): (usize, Combine)| MaskTerm {
        id: TermId(index as u32 * 3),
        on: index % 2 == 0,
        invert: index % 3 == 0,
        strength: opacity(index as f32 / 6.0),
        combine,
        source: if index % 2 == 0 {
            MaskSource::Painted(plane(edge, [(0, 0, soft(seed + index as u32))]))
        } else {
            let field = FieldId::ALL[index];
            MaskSource::Field(FieldExpr::new(field, 0.9, 0.1).unwrap())
        },
    };
    Mask { terms: combines.into_iter().enumerate().map(term).collect() }
}

fn painted(edge: u32) -> Layer {
    let far = size(edge).extent().tiles().0 - 1;
    let coverage = plane(edge, [(0, 0, soft(1)), (far, far, noise(2)), (far, 0, Tile::Uniform(7))]);
    let cells = BTreeMap::from([
        (COLOUR, cell(edge, 3, &coverage, 10)),
        (ROUGHNESS, cell(edge, 1, &coverage, 20)),
    ]);
    let mut layer = Layer::new(LayerId(3), "painted", Content::Painted(cells));
    layer.mask = mask(edge, 30);
    for (channel, blend) in (0..).zip(BlendMode::ALL) {
        let cell = CellSettings {
            on: channel % 2 == 0,
            blend,
            opacity: opacity(0.25),
            mask: if channel < 2 { mask(edge, 40 + u32::from(channel)) } else { Mask::default() },
        };
        layer.cells.insert(ChannelId(channel), cell);
    }
    layer
}

fn stack(edge: u32) -> Stack {
    let solid =
        BTreeMap::from([(COLOUR, Value::Colour([9, 8, 7])), (ROUGHNESS, Value::Scalar(65_535))]);
    let mut solid = Layer::new(LayerId(5), "", Content::Solid(solid));
    (solid.visible, solid.opacity) = (false, opacity(1.0 / 3.0));
    let group = |id, isolation, children| {
        let content = Content::Group { isolation, children };
        Arc::new(Layer::new(LayerId(id), "gr\u{fc}n/\\", content))
    };
    let inner = group(8, Isolation::Isolated, vec![Arc::new(solid)]);
    let empty = Layer::new(LayerId(1), "empty", Content::Painted(BTreeMap::new()));
    let outer = group(6, Isolation::PassThrough, vec![inner, Arc::new(empty)]);
    Stack { layers: vec![Arc::new(painted(edge)), outer] }
}

/// A material with something of everything.
fn full_material(edge: u32) -> Material {
    let extent = Extent { width: 100, height: 30 };
    let map = Plane::from_fn(extent, |x, y| (x * 600 + y) as u16);
    let whole = Plane::uniform(extent, u16::MAX);
    let base = PaintedCell { values: vec![map], coverage: whole };
    let base = RecipeBase { cells: BTreeMap::from([(METALNESS, base)]) };
    let mut recipe = Recipe { base: Some(Arc::new(base)), steps: rpds::VectorSync::default() };
    for (number, step) in other_steps().into_iter().enumerate() {
        let space = [BlendSpace::Encoded, BlendSpace::Linear][number % 2];
        recipe = recipe.then(recipe_step(step, space));
    }
    for seed in 0..70 {
        recipe = recipe.then(recipe_step(surface_stroke(seed, 5), BlendSpace::Encoded));
    }
    let recipes =
        Recipes::default().insert(LayerId(3), recipe).insert(LayerId(1), Recipe::default());
    Material {
        id: MaterialId(0),
        name: "bronze".to_owned(),
        size: size(edge),
        blend_space: BlendSpace::Linear,
        ground: Ground::from([(COLOUR, Value::Colour([3, 2, 1])), (METALNESS, Value::Scalar(1))]),
        stack: stack(edge),
        recipes,
        fields: BTreeMap::from([
            (FieldId::Curvature, plane(edge, [(0, 0, noise(9))])),
            (FieldId::Noise, Plane::uniform(size(edge).extent(), 500)),
        ]),
        selection: None,
        pass_maps: [pass_map(PassMapKind::Emission, 3)].into(),
    }
}

/// What [`full`] has, with a selection, and steps that were painted within that one, another one and none; with a
/// gradient and fills of faces among them.
pub(crate) fn selected(edge: u32) -> Document {
    let mut document = full(edge);
    let mut material = Material::clone(&document.materials[0]);
    let selection = |edge, seed| {
        let tiles = [(0, 0, soft(seed)), (1, 1, Tile::Uniform(u16::MAX))];
        Arc::new(Selection::new(plane(edge, tiles)))
    };
    let (present, before) = (selection(edge, 50), selection(2 * edge, 60));
    let mut recipe = material.recipe(LayerId(3));
    let faces = FillScope::Faces([TriangleId(2), TriangleId(0)].into());
    let crease = FillScope::Crease { from: TriangleId(1), angle: 0.5 };
    let fades = [
        Fade::Linear { from: Vec3::ZERO, to: Vec3::new(1.0, -0.0, 3.0) },
        Fade::Radial { centre: Vec3::X, radius: 0.25 },
        Fade::Axis { axis: Axis::Y, from: 1.0, to: -2.5 },
    ];
    let gradients = fades.into_iter().zip([faces.clone(), crease.clone(), FillScope::Material]);
    let gradients = gradients.map(|(fade, scope)| {
        let left_out = LeftOut::new([], [PartId(0)]);
        let easing = if scope == FillScope::Material { Easing::Smooth } else { Easing::Even };
        Shape::Gradient(Gradient { fade, easing, opacity: 0.75, scope, left_out })
    });
    let fills = [faces, crease].map(|scope| {
        let left_out = LeftOut::default();
        Shape::Fill { scope, opacity: 0.5, left_out, tooth: None }
    });
    let within = [Some(&before), Some(&present), None, Some(&present), Some(&present)];
    for (shape, within) in gradients.chain(fills).zip(within) {
        let step = Step::Deposit { deposit: Deposit::Erase(vec![COLOUR]), shape };
        let step = recipe_step(step, BlendSpace::Linear);
        recipe = recipe.then(RecipeStep { within: within.cloned(), ..step });
    }
    let left_out = LeftOut::new([PartId(1)], []);
    let mirror = Mirror { axis: Axis::Z, at: -0.25, moves: true, left_out };
    let mask = MaskAt { owner: MaskOwner::Layer, term: TermId(2) };
    for target in [Target::Cells(vec![COLOUR, METALNESS]), Target::Mask(mask)] {
        let step = Step::Mirror { target, mirror: mirror.clone() };
        recipe = recipe.then(recipe_step(step, BlendSpace::Encoded));
    }
    material.recipes = material.recipes.insert(LayerId(3), recipe);
    material.selection = Some(present);
    document.materials[0] = Arc::new(material);
    document
}

/// A material without layers.
pub(crate) fn bare_material(id: u32, edge: u32) -> Material {
    Material {
        id: MaterialId(id),
        name: format!("material {id}"),
        size: size(edge),
        blend_space: BlendSpace::Encoded,
        ground: Ground::new(),
        stack: Stack::default(),
        recipes: Recipes::default(),
        fields: BTreeMap::new(),
        selection: None,
        pass_maps: Arc::default(),
    }
}

/// Something of everything that a document can hold, with textures of `edge` texels.
pub(crate) fn full(edge: u32) -> Document {
    let materials = vec![Arc::new(full_material(edge)), Arc::new(bare_material(1, 64))];
    Document { model: Some(model()), materials, ..Document::default() }
}

/// The document with something else in the place of a material.
pub(crate) fn with_material(document: &Document, material: Material) -> Document {
    let mut document = document.clone();
    let index = material.id.0 as usize;
    document.materials[index] = Arc::new(material);
    document
}

/// The document with one layer changed.
pub(crate) fn with_layer(
    document: &Document,
    material: u32,
    layer: LayerId,
    change: impl FnOnce(&mut Layer),
) -> Document {
    let mut changed = Material::clone(&document.materials[material as usize]);
    changed.stack = changed
        .stack
        .replaced(layer, |layer| {
            let mut layer = layer.clone();
            change(&mut layer);
            Ok::<_, layers::LayersError>(layer)
        })
        .unwrap();
    with_material(document, changed)
}

/// The document after a stroke: texels of a channel in some tiles of a painted layer, and a step.
pub(crate) fn stroke(
    document: &Document,
    layer: LayerId,
    channel: ChannelId,
    tiles: &[(u32, u32)],
    seed: u32,
) -> Document {
    painted_by(document, (layer, channel), tiles, (seed, surface_stroke(seed, 20)))
}

/// The same, by a step of whatever kind that seed gives.
pub(crate) fn any_step(
    document: &Document,
    layer: LayerId,
    channel: ChannelId,
    tiles: &[(u32, u32)],
    seed: u32,
) -> Document {
    painted_by(document, (layer, channel), tiles, (seed, step(seed)))
}

fn painted_by(
    document: &Document,
    (layer, channel): (LayerId, ChannelId),
    tiles: &[(u32, u32)],
    (seed, step): (u32, Step),
) -> Document {
    let extent = document.materials[0].size.extent();
    let painted = with_layer(document, 0, layer, |layer| {
        let Content::Painted(cells) = &mut layer.content else { return };
        let kind = if channel == COLOUR { 3 } else { 1 };
        let cell = cells.entry(channel).or_insert_with(|| {
            let nothing = Plane::uniform(extent, 0);
            PaintedCell { values: vec![nothing.clone(); kind], coverage: nothing }
        });
        for (number, (x, y)) in (0..).zip(tiles) {
            let at = TileAt { x: *x, y: *y };
            for (component, plane) in (0..).zip(&mut cell.values) {
                plane.set_tile(at, soft(seed * 1000 + number * 10 + component));
            }
            cell.coverage.set_tile(at, soft(seed * 1000 + number * 10 + 7));
        }
    });
    let mut material = Material::clone(&painted.materials[0]);
    let recipe = material.recipe(layer).then(recipe_step(step, BlendSpace::Encoded));
    material.recipes = material.recipes.insert(layer, recipe);
    with_material(&painted, material)
}
