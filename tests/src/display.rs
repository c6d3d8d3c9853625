//! What the views are handed, tile by tile, is what the document looks like: after any edit, undo or
//! stroke, with all that is kept between them.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use brush::{BrushSettings, Path, SurfacePath};
use document::{
    CellEdit, Deposit, Edit, LayerEdit, MaskAt, MaskOwner, MaterialEdit, MaterialId, Model,
    NewContent, NewTerm, NewTermSource, Shape, Step,
};
use editor::{Editor, EditorError, Settings, StrokeTarget};
use glam::DVec3;
use layers::{BlendMode, ChannelId, Combine, DisplayTile, LayerId, Place, TermId, Value};
use proptest::prelude::*;
use raster::{TileAt, Unobserved};

use crate::compared::whole_composite;
use crate::meshes::halved_plane;
use crate::pen::{draw, samples, start, target};
use crate::random_edits::{Desk, Op, op, size};
use crate::strokes::{Bench, stroke};

/// What a view holds of one material: the tiles that it was handed last.
#[derive(Default)]
struct View(Mutex<BTreeMap<(ChannelId, usize, TileAt), Vec<u16>>>);

impl View {
    /// Takes what changed, and gives how many tiles there were.
    fn show(&self, editor: &mut Editor, material: MaterialId) -> usize {
        let sink = |at: TileAt, tile: &DisplayTile| {
            let mut held = self.0.lock().unwrap();
            for channel in tile.channels() {
                for component in 0..3 {
                    if let Some(texels) = tile.component(channel, component) {
                        held.insert((channel, component, at), texels.to_vec());
                    }
                }
            }
        };
        editor.display(material, &sink).unwrap()
    }

    /// The greatest difference from the exact composite of what is shown, 1 being all of it.
    fn error(&self, editor: &Editor, material: MaterialId) -> f32 {
        let exact = whole_composite(editor.shown(), material);
        let held = self.0.lock().unwrap();
        let mut worst = 0.0_f32;
        for (id, channel) in &exact.channels {
            for (component, plane) in channel.values.iter().enumerate() {
                for at in plane.extent().tile_places() {
                    let (exact, shown) =
                        (plane.tile(at).read().unwrap(), &held[&(*id, component, at)]);
                    for (index, &value) in shown.iter().enumerate() {
                        let shown = f32::from(value) / f32::from(DisplayTile::ONE);
                        worst = worst.max((shown - raster::to_unit(exact.at(index))).abs());
                    }
                }
            }
        }
        worst
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_view_that_takes_only_what_changed_shows_the_document(
        ops in prop::collection::vec(op(), 10..25),
        tight in any::<bool>(),
    ) {
        let desk = Desk::new();
        let memory_bytes = if tight { 1 << 20 } else { 1 << 30 };
        let mut editor = desk.editor(Settings { memory_bytes, ..Settings::default() });
        let views = [View::default(), View::default()];
        for op in &ops {
            let edit = desk.edit(op, editor.document());
            let before = editor.document().materials.len();
            prop_assert!(editor.apply(&edit, &Unobserved).is_ok() || before == 2);
            if op.kind == 28 {
                editor.undo();
            }
            if op.kind > 23 {
                let layer = editor.document().materials[0].stack.ids().next();
                let painted = target(op.b.max(1), layer.map_or(0, |layer| layer.0));
                let brush = BrushSettings::default();
                if editor.begin_stroke(&painted, &start(0.06, brush), &Unobserved).is_ok() {
                    draw(&mut editor, &samples(op.x * 6.0, 12), &[5]);
                    views[0].show(&mut editor, MaterialId(0));
                    prop_assert!(views[0].error(&editor, MaterialId(0)) <= 1.0 / 4096.0);
                    let is_selected = editor.document().materials[0].selection.is_some();
                    prop_assert!(editor.end_stroke().is_ok() || is_selected);
                }
            }
            if tight {
                editor.settle_and_wait().unwrap();
            }
            for (view, material) in views.iter().zip([0, 1].map(MaterialId)) {
                let sizes = |editor: &Editor| editor.document().materials[material.0 as usize].size;
                if op.kind == 8 && sizes(&editor).edge() == 64 {
                    view.0.lock().unwrap().clear();
                    editor.display_anew(material);
                }
                view.show(&mut editor, material);
                prop_assert!(view.error(&editor, material) <= 1.0 / 4096.0);
                prop_assert_eq!(view.show(&mut editor, material), 0);
            }
        }
    }
}

/// Every channel of one texel, taken out of the exact composite of all texels.
fn values_at(editor: &Editor, material: MaterialId, x: u32, y: u32) -> Vec<(ChannelId, Value)> {
    let exact = whole_composite(editor.shown(), material);
    let value = |(id, channel): (&ChannelId, &layers::ChannelComposite)| {
        let at = |plane: &raster::Plane| plane.texel(x, y).unwrap();
        let values: Vec<u16> = channel.values.iter().map(at).collect();
        let value = match values[..] {
            [red, green, blue] => Value::Colour([red, green, blue]),
            _ => Value::Scalar(values[0]),
        };
        (*id, value)
    };
    exact.channels.iter().map(value).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..Default::default() })]

    #[test]
    fn the_values_of_a_texel_are_those_of_the_exact_composite_wet_or_dry(
        ops in prop::collection::vec(op(), 10..25),
        places in prop::collection::vec((0..64_u32, 0..64_u32), 8),
    ) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        for op in &ops {
            let _refused = editor.apply(&desk.edit(op, editor.document()), &Unobserved);
        }
        let layer = editor.document().materials[0].stack.ids().next();
        let painted = target(7, layer.map_or(0, |layer| layer.0));
        if editor.begin_stroke(&painted, &start(0.2, BrushSettings::default()), &Unobserved).is_ok() {
            draw(&mut editor, &samples(3.0, 12), &[5]);
        }
        for material in [0, 1].map(MaterialId) {
            for &(x, y) in &places {
                let found = editor.texel_values(material, x, y).unwrap();
                prop_assert_eq!(found, values_at(&editor, material, x, y));
            }
        }
        let beyond = editor.texel_values(MaterialId(0), 0, 128);
        let refused = matches!(beyond, Err(EditorError::NoTexel { edge: 64 | 128, .. }));
        prop_assert!(refused);
    }
}

#[test]
fn a_layer_that_was_made_ready_is_shown_no_otherwise() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let (view, material) = (View::default(), MaterialId(0));
    view.show(&mut editor, material);
    for layer in [0, 2] {
        let painted = target(7, layer);
        editor.make_ready(material, painted.layer, TileAt { x: 0, y: 0 }).unwrap();
        editor.wait_until_ready(material).unwrap();
        editor.begin_stroke(&painted, &start(0.08, BrushSettings::default()), &Unobserved).unwrap();
        draw(&mut editor, &samples(3.0, 20), &[4]);
        assert!(view.show(&mut editor, material) > 0);
        assert!(view.error(&editor, material) <= 1.0 / 4096.0);
        editor.end_stroke().unwrap();
        view.show(&mut editor, material);
        assert!(view.error(&editor, material) <= 1.0 / 4096.0);
    }
}

/// A mask as a view holds it.
type MaskView = Mutex<BTreeMap<TileAt, Vec<u8>>>;

fn show_mask(view: &MaskView, editor: &mut Editor, layer: LayerId, owner: MaskOwner) -> usize {
    let sink = |at: TileAt, bytes: &[u8; 4096]| {
        view.lock().unwrap().insert(at, bytes.to_vec());
    };
    editor.mask_tiles(MaterialId(0), layer, owner, &sink).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_view_of_a_mask_that_takes_only_what_changed_shows_the_mask(
        ops in prop::collection::vec(op(), 20..40),
        of_layer in any::<bool>(),
    ) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        let layer = LayerId(0);
        let owner = if of_layer { MaskOwner::Layer } else { MaskOwner::Cell(ChannelId::ROUGHNESS) };
        let view = MaskView::default();
        for op in &ops {
            // Mostly edits of masks, of the one that is shown.
            let op = match op.kind {
                0..20 => Op { kind: 17 + op.kind % 5, material: 0, a: 0, c: op.c & !1, ..op.clone() },
                _ => op.clone(),
            };
            let op = Op { c: if of_layer { op.c & !1 } else { op.c | 1 }, ..op };
            let _refused = editor.apply(&desk.edit(&op, editor.document()), &Unobserved);
            let material = &editor.document().materials[0];
            let Some(found) = material.stack.find(layer).cloned() else { break };
            if material.size.edge() == 64 {
                view.lock().unwrap().retain(|at, _| at.x == 0 && at.y == 0);
            }
            show_mask(&view, &mut editor, layer, owner);
            prop_assert_eq!(show_mask(&view, &mut editor, layer, owner), 0);
            let composition = editor.document().composition(MaterialId(0)).unwrap();
            let mask = match owner {
                MaskOwner::Layer => &found.mask,
                MaskOwner::Cell(channel) => &found.cell(channel).mask,
            };
            let held = view.lock().unwrap();
            for at in composition.size.extent().tile_places() {
                let mut fresh = [0; 4096];
                composition.mask_tile(mask, at).unwrap().write_bytes(&mut fresh);
                prop_assert_eq!(&held[&at][..], &fresh[..]);
            }
        }
    }
}

/// The mask of one term, painted with a value, is that value: `lerp(1, 1 x source, 1)` (methods.md's
/// mask formula), rounded to 8 bits.
#[test]
fn a_mask_is_shown_while_it_is_painted_and_another_one_is_shown_whole() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let at = MaskAt { owner: MaskOwner::Layer, term: TermId(3) };
    let source = NewTermSource::Painted(u16::MAX);
    let term = NewTerm { id: at.term, combine: Combine::Multiply, source };
    let change = LayerEdit::AddMaskTerm(at.owner, term);
    let edit = Edit::Material(MaterialId(0), MaterialEdit::Layer(LayerId(0), change));
    editor.apply(&edit, &Unobserved).unwrap();
    let view = MaskView::default();
    assert_eq!(show_mask(&view, &mut editor, LayerId(0), MaskOwner::Layer), 1);
    assert!(view.lock().unwrap().values().flatten().all(|&byte| byte == 255));
    let deposit = Deposit::Mask { at, value: 13_107 };
    let painted = StrokeTarget { material: MaterialId(0), layer: LayerId(0), deposit };
    editor.begin_stroke(&painted, &start(0.2, BrushSettings::default()), &Unobserved).unwrap();
    draw(&mut editor, &samples(3.0, 20), &[4]);
    assert_eq!(show_mask(&view, &mut editor, LayerId(0), MaskOwner::Layer), 1);
    let lowest = view.lock().unwrap().values().flatten().copied().min();
    assert_eq!(lowest, Some(51));
    editor.cancel_stroke();
    assert_eq!(show_mask(&view, &mut editor, LayerId(0), MaskOwner::Layer), 1);
    assert!(view.lock().unwrap().values().flatten().all(|&byte| byte == 255));
    assert_eq!(show_mask(&view, &mut editor, LayerId(2), MaskOwner::Layer), 1);
    editor.display_anew(MaterialId(0));
    assert_eq!(show_mask(&view, &mut editor, LayerId(2), MaskOwner::Layer), 1);
    assert_eq!(show_mask(&view, &mut editor, LayerId(2), MaskOwner::Layer), 0);
}

/// Layers of every kind over two halves of a plane whose padding texels lie just where owned texels of the
/// other half do, painted across the cut: what views are handed of both sides is one colour.
#[test]
fn padding_is_shown_as_what_lies_across_the_seam() {
    let bench = Bench::new(halved_plane(1024.0, 256.0, 400.0), 1024);
    let model = Arc::new(Model::new(Arc::clone(bench.surface.mesh()), Vec::new()));
    let mut editor = Editor::new(Settings::default()).unwrap();
    editor.apply(&Edit::Import { model, size: size(1024) }, &Unobserved).unwrap();
    let material = MaterialId(0);
    let mut change = |change: MaterialEdit| {
        editor.apply(&Edit::Material(material, change), &Unobserved).unwrap();
    };
    let tint = BTreeMap::from([(ChannelId::BASE_COLOUR, Value::Colour([9_000, 60_000, 30_000]))]);
    let contents = [NewContent::Painted, NewContent::Solid(tint), NewContent::Painted];
    for (layer, content) in (0..).zip(contents) {
        let (name, index) = (format!("layer {layer}"), layer as usize);
        let place = Place { parent: None, index };
        change(MaterialEdit::AddLayer { layer: LayerId(layer), name, content, place });
    }
    let modes = [BlendMode::Normal, BlendMode::Overlay, BlendMode::Multiply];
    for (layer, mode) in (0..).zip(modes) {
        let all = vec![ChannelId::BASE_COLOUR];
        let blend = LayerEdit::Cells(all, CellEdit::Blend(mode));
        change(MaterialEdit::Layer(LayerId(layer), blend));
    }
    for (layer, z) in [(0, 0.3), (2, 0.6)] {
        let points = (0..20).map(|step| {
            bench.point(
                DVec3::new(0.3 + 0.02 * f64::from(step), 0.0, z + 0.01 * f64::from(step)),
                0.2,
            )
        });
        let path = Path::Surface(SurfacePath { runs: vec![points.collect()], eye: None });
        let brush = BrushSettings { hardness: 0.1, opacity: 0.8, ..BrushSettings::default() };
        let Deposit::Paint(values) = target(7, layer).deposit else { panic!("paint") };
        let (deposit, shape) = (Deposit::Paint(values), Shape::Stroke(stroke(path, brush)));
        let step = LayerEdit::Paint(Arc::new(Step::Deposit { deposit, shape }));
        change(MaterialEdit::Layer(LayerId(layer), step));
    }
    let view = View::default();
    view.show(&mut editor, material);
    let held = view.0.lock().unwrap();
    let shown = |channel, component, x: u32, y: u32| {
        held[&(channel, component, TileAt::of_texel(x, y))][raster::texel_index(x, y)]
    };
    let (padding, seam) = (bench.map.padding(), 64 + 128);
    let (mut worst, mut between) = (0, 0);
    for (channel, component) in
        [(0, 0), (0, 1), (0, 2), (1, 0), (2, 0)].map(|(id, n)| (ChannelId(id), n))
    {
        for y in 64..64 + 256 {
            for x in seam - padding..seam + padding {
                let [here, there] = [x, x + 400].map(|x| shown(channel, component, x, y));
                worst = worst.max(here.abs_diff(there));
                between += usize::from(here != shown(channel, component, seam, 70));
            }
        }
    }
    assert!(between > 5_000, "{between}");
    // Sixteen steps of 15 bits are an eighth of one of the 8 bits that are uploaded.
    assert!(worst <= 16, "{worst} of {}", DisplayTile::ONE);
}
