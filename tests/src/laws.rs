//! Laws that hold for every document and every edit.

use std::collections::BTreeSet;
use std::sync::Arc;

use document::wire::{EditList, ListedEdit, Reader, written};
use document::{Document, Edit, History, LayerEdit, MaterialEdit, MaterialId, NewContent};
use editor::Settings;
use layers::{ChannelId, Content, Layer, LayerId, Place};
use proptest::prelude::*;
use raster::{Plane, Unobserved};

use crate::compared::{
    composite_difference, difference, is_same, layer_difference, planes_of, steps_of, tiles_of,
    whole_composite,
};
use crate::random_edits::{Desk, Op, op, ops, size};

fn few(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

/// Looks whether all that an edit says to leave alone is the very same, texels and composites alike.
fn check_scope(edit: &Edit, before: &Document, after: &Document) -> Result<(), TestCaseError> {
    let scope = edit.scope();
    for (was, is) in before.materials.iter().zip(&after.materials) {
        if scope.material.is_some_and(|material| material != was.id) {
            prop_assert!(Arc::ptr_eq(was, is), "material {:?} by {edit:?}", was.id);
            continue;
        }
        if let Some(layer) = scope.layer {
            prop_assert!(was.stack.ids().eq(is.stack.ids()));
            let holds = |group: &Layer| group.children().iter().any(|child| child.id == layer);
            let within = |group: &Layer| {
                let mut groups = vec![group.clone()];
                while let Some(group) = groups.pop() {
                    if holds(&group) {
                        return true;
                    }
                    groups.extend(group.children().iter().map(|child| Layer::clone(child)));
                }
                false
            };
            for (was, is) in was.stack.walk().zip(is.stack.walk()) {
                let may_change = was.id == layer || within(was);
                prop_assert!(may_change || Arc::ptr_eq(was, is), "layer {} by {edit:?}", was.id);
            }
        }
        if let Some(channels) = scope.channels.as_ref() {
            let (old, new) = (whole_composite(before, was.id), whole_composite(after, was.id));
            for channel in after.channels.iter().filter(|channel| !channels.contains(&channel.id)) {
                let found = composite_difference(&old, &new, channel.id);
                prop_assert_eq!(found, None, "channel {} by {:?}", channel.key, edit);
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(few(96))]

    #[test]
    fn an_edit_changes_only_what_its_scope_says_and_a_refused_one_nothing(ops in ops()) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        for op in &ops {
            let before = editor.document().clone();
            let edit = desk.edit(op, &before);
            let entries = editor.history().entries().0.count();
            if editor.apply(&edit, &Unobserved).is_ok() {
                check_scope(&edit, &before, editor.document())?;
            } else {
                prop_assert!(is_same(editor.document(), &before));
                prop_assert_eq!(editor.history().entries().0.count(), entries);
            }
        }
    }

    #[test]
    fn undo_redo_and_any_jump_in_the_history_give_the_very_document_that_was_there(ops in ops()) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        let mut made = vec![editor.document().clone()];
        for op in &ops {
            let edit = desk.edit(op, editor.document());
            if editor.apply(&edit, &Unobserved).is_ok() {
                made.push(editor.document().clone());
            }
        }
        for document in made.iter().rev().skip(1) {
            prop_assert!(editor.undo());
            prop_assert!(is_same(editor.document(), document));
        }
        for document in &made[1..] {
            prop_assert!(editor.redo());
            prop_assert!(is_same(editor.document(), document));
        }
        prop_assert!(!editor.redo());
        let first = editor.history().entries().0.count() - made.len();
        for op in &ops {
            let entry = op.a as usize % made.len();
            let moves = editor.history().entries().1 != first + entry;
            prop_assert_eq!(editor.go_to(first + entry), moves);
            prop_assert!(is_same(editor.document(), &made[entry]));
            prop_assert!(!editor.go_to(first + made.len()));
        }
        let recorded = desk.replayed(&editor.recorded(), 1);
        prop_assert_eq!(difference(recorded.document(), editor.document()), None);
    }

    #[test]
    fn recorded_work_written_and_read_back_gives_the_same_texels_on_any_number_of_threads(
        ops in ops(),
    ) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        for op in &ops {
            let before = editor.document().clone();
            let edit = desk.edit(op, &before);
            let reader =
                Reader { document: &before, model: &desk.model, surface: &desk.bench.surface };
            let text = list_of(&edit, &before);
            let list = EditList::parse(&text).unwrap();
            let read = reader.edit(&list.edits[0].edit);
            if editor.apply(&edit, &Unobserved).is_ok() {
                prop_assert_eq!(format!("{:?}", read.unwrap()), format!("{:?}", edit));
            }
            if op.kind == 29 {
                editor.undo();
            }
        }
        let list = EditList::parse(&editor.recorded().to_json().unwrap()).unwrap();
        // An image takes a line of its own in what is written.
        let edits = |list: &EditList| list.edits.iter().map(|listed| listed.edit.clone()).collect::<Vec<_>>();
        prop_assert!(edits(&list) == edits(&editor.recorded()));
        let [mut alone, mut many] = [1, 5].map(|threads| desk.replayed(&list, threads));
        prop_assert_eq!(difference(editor.document(), alone.document()), None);
        prop_assert_eq!(difference(editor.document(), many.document()), None);
        for material in [MaterialId(0), MaterialId(1)] {
            let [first, other] =
                [&mut alone, &mut many].map(|e| e.composite(material, &Unobserved).unwrap());
            for channel in editor.document().channels.iter() {
                prop_assert_eq!(composite_difference(&first, &other, channel.id), None);
            }
        }
    }

    #[test]
    fn tiles_that_are_composited_again_equal_the_whole(ops in ops()) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        for op in &ops {
            let edit = desk.edit(op, editor.document());
            let applied = editor.apply(&edit, &Unobserved).is_ok();
            if applied && op.c % 3 > 0 {
                let material = MaterialId(op.material);
                let kept = editor.composite(material, &Unobserved).unwrap();
                let whole = whole_composite(editor.document(), material);
                for channel in editor.document().channels.iter() {
                    prop_assert_eq!(composite_difference(&kept, &whole, channel.id), None);
                }
            }
        }
    }

    /// Each distinct tile of all documents, counted once, and taken out of the count when it goes.
    #[test]
    fn the_history_counts_each_tile_once(ops in prop::collection::vec(op(), 20..40)) {
        const TILE: usize = 4096 * 2;
        let desk = Desk::new();
        let mut history = History::new(Document::default());
        let mut editor = desk.editor(Settings::default());
        history.push(editor.document().clone(), "import");
        for (number, op) in ops.iter().enumerate() {
            let edit = desk.edit(op, editor.document());
            if editor.apply(&edit, &Unobserved).is_ok() {
                history.push(editor.document().clone(), "edit");
            }
            if op.kind == 28 && history.entries().1 > 1 {
                editor.undo();
                history.undo();
            }
            if number > 15 {
                history.drop_oldest();
            }
            let known: BTreeSet<_> =
                history.entries().0.flat_map(|entry| tiles_of(&entry.document)).collect();
            prop_assert_eq!(history.tile_bytes(), known.len() * TILE);
            let steps: BTreeSet<_> =
                history.entries().0.flat_map(|entry| steps_of(&entry.document)).collect();
            let bytes: usize = steps.iter().map(|(_, bytes)| bytes).sum();
            prop_assert_eq!(history.step_bytes(), bytes);
        }
    }

    /// Whatever is packed and let go of, the document stays what it is.
    #[test]
    fn an_editor_that_is_short_of_memory_shows_the_same(
        ops in prop::collection::vec(op(), 15..30),
    ) {
        let desk = Desk::new();
        let mut roomy = desk.editor(Settings::default());
        let mut tight = desk.editor(Settings { memory_bytes: 1 << 20, ..Settings::default() });
        for op in &ops {
            let edit = desk.edit(op, roomy.document());
            let (one, other) =
                (roomy.apply(&edit, &Unobserved), tight.apply(&edit, &Unobserved));
            prop_assert_eq!(one.is_ok(), other.is_ok());
            tight.settle_and_wait().unwrap();
            if op.kind == 28 && tight.undo() {
                roomy.undo();
            }
        }
        prop_assert!(tight.history().tile_bytes() <= roomy.history().tile_bytes());
        for material in [0, 1].map(MaterialId) {
            let (one, other) = (
                roomy.composite(material, &Unobserved).unwrap(),
                tight.composite(material, &Unobserved).unwrap(),
            );
            for (id, channel) in &one.channels {
                let same = &other.channels[id];
                for (a, b) in channel.values.iter().zip(&same.values) {
                    prop_assert_eq!(texels(a), texels(b));
                }
                prop_assert_eq!(texels(&channel.painted), texels(&same.painted));
            }
        }
    }
}

fn texels(plane: &Plane) -> Vec<u16> {
    let places = plane.extent().tile_places();
    places
        .flat_map(|at| {
            let read = plane.tile(at).read().unwrap();
            (0..4096).map(move |index| read.at(index))
        })
        .collect()
}

/// An edit list that holds one edit.
fn list_of(edit: &Edit, document: &Document) -> String {
    let edit = written(edit, document).unwrap();
    let edits = vec![ListedEdit { line: 3, edit }];
    EditList { edits, ..EditList::default() }.to_json().unwrap()
}

/// A painted op on layer 0 of the first material.
fn painted(b: u32, x: f64, z: f64) -> Op {
    Op { kind: 25, material: 0, a: 0, b, c: 5, x, z }
}

fn layer(document: &Document, id: u32) -> &Arc<Layer> {
    document.materials[0].stack.find(LayerId(id)).unwrap()
}

fn coverage(document: &Document, id: u32, channel: ChannelId) -> Plane {
    let Content::Painted(cells) = &layer(document, id).content else { panic!("not painted") };
    cells[&channel].coverage.clone()
}

#[test]
fn cells_of_one_stroke_share_their_coverage_until_one_is_painted_alone() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let [colour, roughness, metalness] =
        [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS, ChannelId::METALNESS];
    let mut paint = |op: Op| {
        let edit = desk.edit(&op, editor.document());
        editor.apply(&edit, &Unobserved).unwrap();
        let document = editor.document();
        [colour, roughness, metalness].map(|channel| coverage(document, 0, channel))
    };
    for at in [0.4, 0.6] {
        let [of_colour, of_roughness, of_metalness] = paint(painted(7, at, 0.5));
        assert!(of_colour.same(&of_roughness) && of_colour.same(&of_metalness));
        assert!(of_colour.tiles().any(|tile| tile.address().is_some()));
    }
    let [of_colour, of_roughness, of_metalness] = paint(painted(1, 0.5, 0.3));
    assert!(!of_colour.same(&of_roughness));
    assert!(of_roughness.same(&of_metalness));
}

#[test]
fn a_copied_layer_equals_its_original_and_goes_its_own_way() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let mut apply = |change| {
        editor.apply(&Edit::Material(MaterialId(0), change), &Unobserved).unwrap();
        editor.document().clone()
    };
    let material = |edit: Edit| match edit {
        Edit::Material(_, change) => change,
        Edit::Import { .. } => panic!("an import"),
    };
    let empty = apply(MaterialEdit::Layer(LayerId(0), LayerEdit::Visible(true)));
    apply(material(desk.edit(&painted(7, 0.5, 0.5), &empty)));
    let copied = apply(MaterialEdit::DuplicateLayer { layer: LayerId(0), copy: LayerId(7) });
    let place = copied.materials[0].stack.place_of(LayerId(7));
    assert_eq!(place, Some(Place { parent: None, index: 1 }), "right above its original");
    let renamed = |id| Layer { id: LayerId(0), ..Layer::clone(layer(&copied, id)) };
    assert_eq!(layer_difference(&renamed(0), &renamed(7)), None);
    let tiles = tiles_of(&copied);

    let (before, untouched) = (Arc::clone(layer(&copied, 0)), Arc::clone(layer(&copied, 7)));
    let edit = desk.edit(&painted(7, 0.2, 0.8), &copied);
    let painted_on = apply(material(edit));
    assert!(Arc::ptr_eq(layer(&painted_on, 7), &untouched), "paint on one leaves the other");
    assert!(!Arc::ptr_eq(layer(&painted_on, 0), &before));
    assert!(tiles.is_subset(&tiles_of(&painted_on)), "the copy keeps the tiles that it shared");

    // The copy has the recipe too: at another size it is painted again, and stays as it was.
    let larger = apply(MaterialEdit::TextureSize(size(128)));
    let back = apply(MaterialEdit::TextureSize(size(64)));
    assert_eq!(larger.materials[0].size.edge(), 128);
    assert_eq!(layer_difference(layer(&back, 7), &untouched), None);
}

#[test]
fn a_layer_that_is_removed_and_added_again_is_empty() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    assert!(!planes_of(layer(editor.document(), 0)).is_empty());
    let add = MaterialEdit::AddLayer {
        layer: LayerId(0),
        name: "layer 0".to_owned(),
        content: NewContent::Painted,
        place: Place { parent: None, index: 0 },
    };
    // In the group first: what a group holds goes with it.
    let into = Place { parent: Some(LayerId(1)), index: 0 };
    let changes =
        [MaterialEdit::MoveLayer(LayerId(0), into), MaterialEdit::RemoveLayer(LayerId(1))];
    for change in changes.into_iter().chain([add]) {
        editor.apply(&Edit::Material(MaterialId(0), change), &Unobserved).unwrap();
    }
    assert!(editor.document().materials[0].stack.ids().eq([LayerId(0)]));
    assert!(planes_of(layer(editor.document(), 0)).is_empty());
    // Neither does a recipe of the layer before come back with another size.
    let grow = MaterialEdit::TextureSize(size(128));
    editor.apply(&Edit::Material(MaterialId(0), grow), &Unobserved).unwrap();
    assert!(planes_of(layer(editor.document(), 0)).is_empty());
    assert!(editor.document().materials[0].recipe(LayerId(0)).steps.is_empty());
}
