//! Another texture size: painted again from the recipe, it is what would have been painted at that size.

use std::collections::BTreeMap;
use std::sync::Arc;

use brush::{
    Adjustment, Anchor, BrushSettings, Curve, Decal, FillScope, GreyImage, Guide, KernelVersion,
    LeftOut, Path, PathPoint, Reach, Stroke, StrokeKind, SurfacePath, Symmetry, TexturePoint,
};
use document::{
    Deposit, Document, Edit, LayerEdit, MaskAt, MaskOwner, Material, MaterialEdit, MaterialId,
    Model, ModelMaterial, NewContent, NewTerm, NewTermSource, Recipe, Shape, Step, Target, apply,
};
use editor::Derived;
use glam::{DVec3, Vec2};
use layers::{
    BlendSpace, ChannelId, Combine, Content, Isolation, LayerId, PaintedCell, Place, TermId, Value,
};
use raster::{Bitmap, Extent, TextureSize, Unobserved, resample_covered, resample_scalar};

use crate::compared::{difference, plane_difference, planes_of};
use crate::meshes::halved_plane;
use crate::strokes::{Bench, stroke};

const CLAY: MaterialId = MaterialId(0);
const COLOUR: ChannelId = ChannelId::BASE_COLOUR;
const ROUGHNESS: ChannelId = ChannelId::ROUGHNESS;
const METALNESS: ChannelId = ChannelId::METALNESS;

/// Documents of one model, and what is derived from it.
struct Desk {
    model: Arc<Model>,
    bench: Bench,
    derived: Derived,
}

impl Desk {
    /// A plane of two islands, 128 texels of 1024 to a side, so that large textures stay sparse.
    fn new(materials: Vec<ModelMaterial>) -> Self {
        let mesh = halved_plane(1024.0, 128.0, 200.0);
        let model = Arc::new(Model::new(Arc::clone(&mesh), materials));
        Self { model, bench: Bench::new(mesh, 64), derived: Derived::default() }
    }

    fn imported(&self, edge: u32) -> Document {
        let import = Edit::Import { model: Arc::clone(&self.model), size: size(edge) };
        apply(&Document::default(), &import, &self.derived, &Unobserved).unwrap()
    }

    fn after(&self, document: Document, edits: &[MaterialEdit]) -> Document {
        edits.iter().fold(document, |document, change| {
            let edit = Edit::Material(CLAY, change.clone());
            apply(&document, &edit, &self.derived, &Unobserved).unwrap()
        })
    }

    /// A stroke from point to point of the plane.
    fn stroke(&self, ends: [(f64, f64); 2], radius: f64, brush: BrushSettings) -> Stroke {
        let [from, to] = ends.map(|(x, z)| DVec3::new(x, 0.0, z));
        let point = |step: i32| {
            let pressure = 0.5 + 0.05 * step as f32;
            let at = from.lerp(to, f64::from(step) / 10.0);
            PathPoint { pressure, ..self.bench.point(at, radius) }
        };
        let runs = vec![(0..=10).map(point).collect()];
        stroke(Path::Surface(SurfacePath { runs, eye: None }), brush)
    }
}

fn size(edge: u32) -> TextureSize {
    TextureSize::new(edge).unwrap()
}

fn add(layer: u32, content: NewContent, parent: Option<u32>) -> MaterialEdit {
    let place = Place { parent: parent.map(LayerId), index: 0 };
    let name = format!("layer {layer}");
    MaterialEdit::AddLayer { layer: LayerId(layer), name, content, place }
}

fn deposit(layer: u32, deposit: Deposit, shape: Shape) -> MaterialEdit {
    let step = Arc::new(Step::Deposit { deposit, shape });
    MaterialEdit::Layer(LayerId(layer), LayerEdit::Paint(step))
}

fn colour(red: u16, green: u16, blue: u16) -> (ChannelId, Value) {
    (COLOUR, Value::Colour([red, green, blue]))
}

fn paint<const N: usize>(values: [(ChannelId, Value); N]) -> Deposit {
    Deposit::Paint(BTreeMap::from(values))
}

fn fill(scope: FillScope, opacity: f32) -> Shape {
    Shape::Fill { scope, opacity, left_out: LeftOut::default(), tooth: None }
}

fn new_term(layer: u32, at: MaskAt, value: u16) -> MaterialEdit {
    let source = NewTermSource::Painted(value);
    let term = NewTerm { id: at.term, combine: Combine::Multiply, source };
    MaterialEdit::Layer(LayerId(layer), LayerEdit::AddMaskTerm(at.owner, term))
}

/// Every kind of step that a recipe holds: strokes on the surface and on the flat texture, fills, erasing,
/// masks of a layer and of a cell, a mask term that is taken away and made anew, a copied layer, a group,
/// paint mixed in both blend spaces.
fn work(desk: &Desk) -> Vec<MaterialEdit> {
    let soft = BrushSettings { hardness: 0.1, flow: 0.6, ..BrushSettings::default() };
    let hard = BrushSettings { hardness: 1.0, reach: Reach::Connected, ..soft.clone() };
    let half = BrushSettings { opacity: 0.5, ..BrushSettings::default() };
    let across = |brush: &BrushSettings| {
        Shape::Stroke(desk.stroke([(0.2, 0.3), (0.8, 0.6)], 0.12, brush.clone()))
    };
    let down = |brush: &BrushSettings| {
        Shape::Stroke(desk.stroke([(0.5, 0.1), (0.45, 0.9)], 0.08, brush.clone()))
    };
    let flat = |x: f32| TexturePoint::of(Vec2::new(x, 0.1), 0.02);
    let flat = Path::Texture(vec![vec![flat(0.09), flat(0.12)]]);
    let whole = MaskAt { owner: MaskOwner::Layer, term: TermId(0) };
    let rough = MaskAt { owner: MaskOwner::Cell(ROUGHNESS), term: TermId(3) };
    let triangle = desk.bench.point(DVec3::new(0.7, 0.0, 0.5), 0.1).triangle;
    let grey = (ROUGHNESS, Value::Scalar(20_000));
    let moving = |kind| {
        let stroke = desk.stroke([(0.3, 0.5), (0.7, 0.4)], 0.1, soft.clone());
        Shape::Stroke(Stroke { kind, ..stroke })
    };
    let cells = || Target::Cells(vec![COLOUR, ROUGHNESS]);
    let knots = [(0.2, 0.2), (0.5, 0.6), (0.8, 0.3)];
    let knots = knots.map(|(x, z)| desk.bench.point(DVec3::new(x, 0.0, z), 0.05));
    let guide = Guide { knots: knots.to_vec(), curve: Curve::Smooth, closed: true };
    let centre = DVec3::new(0.5, 0.0, 0.5);
    let decal = Decal {
        image: GreyImage::new(Extent { width: 3, height: 2 }, vec![65_535, 0, 9, 800, 5, 1])
            .unwrap(),
        middle: Anchor { position: centre, normal: DVec3::Y },
        up: DVec3::X,
        half: 0.2,
        turn: 0.3,
        opacity: 0.8,
        left_out: LeftOut::default(),
    };
    let symmetry = Some(Symmetry { centre, mirrors: [false, false, true], turns: None });
    let guided = Shape::Stroke(Stroke { symmetry, ..stroke(Path::Guided(guide), half.clone()) });
    vec![
        add(1, NewContent::Painted, None),
        deposit(1, paint([colour(60_000, 20_000, 5_000), grey]), across(&soft)),
        deposit(1, paint([colour(3_000, 30_000, 50_000)]), down(&hard)),
        deposit(1, Deposit::Erase(vec![ROUGHNESS]), down(&half)),
        new_term(1, whole, 10_000),
        deposit(1, Deposit::Mask { at: whole, value: 60_000 }, across(&half)),
        deposit(1, Deposit::Mask { at: whole, value: 0 }, fill(FillScope::Island(triangle), 0.4)),
        new_term(1, rough, 65_535),
        deposit(1, Deposit::Mask { at: rough, value: 0 }, down(&soft)),
        MaterialEdit::Layer(LayerId(1), LayerEdit::RemoveMaskTerm(rough)),
        new_term(1, rough, 40_000),
        deposit(1, Deposit::Mask { at: rough, value: 5_000 }, down(&hard)),
        MaterialEdit::BlendSpace(BlendSpace::Linear),
        deposit(1, paint([colour(1_000, 60_000, 9_000)]), across(&half)),
        MaterialEdit::BlendSpace(BlendSpace::Encoded),
        MaterialEdit::DuplicateLayer { layer: LayerId(1), copy: LayerId(2) },
        deposit(2, Deposit::Erase(vec![COLOUR]), fill(FillScope::Part(surface::PartId(0)), 0.25)),
        deposit(2, paint([colour(9_000, 9_000, 60_000)]), guided),
        deposit(2, paint([colour(9_000, 60_000, 9_000)]), Shape::Decal(decal)),
        deposit(2, Deposit::Move(cells()), moving(StrokeKind::Smudge { hold: 0.8 })),
        deposit(2, Deposit::Move(Target::Mask(whole)), moving(StrokeKind::Soften { reach: 0.4 })),
        deposit(2, Deposit::Adjust(cells(), Adjustment::Darken(0.4)), across(&half)),
        add(5, NewContent::Group(Isolation::Isolated), None),
        add(6, NewContent::Painted, Some(5)),
        deposit(6, paint([(METALNESS, Value::Scalar(65_535))]), fill(FillScope::Material, 0.7)),
        deposit(6, paint([(METALNESS, Value::Scalar(9_000))]), Shape::Stroke(stroke(flat, half))),
    ]
}

#[test]
fn a_document_painted_at_1024_and_enlarged_to_4096_is_the_one_painted_at_4096() {
    let desk = Desk::new(Vec::new());
    let work = work(&desk);
    let small = desk.after(desk.imported(1024), &work);
    let grown = desk.after(small, &[MaterialEdit::TextureSize(size(4096))]);
    let large = desk.after(desk.imported(4096), &work);
    assert_eq!(difference(&grown, &large), None);
    let painted = planes_of(large.materials[0].stack.find(LayerId(1)).unwrap());
    assert!(painted.iter().any(|(_, plane)| plane.tiles().any(|tile| tile.address().is_some())));
}

/// A path that is moved, or taken away, leaves what would have been painted in the first place.
#[test]
fn a_path_can_be_moved_after_all() {
    let desk = Desk::new(Vec::new());
    let brush = BrushSettings { flow: 0.6, ..BrushSettings::default() };
    let through = |z: f64| {
        let knots = [(0.2, 0.2), (0.5, z), (0.8, 0.3)];
        let knots = knots.map(|(x, z)| desk.bench.point(DVec3::new(x, 0.0, z), 0.06));
        let guide = Guide { knots: knots.to_vec(), curve: Curve::Straight, closed: false };
        Shape::Stroke(stroke(Path::Guided(guide), brush.clone()))
    };
    let over = || Shape::Stroke(desk.stroke([(0.3, 0.1), (0.6, 0.8)], 0.1, brush.clone()));
    let painted = |path: Option<f64>| {
        let mut work = vec![add(1, NewContent::Painted, None)];
        work.extend(path.map(|z| deposit(1, paint([colour(60_000, 20_000, 5_000)]), through(z))));
        work.push(deposit(1, paint([colour(3_000, 30_000, 50_000)]), over()));
        desk.after(desk.imported(256), &work)
    };
    let repaint = |with: Option<f64>| {
        let with = with.map(|z| {
            let (deposit, shape) = (paint([colour(60_000, 20_000, 5_000)]), through(z));
            Arc::new(Step::Deposit { deposit, shape })
        });
        MaterialEdit::Layer(LayerId(1), LayerEdit::Repaint { step: 0, with })
    };
    for with in [Some(0.7), None] {
        let moved = desk.after(painted(Some(0.4)), &[repaint(with)]);
        assert_eq!(difference(&moved, &painted(with)), None);
    }
    let edit = Edit::Material(
        CLAY,
        MaterialEdit::Layer(LayerId(1), LayerEdit::Repaint { step: 7, with: None }),
    );
    let refused = apply(&painted(None), &edit, &desk.derived, &Unobserved).unwrap_err();
    assert_eq!(refused.to_string(), "layer 1 has no step 7: its steps count from 0 to 0");
}

#[test]
fn a_document_made_smaller_and_larger_again_loses_nothing() {
    let desk = Desk::new(Vec::new());
    let before = desk.after(desk.imported(512), &work(&desk));
    let there = desk.after(before.clone(), &[MaterialEdit::TextureSize(size(64))]);
    assert_eq!(there.materials[0].size.edge(), 64);
    let back = desk.after(there, &[MaterialEdit::TextureSize(size(512))]);
    assert_eq!(difference(&before, &back), None);
}

/// The document with every stroke of a layer said to be made by a kernel that nobody knows.
fn of_another_kernel(document: &Document, layer: LayerId) -> Document {
    let material = Material::clone(&document.materials[0]);
    let recipe = material.recipe(layer);
    let steps = recipe.steps.iter().map(|painted| {
        let mut painted = painted.clone();
        if let Step::Deposit { shape: Shape::Stroke(stroke), .. } = Arc::make_mut(&mut painted.step)
        {
            stroke.kernel = KernelVersion(u16::MAX);
        }
        painted
    });
    let recipe = Recipe { base: recipe.base.clone(), steps: steps.collect() };
    let recipes = material.recipes.insert(layer, recipe);
    let mut document = document.clone();
    document.materials[0] = Arc::new(Material { recipes, ..material });
    document
}

fn cell(document: &Document, layer: u32, channel: ChannelId) -> PaintedCell {
    let layer = document.materials[0].stack.find(LayerId(layer)).unwrap();
    let Content::Painted(cells) = &layer.content else { panic!("not painted") };
    cells[&channel].clone()
}

#[test]
fn a_stroke_that_can_not_be_replayed_is_resampled() {
    let desk = Desk::new(Vec::new());
    let brush = BrushSettings { hardness: 0.0, opacity: 0.8, ..BrushSettings::default() };
    let shape = || Shape::Stroke(desk.stroke([(0.2, 0.3), (0.7, 0.7)], 0.45, brush.clone()));
    let at = MaskAt { owner: MaskOwner::Layer, term: TermId(0) };
    let work = [
        add(1, NewContent::Painted, None),
        deposit(1, paint([colour(60_000, 20_000, 5_000)]), shape()),
        new_term(1, at, 0),
        deposit(1, Deposit::Mask { at, value: 50_000 }, shape()),
    ];
    let painted = desk.after(desk.imported(64), &work);
    let foreign = of_another_kernel(&painted, LayerId(1));
    let grow = [MaterialEdit::TextureSize(size(256))];
    let (grown, replayed) = (desk.after(foreign, &grow), desk.after(painted.clone(), &grow));

    let extent = size(256).extent();
    let before = cell(&painted, 1, COLOUR);
    let (values, coverage) =
        resample_covered(&before.values, &before.coverage, extent, true).unwrap();
    let now = cell(&grown, 1, COLOUR);
    assert_eq!(plane_difference(&now.coverage, &coverage), None);
    for (now, expected) in now.values.iter().zip(&values) {
        assert_eq!(plane_difference(now, expected), None);
    }
    let mask = |document: &Document| {
        let planes = planes_of(&document.materials[0].stack.layers[0]);
        planes.into_iter().find(|(name, _)| name.contains("mask")).unwrap().1
    };
    let expected = resample_scalar(&mask(&painted), extent).unwrap();
    assert_eq!(plane_difference(&mask(&grown), &expected), None);

    // Near to what a replay gives, a texel of the small texture from every rim on.
    let again = cell(&replayed, 1, COLOUR);
    assert!(plane_difference(&now.coverage, &again.coverage).is_some());
    let bench = Bench::new(Arc::clone(desk.model.mesh()), 256);
    let (mut worst, mut covered) = (0, 0);
    for (x, y) in (0..256).flat_map(|y| (0..256).map(move |x| (x, y))) {
        if bench.map.owner(x, y).is_none() {
            continue;
        }
        let (resampled, replayed) =
            (now.coverage.texel(x, y).unwrap(), again.coverage.texel(x, y).unwrap());
        worst = worst.max(resampled.abs_diff(replayed));
        covered += usize::from(replayed > 30_000);
        if replayed > 6_000 {
            for (value, painted) in now.values.iter().zip([60_000u16, 20_000, 5_000]) {
                assert!(value.texel(x, y).unwrap().abs_diff(painted) <= 1);
            }
        }
    }
    assert!(covered > 100, "{covered}");
    assert!(worst < 65_535 / 8, "{worst} steps off");
}

/// A map that came with the model is the base of its layer's recipe: it is resampled from its own size
/// each time, and strokes over it are replayed.
#[test]
fn imported_maps_keep_their_own_size_under_what_is_painted_on_them() {
    let extent = Extent { width: 96, height: 48 };
    let values = (0..96 * 48 * 3).map(|index: u32| (index * 997 % 65_536) as u16).collect();
    let map = Arc::new(Bitmap::new(extent, 3, values).unwrap());
    let rough = Arc::new(Bitmap::filled(Extent { width: 1, height: 1 }, 1, 12_345u16));
    let came = ModelMaterial {
        base_colour_map: Some(Arc::clone(&map)),
        roughness_map: Some(rough),
        ..ModelMaterial::default()
    };
    let desk = Desk::new(vec![came]);
    let brush = BrushSettings { opacity: 0.7, ..BrushSettings::default() };
    let shape = Shape::Stroke(desk.stroke([(0.2, 0.3), (0.7, 0.7)], 0.2, brush));
    let work = [deposit(0, paint([colour(60_000, 20_000, 5_000)]), shape)];
    let small = desk.after(desk.imported(64), &work);
    let grown = desk.after(small, &[MaterialEdit::TextureSize(size(256))]);
    let large = desk.after(desk.imported(256), &work);
    assert_eq!(difference(&grown, &large), None);

    let imported = desk.imported(256);
    let planes: Vec<_> = (0..3).map(|component| map.plane(component)).collect();
    let full = raster::Plane::uniform(extent, u16::MAX);
    let (expected, _) = resample_covered(&planes, &full, size(256).extent(), true).unwrap();
    let came_in = cell(&imported, 0, COLOUR);
    for (plane, expected) in came_in.values.iter().zip(&expected) {
        assert_eq!(plane_difference(plane, expected), None);
    }
    assert_eq!(came_in.coverage.texel(3, 250).unwrap(), u16::MAX);
    assert_eq!(cell(&imported, 0, ROUGHNESS).values[0].texel(100, 7).unwrap(), 12_345);
}
