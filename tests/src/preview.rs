//! Edits that are tried out before they are kept, and edits that are made in the background.

use std::sync::Arc;

use brush::BrushSettings;
use document::{Edit, LayerEdit, MaterialEdit, MaterialId};
use editor::{Editor, EditorError, Settings};
use layers::{LayerId, Opacity};
use raster::Unobserved;

use crate::compared::difference;
use crate::pen::{start, target};
use crate::random_edits::{Desk, size};

const MATERIAL: MaterialId = MaterialId(0);

fn opacity(value: f32) -> Edit {
    let change = LayerEdit::Opacity(Opacity::new(value).unwrap());
    Edit::Material(MATERIAL, MaterialEdit::Layer(LayerId(0), change))
}

fn shown_opacity(editor: &Editor) -> f32 {
    editor.shown().materials[0].stack.find(LayerId(0)).unwrap().opacity.get()
}

fn entries(editor: &Editor) -> usize {
    editor.history().entries().0.len()
}

#[test]
fn what_is_tried_out_is_shown_and_becomes_one_edit_when_it_is_kept() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let before = entries(&editor);
    for step in 1..=50_u8 {
        editor.preview(&opacity(1.0 - f32::from(step) / 100.0)).unwrap();
    }
    assert_eq!((shown_opacity(&editor), entries(&editor)), (0.5, before));
    let shown = editor.shown().clone();
    assert!(editor.keep_preview());
    assert!(!editor.keep_preview());
    assert_eq!(entries(&editor), before + 1);
    assert_eq!(difference(editor.document(), &shown), None);
    let replayed = desk.replayed(&editor.recorded(), 1);
    assert_eq!(difference(replayed.document(), editor.document()), None);
    assert!(editor.undo());
    assert_eq!(shown_opacity(&editor), 1.0);
}

#[test]
fn whatever_comes_next_takes_back_what_is_tried_out() {
    let mut editor = Desk::new().editor(Settings::default());
    let before = entries(&editor);
    let others: [fn(&mut Editor); 4] = [
        |editor| assert!(editor.undo()),
        |editor| assert!(!editor.redo()),
        |editor| {
            let radius = start(0.09, BrushSettings::default());
            editor.begin_stroke(&target(7, 0), &radius, &Unobserved).unwrap();
            editor.cancel_stroke();
        },
        |editor| editor.apply(&opacity(1.0), &Unobserved).unwrap(),
    ];
    for other in others {
        editor.preview(&opacity(0.2)).unwrap();
        other(&mut editor);
        assert_eq!(shown_opacity(&editor), 1.0);
        assert!(!editor.keep_preview());
    }
    assert_eq!(entries(&editor), before + 1, "only the edit was kept");
}

#[test]
fn an_edit_made_in_the_background_is_the_same_as_one_that_was_waited_for() {
    let desk = Desk::new();
    let change = || MaterialEdit::TextureSize(size(128));
    let mut waited = desk.editor(Settings::default());
    waited.apply(&Edit::Material(MATERIAL, change()), &Unobserved).unwrap();
    let mut editor = desk.editor(Settings::default());
    let job = editor.start_edit(MATERIAL, change()).unwrap();
    // Another material may change meanwhile.
    let other =
        Edit::Material(MaterialId(1), MaterialEdit::Layer(LayerId(0), LayerEdit::Visible(false)));
    editor.apply(&other, &Unobserved).unwrap();
    waited.apply(&other, &Unobserved).unwrap();
    editor.take_over(job.wait().unwrap()).unwrap();
    assert_eq!(difference(editor.document(), waited.document()), None);
}

#[test]
fn an_edit_that_was_overtaken_changes_nothing() {
    let mut editor = Desk::new().editor(Settings::default());
    let job = editor.start_edit(MATERIAL, MaterialEdit::TextureSize(size(128))).unwrap();
    editor.apply(&opacity(0.5), &Unobserved).unwrap();
    let before = Arc::clone(&editor.document().materials[0]);
    let refused = editor.take_over(job.wait().unwrap());
    assert!(matches!(refused, Err(EditorError::Overtaken { .. })));
    assert!(Arc::ptr_eq(&before, &editor.document().materials[0]));
}
