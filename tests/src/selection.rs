//! What is selected, and that all paint is held within it.

use std::collections::BTreeMap;
use std::sync::Arc;

use brush::{
    BrushSettings, Camera, Coverage, Easing, Fade, FillScope, Gradient, Lasso, LeftOut, Path,
    Projection, SurfacePath,
};
use document::{
    Alike, Deposit, Document, DocumentError, Edit, LayerEdit, MaskAt, MaskOwner, MaterialEdit,
    MaterialId, Model, NewContent, NewTerm, NewTermSource, Region, RegionFill, SelectEdit,
    SelectMode, Selection, Shape, Step, apply,
};
use editor::{Derived, EditorError, Settings};
use glam::{DVec2, DVec3, Vec2, Vec3};
use layers::{ChannelId, Combine, Content, LayerId, Place, TermId, Value};
use proptest::prelude::*;
use raster::{TextureSize, Unobserved};
use surface::{DecodedTile, Mesh, PartId, TriangleId};

use crate::compared::{difference, plane_difference};
use crate::meshes::{Builder, add_box, halved_plane, plane, row_of_cells};
use crate::pen::{draw, samples, start, target};
use crate::random_edits::Desk;
use crate::strokes::{Bench, stroke};

const CLAY: MaterialId = MaterialId(0);
const ROUGHNESS: ChannelId = ChannelId::ROUGHNESS;

/// A document of one model with a painted layer 1.
pub(crate) struct Table {
    pub(crate) bench: Bench,
    derived: Derived,
    pub(crate) document: Document,
}

impl Table {
    pub(crate) fn new(mesh: Arc<Mesh>, edge: u32) -> Self {
        let model = Arc::new(Model::new(Arc::clone(&mesh), Vec::new()));
        let size = TextureSize::new(edge).unwrap();
        let (derived, import) = (Derived::default(), Edit::Import { model, size });
        let document = apply(&Document::default(), &import, &derived, &Unobserved).unwrap();
        let mut table = Self { bench: Bench::new(mesh, edge), derived, document };
        let place = Place { parent: None, index: 0 };
        let (name, content) = ("layer".to_owned(), NewContent::Painted);
        table.done(MaterialEdit::AddLayer { layer: LayerId(1), name, content, place });
        table
    }

    pub(crate) fn tried(&self, change: MaterialEdit) -> Result<Document, DocumentError> {
        apply(&self.document, &Edit::Material(CLAY, change), &self.derived, &Unobserved)
    }

    pub(crate) fn done(&mut self, change: MaterialEdit) {
        self.document = self.tried(change).unwrap();
    }

    pub(crate) fn select(&mut self, region: Region, mode: SelectMode) {
        self.done(selecting(region, mode));
    }

    pub(crate) fn change(&mut self, edit: SelectEdit) {
        self.done(MaterialEdit::Select(edit));
    }

    fn selection(&self) -> Option<Arc<Selection>> {
        self.document.materials[0].selection.clone()
    }

    fn selected(&self, x: u32, y: u32) -> u16 {
        self.selection().map_or(u16::MAX, |held| held.plane().texel(x, y).unwrap())
    }

    /// The area of what is selected, and what part of each owned texel is, by its point.
    fn area(&self) -> f64 {
        let selection = self.selection().unwrap();
        let tiles = selection.plane().extent().tile_places();
        let tiles = tiles.map(|at| (at, selection.plane().tile(at).clone())).collect();
        let extent = selection.plane().extent();
        self.bench.covered_area(&Coverage::new(extent, tiles))
    }

    pub(crate) fn coverage(&self, x: u32, y: u32) -> u16 {
        let layer = self.document.materials[0].stack.find(LayerId(1)).unwrap();
        let Content::Painted(cells) = &layer.content else { panic!("not painted") };
        cells.get(&ROUGHNESS).map_or(0, |cell| cell.coverage.texel(x, y).unwrap())
    }
}

fn selecting(region: Region, mode: SelectMode) -> MaterialEdit {
    let left_out = LeftOut::default();
    MaterialEdit::Select(SelectEdit::Region { region, mode, left_out })
}

fn outline(points: &[[f64; 2]]) -> Arc<[DVec2]> {
    points.iter().copied().map(DVec2::from_array).collect()
}

fn flat(points: &[[f64; 2]]) -> Region {
    Region::Lasso(Lasso::Flat { outline: outline(points) })
}

/// A square of texels of a texture.
pub(crate) fn texels(edge: f64, x: [f64; 2], y: [f64; 2]) -> Region {
    let [left, right] = x.map(|x| x / edge);
    let [top, bottom] = y.map(|y| y / edge);
    flat(&[[left, top], [right, top], [right, bottom], [left, bottom]])
}

/// The unit square at y = 0 from above, a model unit being 400 pixels.
fn from_above() -> Camera {
    Camera {
        eye: DVec3::new(0.5, 5.0, 0.5),
        target: DVec3::new(0.5, 0.0, 0.5),
        up: DVec3::NEG_Z,
        projection: Projection::Orthographic { height: 1.5 },
        viewport_px: DVec2::new(800.0, 600.0),
    }
}

pub(crate) fn paint(shape: Shape) -> MaterialEdit {
    let values = BTreeMap::from([(ROUGHNESS, Value::Scalar(60_000))]);
    deposit(Deposit::Paint(values), shape)
}

fn deposit(deposit: Deposit, shape: Shape) -> MaterialEdit {
    let step = Arc::new(Step::Deposit { deposit, shape });
    MaterialEdit::Layer(LayerId(1), LayerEdit::Paint(step))
}

fn fill(opacity: f32) -> Shape {
    let (scope, left_out) = (FillScope::Material, LeftOut::default());
    Shape::Fill { scope, opacity, left_out, tooth: None }
}

/// Half the product of the crossed diagonals, summed over corners: the area of a polygon (the shoelace formula).
fn shoelace(points: &[[f64; 2]]) -> f64 {
    let next = points.iter().cycle().skip(1);
    points.iter().zip(next).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>().abs() / 2.0
}

#[test]
fn a_lasso_selects_the_area_of_its_polygon_in_either_view() {
    let mut table = Table::new(plane(0.9), 1024);
    // A pixel is a 400th of a unit; the square's middle is seen at 400, 300.
    let line = [[310.0, 180.0], [520.0, 230.0], [430.0, 300.0], [490.0, 420.0], [280.0, 390.0]];
    let lasso = Lasso::Model { camera: from_above(), outline: outline(&line) };
    table.select(Region::Lasso(lasso), SelectMode::Replace);
    let expected = shoelace(&line) / (400.0 * 400.0);
    assert!((table.area() / expected - 1.0).abs() < 0.005, "{} for {expected}", table.area());

    let line = [[0.2, 0.3], [0.7, 0.25], [0.5, 0.5], [0.6, 0.8]];
    table.select(flat(&line), SelectMode::Replace);
    let expected = shoelace(&line) / (0.9 * 0.9);
    assert!((table.area() / expected - 1.0).abs() < 0.005, "{} for {expected}", table.area());
}

#[test]
fn a_lasso_selects_what_is_seen_and_looks_through_hidden_parts() {
    let mut builder = Builder::default();
    for (name, y, v) in [("front", 0.0, 0.1), ("back", -0.2, 0.55)] {
        builder.part(name);
        let uv = move |s: f64, t: f64| DVec2::new(0.1 + s * 0.4, v + t * 0.4);
        builder.grid(6, move |s, t| DVec3::new(s, y, t), uv);
    }
    let mut table = Table::new(builder.mesh_upwards(), 256);
    let line = [[300.0, 200.0], [500.0, 200.0], [500.0, 400.0], [300.0, 400.0]];
    let lasso = || Region::Lasso(Lasso::Model { camera: from_above(), outline: outline(&line) });
    let middle = |v: f64| (76, (256.0 * (v + 0.2)) as u32);
    let (front, back) = (middle(0.1), middle(0.55));
    table.select(lasso(), SelectMode::Replace);
    assert_eq!((table.selected(front.0, front.1), table.selected(back.0, back.1)), (u16::MAX, 0));
    let left_out = LeftOut::new([PartId(0)], []);
    let (region, mode) = (lasso(), SelectMode::Replace);
    table.change(SelectEdit::Region { region, mode, left_out });
    assert_eq!((table.selected(front.0, front.1), table.selected(back.0, back.1)), (0, u16::MAX));
    let left_out = LeftOut::new([], [PartId(0)]);
    let (region, mode) = (lasso(), SelectMode::Replace);
    let locked = MaterialEdit::Select(SelectEdit::Region { region, mode, left_out });
    assert_eq!(table.tried(locked).unwrap_err(), DocumentError::NothingSelected);
}

/// Where the two halves of [`halves`] meet: the left one ends before this column, the right one goes on 400 further.
const SEAM: u32 = 64 + 128;

/// A plane cut in two islands of 128 x 256 texels.
fn halves() -> Table {
    Table::new(halved_plane(1024.0, 256.0, 400.0), 1024)
}

#[test]
fn growing_goes_on_across_a_seam_texel_by_texel_and_shrinking_takes_it_back() {
    let mut table = halves();
    table.select(texels(1024.0, [172.0, 192.0], [120.0, 180.0]), SelectMode::Replace);
    let before = table.area();
    table.change(SelectEdit::Grow(20));
    for beyond in 0..40 {
        let expected = if beyond < 20 { u16::MAX } else { 0 };
        assert_eq!(table.selected(SEAM + 400 + beyond, 150), expected, "{beyond} beyond the seam");
    }
    // To the left as far as to the right, and 15 texels both ways along a diagonal: half of the steps go to corners.
    assert_eq!([table.selected(152, 150), table.selected(151, 150)], [u16::MAX, 0]);
    assert_eq!(
        [table.selected(172 - 15, 120 - 15), table.selected(172 - 16, 120 - 15)],
        [u16::MAX, 0]
    );
    table.change(SelectEdit::Grow(-20));
    assert!((table.area() / before - 1.0).abs() < 0.001, "{} and {before}", table.area());
}

/// A step that is averaged over any even window is odd about the step: what one side loses the other gains.
#[test]
fn softening_spreads_evenly_to_both_sides_of_a_seam() {
    let mut table = halves();
    table.select(Region::Scope(FillScope::Island(left_island(&table))), SelectMode::Replace);
    table.change(SelectEdit::Soften(12));
    for away in 0..16 {
        let here = table.selected(SEAM - 1 - away, 200);
        let there = table.selected(SEAM + 400 + away, 200);
        let sum = u32::from(here) + u32::from(there);
        assert!(sum.abs_diff(65_535) <= 6, "{here} and {there}, {away} away");
        if away >= 12 {
            assert_eq!((here, there), (u16::MAX, 0));
        }
    }
    let first = table.selected(SEAM + 400, 200);
    assert!((25_000..32_700).contains(&first), "{first}");
}

fn left_island(table: &Table) -> TriangleId {
    table.bench.surface.nearest(DVec3::new(0.2, 0.0, 0.5)).unwrap().triangle
}

/// A hard stroke across the seam and a spot apart from it.
fn painted_halves() -> Table {
    let mut table = halves();
    let brush = BrushSettings { hardness: 1.0, ..BrushSettings::default() };
    let run = |ends: [(f64, f64); 2]| {
        let [from, to] = ends.map(|(x, z)| DVec3::new(x, 0.0, z));
        (0..=4).map(|step| table.bench.point(from.lerp(to, f64::from(step) / 4.0), 0.06)).collect()
    };
    let runs = vec![run([(0.3, 0.4), (0.7, 0.5)]), run([(0.2, 0.8), (0.25, 0.8)])];
    let path = Path::Surface(SurfacePath { runs, eye: None });
    let change = paint(Shape::Stroke(stroke(path, brush)));
    table.done(change);
    table
}

#[test]
fn what_connects_in_colour_is_followed_across_a_seam_and_no_farther() {
    let mut table = painted_halves();
    let at = |x: u32, y: u32| Vec2::new((x as f32 + 0.5) / 1024.0, (y as f32 + 0.5) / 1024.0);
    let on_stroke = (64 + 90, 64 + 104);
    let spot = (64 + 56, 64 + 204);
    let across = (SEAM + 400 + 40, 64 + 122);
    for texel in [on_stroke, spot, across] {
        assert_eq!(table.coverage(texel.0, texel.1), u16::MAX, "{texel:?} is painted");
    }
    let uv = at(on_stroke.0, on_stroke.1);
    let alike =
        |connected| Region::Alike(Alike { channel: ROUGHNESS, uv, tolerance: 0.02, connected });
    for (connected, expected) in [(true, [u16::MAX, u16::MAX, 0]), (false, [u16::MAX; 3])] {
        table.select(alike(connected), SelectMode::Replace);
        let found = [on_stroke, across, spot].map(|(x, y)| table.selected(x, y));
        assert_eq!(found, expected, "connected: {connected}");
        assert_eq!(table.selected(70, 70), 0);
    }
    // A tolerance of all takes all, which is no selection.
    let all = Alike { channel: ROUGHNESS, uv, tolerance: 1.0, connected: true };
    table.select(Region::Alike(all), SelectMode::Replace);
    assert!(table.selection().is_none());
}

/// A box of 1 x 0.5 x 1: each of its faces ends at right angles.
#[test]
fn faces_up_to_creases_are_one_face_of_a_box() {
    let mut builder = Builder::default();
    builder.part("box");
    let (low, high) = (DVec3::ZERO, DVec3::new(1.0, 0.5, 1.0));
    add_box(&mut builder, low, high, row_of_cells(0.1, 0.14), 0.14);
    let mut table = Table::new(builder.mesh(), 1024);
    let top = table.bench.surface.nearest(DVec3::new(0.4, 0.5, 0.4)).unwrap().triangle;
    let crease = |angle| Region::Scope(FillScope::Crease { from: top, angle });
    table.select(crease(0.5), SelectMode::Replace);
    assert!((table.area() - 1.0).abs() < 0.01, "{}", table.area());
    table.select(Region::Scope(FillScope::Faces([top].into())), SelectMode::Replace);
    // Each face is 4 x 4 quads of two triangles.
    assert!((table.area() - 1.0 / 32.0).abs() < 0.002, "{}", table.area());
    table.select(crease(1.6), SelectMode::Replace);
    assert!(table.selection().is_none());
}

/// De Morgan's laws hold for fuzzy sets with these operations (Zadeh, 1965).
#[test]
fn selections_combine_as_fuzzy_sets_do() {
    let one = || texels(1024.0, [80.0, 150.0], [80.0, 200.0]);
    let other = || texels(1024.0, [120.0, 180.0], [150.0, 300.0]);
    let soft = |modes: &[SelectMode]| {
        let mut table = halves();
        table.select(one(), SelectMode::Replace);
        table.change(SelectEdit::Soften(10));
        for mode in modes {
            table.select(other(), *mode);
        }
        table
    };
    let both = soft(&[SelectMode::Add]);
    let mut turned = soft(&[]);
    turned.change(SelectEdit::Invert);
    turned.select(other(), SelectMode::TakeAway);
    turned.change(SelectEdit::Invert);
    let planes = [&both, &turned].map(|table| table.selection().unwrap());
    assert_eq!(plane_difference(planes[0].plane(), planes[1].plane()), None);
    let part = soft(&[SelectMode::Intersect]).area();
    let rest = soft(&[SelectMode::TakeAway]).area();
    let whole = soft(&[]).area();
    assert!((part + rest - whole).abs() < 1e-9 && part > 0.0 && rest > 0.0);
    // Nothing was selected before, so that there is nothing to add to.
    let mut first = halves();
    first.select(one(), SelectMode::Add);
    assert_eq!(first.selected(100, 100), u16::MAX);
    assert_eq!(first.selected(100, 300), 0);
}

fn mask() -> MaskAt {
    MaskAt { owner: MaskOwner::Layer, term: TermId(0) }
}

fn add_mask(table: &mut Table) {
    let source = NewTermSource::Painted(9_000);
    let term = NewTerm { id: TermId(0), combine: Combine::Multiply, source };
    let change = LayerEdit::AddMaskTerm(MaskOwner::Layer, term);
    table.done(MaterialEdit::Layer(LayerId(1), change));
}

fn gradient() -> Shape {
    Shape::Gradient(Gradient {
        fade: Fade::Linear { from: Vec3::ZERO, to: Vec3::new(1.0, 0.0, 0.2) },
        easing: Easing::Smooth,
        opacity: 0.9,
        scope: FillScope::Material,
        left_out: LeftOut::default(),
    })
}

/// The product of what would be covered and what is selected, to the nearest step.
#[test]
fn coverage_is_multiplied_by_what_is_selected() {
    for shape in [fill(0.75), gradient()] {
        let mut free = halves();
        free.done(paint(shape.clone()));
        let mut held = halves();
        held.select(texels(1024.0, [100.0, 150.0], [100.0, 200.0]), SelectMode::Replace);
        held.change(SelectEdit::Soften(20));
        held.done(paint(shape));
        let (mut some, mut all) = (0, 0);
        for (x, y) in (80..180).flat_map(|x| (80..220).map(move |y| (x, y))) {
            let (full, share) = (free.coverage(x, y), held.selected(x, y));
            let expected = f64::from(full) * f64::from(share) / 65_535.0;
            let found = held.coverage(x, y);
            assert!((f64::from(found) - expected).abs() <= 0.5, "{found} for {expected}");
            some += usize::from(share > 0 && share < u16::MAX);
            all += usize::from(share == u16::MAX);
        }
        assert!(some > 1000 && all > 100);
    }
}

#[test]
fn erasing_and_masks_are_held_too_and_clearing_is_not() {
    let mut table = halves();
    table.done(paint(fill(1.0)));
    add_mask(&mut table);
    table.select(texels(1024.0, [100.0, 150.0], [100.0, 200.0]), SelectMode::Replace);
    table.done(deposit(Deposit::Erase(vec![ROUGHNESS]), fill(1.0)));
    table.done(deposit(Deposit::Mask { at: mask(), value: 65_535 }, fill(1.0)));
    let layer = table.document.materials[0].stack.find(LayerId(1)).unwrap().clone();
    let layers::MaskSource::Painted(painted) = &layer.mask.terms[0].source else { panic!() };
    for ((x, y), inside) in [((120, 150), true), ((90, 150), false), ((700, 150), false)] {
        assert_eq!(table.coverage(x, y), if inside { 0 } else { u16::MAX });
        assert_eq!(painted.texel(x, y).unwrap(), if inside { u16::MAX } else { 9_000 });
    }
    let clear = LayerEdit::Paint(Arc::new(Step::Clear(vec![ROUGHNESS])));
    table.done(MaterialEdit::Layer(LayerId(1), clear));
    assert_eq!(table.coverage(90, 150), 0);
}

#[test]
fn what_was_painted_within_a_selection_is_again_at_another_size() {
    let sized = |edge| MaterialEdit::TextureSize(TextureSize::new(edge).unwrap());
    let selected = || {
        let mut table = Table::new(halved_plane(1024.0, 256.0, 400.0), 256);
        add_mask(&mut table);
        table.select(texels(1024.0, [100.0, 240.0], [100.0, 200.0]), SelectMode::Replace);
        table.change(SelectEdit::Grow(6));
        table.change(SelectEdit::Soften(3));
        table
    };
    let work = |table: &mut Table| {
        table.done(paint(gradient()));
        table.done(deposit(Deposit::Mask { at: mask(), value: 65_535 }, fill(0.5)));
        table.done(deposit(Deposit::Erase(vec![ROUGHNESS]), fill(0.25)));
    };
    let mut grown = selected();
    work(&mut grown);
    let small = grown.document.clone();
    // What is selected later does not change what was painted.
    let selection = grown.selection();
    grown.change(SelectEdit::Everything);
    grown.done(sized(512));
    let mut large = selected();
    large.done(sized(512));
    work(&mut large);
    large.change(SelectEdit::Everything);
    assert_eq!(difference(&grown.document, &large.document), None);
    grown.done(sized(256));
    let recipe = grown.document.materials[0].recipe(LayerId(1));
    let within: Vec<_> = recipe.steps.iter().filter_map(|step| step.within.as_ref()).collect();
    assert!(within.iter().all(|within| Arc::ptr_eq(within, selection.as_ref().unwrap())));
    assert_eq!(within.len(), 3);
    let mut back = small;
    let mut material = document::Material::clone(&back.materials[0]);
    material.selection = None;
    back.materials[0] = Arc::new(material);
    assert_eq!(difference(&grown.document, &back), None);
}

#[test]
fn a_fill_of_a_region_is_a_fill_within_it_and_leaves_the_selection() {
    let region = || texels(1024.0, [100.0, 150.0], [100.0, 200.0]);
    let other = || texels(1024.0, [120.0, 170.0], [150.0, 260.0]);
    let mut table = halves();
    table.select(other(), SelectMode::Replace);
    table.change(SelectEdit::Soften(9));
    let selection = table.selection().unwrap();
    let values = BTreeMap::from([(ROUGHNESS, Value::Scalar(60_000))]);
    let left_out = LeftOut::default();
    let fill_region = RegionFill {
        deposit: Deposit::Paint(values),
        region: region(),
        opacity: 0.5,
        left_out,
        tooth: None,
    };
    let mut by_hand = halves();
    by_hand.document = table.document.clone();
    let change = LayerEdit::FillRegion(Arc::new(fill_region.clone()));
    table.done(MaterialEdit::Layer(LayerId(1), change));
    assert!(Arc::ptr_eq(&selection, &table.selection().unwrap()));
    by_hand.select(region(), SelectMode::Intersect);
    by_hand.done(paint(fill(0.5)));
    by_hand.document.materials[0] = Arc::new(document::Material {
        selection: Some(selection),
        ..document::Material::clone(&by_hand.document.materials[0])
    });
    assert_eq!(difference(&table.document, &by_hand.document), None);
    let nowhere = texels(1024.0, [600.0, 700.0], [300.0, 310.0]);
    let change = LayerEdit::FillRegion(Arc::new(RegionFill { region: nowhere, ..fill_region }));
    let refused = table.tried(MaterialEdit::Layer(LayerId(1), change)).unwrap_err();
    assert_eq!(refused, DocumentError::NothingSelected);
}

#[test]
fn what_makes_no_sense_is_refused_with_a_line() {
    let mut table = halves();
    let change = |edit| MaterialEdit::Select(edit);
    let uv = Vec2::new(0.1, 0.1);
    let alike =
        |uv, tolerance| Region::Alike(Alike { channel: ROUGHNESS, uv, tolerance, connected: true });
    let scope = |scope| selecting(Region::Scope(scope), SelectMode::Replace);
    let crease = |angle| scope(FillScope::Crease { from: TriangleId(0), angle });
    for (edit, line) in [
        (change(SelectEdit::Invert), "nothing would be selected"),
        (change(SelectEdit::Grow(3)), "select something first"),
        (change(SelectEdit::Soften(3)), "select something first"),
        (selecting(flat(&[[0.1, 0.1]; 2]), SelectMode::Replace), "points of the lasso is 2"),
        (selecting(flat(&[[0.1, 0.1]; 3]), SelectMode::Replace), "nothing would be selected"),
        (selecting(alike(Vec2::splat(0.99), 0.1), SelectMode::Add), "nothing of the surface"),
        (selecting(alike(Vec2::splat(f32::NAN), 0.1), SelectMode::Add), "nothing of the surface"),
        (selecting(alike(uv, 1.5), SelectMode::Add), "tolerance is 1.5: give 0 to 1"),
        (scope(FillScope::Part(PartId(9))), "no part 9"),
        (scope(FillScope::Faces([TriangleId(9999)].into())), "triangle 9999"),
        (scope(FillScope::Faces([].into())), "nothing would be selected"),
        (crease(-1.0), "angle of the crease is -1"),
        (crease(f32::NAN), "angle of the crease is NaN"),
    ] {
        let refused = table.tried(edit).unwrap_err().to_string();
        assert!(refused.contains(line), "{refused:?} does not say {line:?}");
    }
    table.select(texels(1024.0, [100.0, 150.0], [100.0, 200.0]), SelectMode::Replace);
    for (edit, line) in [
        (SelectEdit::Grow(0), "can't change by 0 texels"),
        (SelectEdit::Grow(i32::MIN), "give 1 to 256"),
        (SelectEdit::Grow(-200), "nothing would be selected"),
        (SelectEdit::Soften(257), "give 1 to 256"),
    ] {
        let refused = table.tried(change(edit)).unwrap_err().to_string();
        assert!(refused.contains(line), "{refused:?} does not say {line:?}");
    }
    let camera = Camera { eye: DVec3::ZERO, target: DVec3::ZERO, ..from_above() };
    let line = outline(&[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]);
    let lasso = Region::Lasso(Lasso::Model { camera, outline: line });
    let refused = table.tried(selecting(lasso, SelectMode::Replace)).unwrap_err().to_string();
    assert!(refused.contains("eye"), "{refused}");
}

#[test]
fn a_stroke_wholly_outside_is_refused_by_the_pen_and_by_the_edit() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let far = flat(&[[0.4, 0.4], [0.45, 0.4], [0.45, 0.45]]);
    let select = selecting(far, SelectMode::Replace);
    editor.apply(&Edit::Material(CLAY, select), &Unobserved).unwrap();
    let before = editor.document().clone();
    let brush = BrushSettings::default();
    editor.begin_stroke(&target(2, 0), &start(0.01, brush), &Unobserved).unwrap();
    draw(&mut editor, &samples(1.0, 6)[..3], &[1]);
    let refused = editor.end_stroke().unwrap_err();
    assert!(matches!(refused, EditorError::Document(DocumentError::OutsideSelection)));
    assert_eq!(difference(&before, editor.document()), None);
    assert!(!editor.is_pen_down());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..Default::default() })]

    /// Live and replay give the same bytes, and leave what is not selected alone.
    #[test]
    fn a_live_stroke_within_a_selection_ends_in_what_replay_gives(
        frames in prop::collection::vec(1..20_usize, 1..6),
        turns in 0.0..9.0_f64,
        b in 1..9_u32,
        soften in 0..8_u32,
        corner in 0.1..0.3_f64,
    ) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        let line = [[corner, 0.05], [0.6, 0.1], [0.5, 0.4], [corner, 0.6]];
        let mut edits = vec![selecting(flat(&line), SelectMode::Replace)];
        edits.extend((soften > 0).then_some(MaterialEdit::Select(SelectEdit::Soften(soften))));
        for edit in edits {
            editor.apply(&Edit::Material(CLAY, edit), &Unobserved).unwrap();
        }
        let before = editor.document().clone();
        let brush = BrushSettings { flow: 0.4, ..BrushSettings::default() };
        editor.begin_stroke(&target(b, 0), &start(0.1, brush), &Unobserved).unwrap();
        draw(&mut editor, &samples(turns, 40), &frames);
        let shown = editor.shown().clone();
        prop_assert!(editor.end_stroke().unwrap());
        prop_assert_eq!(difference(&shown, editor.document()), None);
        let again = desk.replayed(&editor.recorded(), 1);
        prop_assert_eq!(difference(again.document(), editor.document()), None);
        prop_assert!(editor.undo());
        prop_assert_eq!(difference(&before, editor.document()), None);
    }
}

/// A gradient's way, and how far along it a point lies.
type Way<'a> = (Fade, &'a dyn Fn(DVec3) -> f64);

/// Coverage at each texel is what the formula gives at its point, on both sides of a seam, within one stored step.
#[test]
fn gradients_are_their_closed_forms_at_every_texel_and_know_no_seam() {
    let (a, b) = (DVec3::new(0.21, 0.0, 0.1), DVec3::new(0.83, 0.0, 0.64));
    let linear = |point: DVec3| (point - a).dot(b - a) / (b - a).length_squared();
    let radial = |point: DVec3| point.distance(a) / 0.7;
    let along = |point: DVec3| (point.x - 0.9) / (0.2 - 0.9);
    let (from, to) = (a.as_vec3(), b.as_vec3());
    let ways: [Way<'_>; 3] = [
        (Fade::Linear { from, to }, &linear),
        (Fade::Radial { centre: from, radius: 0.7 }, &radial),
        (Fade::Axis { axis: brush::Axis::X, from: 0.9, to: 0.2 }, &along),
    ];
    for (fade, way) in ways {
        for easing in [Easing::Even, Easing::Smooth] {
            let mut table = halves();
            let scope = FillScope::Material;
            let left_out = LeftOut::default();
            let gradient = Gradient { fade, easing, opacity: 0.8, scope, left_out };
            table.done(paint(Shape::Gradient(gradient)));
            let mut decoded = DecodedTile::default();
            let mut between = 0;
            for at in table.bench.map.tiles() {
                table.bench.map.decode(&table.bench.surface, at, &mut decoded);
                let (left, top) = at.first_texel();
                for texel in decoded.texels() {
                    let index = u32::from(texel.index);
                    let found = table.coverage(left + index % 64, top + index / 64);
                    let t = way(decoded.point(&texel)).clamp(0.0, 1.0);
                    let t = if easing == Easing::Smooth { t * t * (3.0 - 2.0 * t) } else { t };
                    let expected = 0.8 * (1.0 - t) * 65_535.0;
                    assert!((f64::from(found) - expected).abs() < 1.1, "{found} for {expected}");
                    between += usize::from(found > 0 && expected < 52_000.0);
                }
            }
            assert!(between > 10_000);
            for y in 64..64 + 256 {
                for x in SEAM - 8..SEAM + 8 {
                    let (here, there) = (table.coverage(x, y), table.coverage(x + 400, y));
                    assert!(here.abs_diff(there) <= 1, "{here} and {there} at {x}, {y}");
                }
            }
        }
    }
}

#[test]
fn a_gradient_of_no_length_or_beyond_numbers_is_refused() {
    let table = halves();
    let left_out = LeftOut::default();
    let (scope, easing) = (FillScope::Material, Easing::Even);
    let gradient = |fade| Gradient {
        fade,
        easing,
        opacity: 1.0,
        scope: scope.clone(),
        left_out: left_out.clone(),
    };
    let wrong = [
        gradient(Fade::Linear { from: Vec3::ONE, to: Vec3::ONE }),
        gradient(Fade::Linear { from: Vec3::NAN, to: Vec3::ONE }),
        gradient(Fade::Radial { centre: Vec3::ZERO, radius: 0.0 }),
        gradient(Fade::Radial { centre: Vec3::ZERO, radius: f32::INFINITY }),
        gradient(Fade::Axis { axis: brush::Axis::Z, from: 1.0, to: 1.0 }),
        Gradient { opacity: 1.1, ..gradient(Fade::Radial { centre: Vec3::ZERO, radius: 1.0 }) },
    ];
    for gradient in wrong {
        let refused = table.tried(paint(Shape::Gradient(gradient.clone())));
        assert!(refused.is_err(), "{gradient:?}");
    }
}

/// Parts that are left out get nothing of a gradient, and its scope bounds it.
#[test]
fn a_gradient_stays_in_its_scope_and_off_parts_that_are_left_out() {
    let mut table = halves();
    let Shape::Gradient(whole) = gradient() else { panic!() };
    let island = Gradient { scope: FillScope::Island(left_island(&table)), ..whole.clone() };
    table.done(paint(Shape::Gradient(island)));
    assert!(table.coverage(100, 100) > 0 && table.coverage(SEAM + 440, 100) == 0);
    let out = Gradient { left_out: LeftOut::new([], [PartId(0)]), ..whole };
    let before = table.document.clone();
    table.done(paint(Shape::Gradient(out)));
    assert_eq!(difference(&before, &table.document), None);
}
