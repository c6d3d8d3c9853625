//! Clearing cells, and merging layers: what an artist sees stays what it was, or the edit is refused.

use std::collections::BTreeMap;
use std::sync::Arc;

use document::{
    CellEdit, Document, DocumentError, Edit, LayerEdit, MaterialEdit, MaterialId, NewContent, Step,
};
use editor::{Editor, EditorError, Settings};
use layers::{BlendMode, ChannelId, Content, LayerId, Opacity, Place, Value};
use proptest::prelude::*;
use raster::{Unobserved, to_unit};

use crate::compared::{difference, is_same, whole_composite};
use crate::random_edits::{Desk, op, size};

const MATERIAL: MaterialId = MaterialId(0);

fn apply(editor: &mut Editor, change: MaterialEdit) -> Result<(), EditorError> {
    editor.apply(&Edit::Material(MATERIAL, change), &Unobserved)
}

fn layer(change: LayerEdit) -> MaterialEdit {
    MaterialEdit::Layer(LayerId(0), change)
}

/// The greatest difference of two documents' composites, in stored steps.
fn off(a: &Document, b: &Document, material: MaterialId) -> u16 {
    let (a, b) = (whole_composite(a, material), whole_composite(b, material));
    let mut worst = 0;
    for (id, channel) in &a.channels {
        for (a, b) in channel.values.iter().zip(&b.channels[id].values) {
            for at in a.extent().tile_places() {
                let (a, b) = (a.tile(at).read().unwrap(), b.tile(at).read().unwrap());
                worst = (0..4096).map(|n| a.at(n).abs_diff(b.at(n))).fold(worst, u16::max);
            }
        }
    }
    worst
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..Default::default() })]

    /// Texels are stored in 16 bits: a merge rounds values and coverage once more.
    #[test]
    fn a_merge_looks_as_before_or_is_refused(ops in prop::collection::vec(op(), 6..16)) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        for op in &ops {
            let _refused = editor.apply(&desk.edit(op, editor.document()), &Unobserved);
        }
        let before = editor.document().clone();
        for material in [0, 1].map(MaterialId) {
            let ids: Vec<LayerId> = before.materials[material.0 as usize].stack.ids().collect();
            for id in ids {
                let merge = Edit::Material(material, MaterialEdit::MergeDown(id));
                if editor.apply(&merge, &Unobserved).is_ok() {
                    let steps = off(&before, editor.document(), material);
                    prop_assert!(steps <= 6, "{} steps", steps);
                    prop_assert!(editor.undo());
                }
                prop_assert!(is_same(editor.document(), &before));
            }
        }
    }
}

#[test]
fn merging_gives_one_painted_layer_that_lives_on() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let values = BTreeMap::from([(ChannelId::ROUGHNESS, Value::Scalar(50_000))]);
    let place = Place { parent: None, index: 1 };
    let (name, content) = ("gloss".to_owned(), NewContent::Solid(values));
    apply(&mut editor, MaterialEdit::AddLayer { layer: LayerId(7), name, content, place }).unwrap();
    let half = LayerEdit::Opacity(Opacity::new(0.5).unwrap());
    apply(&mut editor, MaterialEdit::Layer(LayerId(7), half)).unwrap();
    let before = editor.document().clone();
    apply(&mut editor, MaterialEdit::MergeDown(LayerId(7))).unwrap();
    let material = &editor.document().materials[0];
    let merged = material.stack.find(LayerId(0)).unwrap();
    assert_eq!(merged.name, "layer 0");
    assert!(matches!(&merged.content, Content::Painted(cells) if cells.len() == 3));
    assert!(
        material.stack.find(LayerId(7)).is_none() && material.recipe(LayerId(7)).steps.is_empty()
    );
    assert!(off(&before, editor.document(), MATERIAL) <= 2);
    // Another size starts from the merged texels; recorded work does it all again.
    apply(&mut editor, MaterialEdit::TextureSize(size(128))).unwrap();
    let again = desk.replayed(&editor.recorded(), 1);
    assert_eq!(difference(again.document(), editor.document()), None);
    let roughness = whole_composite(editor.document(), MATERIAL);
    let corner = roughness.channels[&ChannelId::ROUGHNESS].values[0].texel(1, 1).unwrap();
    let ground = before.materials[0].ground[&ChannelId::ROUGHNESS];
    let Value::Scalar(ground) = ground else { panic!("a scalar") };
    let expected = f32::midpoint(to_unit(ground), to_unit(50_000));
    assert!((to_unit(corner) - expected).abs() < 1e-3, "{corner}");
}

#[test]
fn a_merge_that_would_look_otherwise_says_what_to_do() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let refused = |editor: &mut Editor, id: u32| {
        let refused = apply(editor, MaterialEdit::MergeDown(LayerId(id))).unwrap_err();
        let EditorError::Document(refused) = refused else { panic!("{refused}") };
        refused
    };
    assert_eq!(refused(&mut editor, 0), DocumentError::NothingBelow { layer: LayerId(0) });
    // The group lets what is below it through.
    assert_eq!(refused(&mut editor, 1), DocumentError::CannotMerge { layer: LayerId(1) });
    apply(&mut editor, MaterialEdit::DuplicateLayer { layer: LayerId(0), copy: LayerId(5) })
        .unwrap();
    let blend = LayerEdit::Cells(vec![ChannelId::ROUGHNESS], CellEdit::Blend(BlendMode::Multiply));
    apply(&mut editor, MaterialEdit::Layer(LayerId(5), blend)).unwrap();
    let looks = DocumentError::MergeLooks { layer: LayerId(5), mode: BlendMode::Multiply };
    assert_eq!(refused(&mut editor, 5), looks);
    assert!(looks.to_string().contains("multiply"), "{looks}");
    apply(&mut editor, MaterialEdit::Layer(LayerId(5), LayerEdit::Visible(false))).unwrap();
    assert_eq!(refused(&mut editor, 5), DocumentError::CannotMerge { layer: LayerId(5) });
}

#[test]
fn clearing_takes_the_paint_of_some_cells_and_leaves_how_they_are_set() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let roughness = ChannelId::ROUGHNESS;
    let screen = LayerEdit::Cells(vec![roughness], CellEdit::Blend(BlendMode::Screen));
    apply(&mut editor, layer(screen)).unwrap();
    let clear =
        |channels: &[ChannelId]| layer(LayerEdit::Paint(Arc::new(Step::Clear(channels.to_vec()))));
    let before = editor.document().clone();
    apply(&mut editor, clear(&[roughness])).unwrap();
    let cleared = Arc::clone(editor.document().materials[0].stack.find(LayerId(0)).unwrap());
    let Content::Painted(cells) = &cleared.content else { panic!("painted") };
    assert_eq!(
        cells.keys().copied().collect::<Vec<_>>(),
        [ChannelId::BASE_COLOUR, ChannelId::METALNESS]
    );
    assert_eq!(cleared.cell(roughness).blend, BlendMode::Screen);
    // It stays cleared at another size, and what was not cleared is painted again.
    apply(&mut editor, MaterialEdit::TextureSize(size(128))).unwrap();
    let larger = Arc::clone(editor.document().materials[0].stack.find(LayerId(0)).unwrap());
    let Content::Painted(cells) = &larger.content else { panic!("painted") };
    assert_eq!(cells.len(), 2);
    let again = desk.replayed(&editor.recorded(), 1);
    assert_eq!(difference(again.document(), editor.document()), None);
    assert!(editor.undo() && editor.undo());
    assert!(is_same(editor.document(), &before));
    for refused in [clear(&[]), clear(&[ChannelId(40)])] {
        assert!(apply(&mut editor, refused).is_err());
    }
    let group = LayerEdit::Paint(Arc::new(Step::Clear(vec![roughness])));
    assert!(apply(&mut editor, MaterialEdit::Layer(LayerId(1), group)).is_err());
}
