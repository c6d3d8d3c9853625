//! Baked fields: they enter as edits that carry their result, and masks read them.

use std::sync::Arc;

use document::{
    Baked, ContentHash, DocumentError, Edit, LayerEdit, MaskOwner, MaterialEdit, MaterialId, Model,
    NewContent, NewTerm, NewTermSource,
};
use editor::{Editor, EditorError, Settings};
use layers::{ChannelId, Combine, FieldExpr, FieldId, LayerId, Place, TermId, Value};
use raster::{Plane, TextureSize, Unobserved};

use crate::meshes::plane;

const CLAY: MaterialId = MaterialId(0);
const LAYER: LayerId = LayerId(1);

fn editor_with_a_solid_layer() -> Editor {
    let mut editor = Editor::new(Settings { threads: Some(2), ..Settings::default() }).unwrap();
    let model = Arc::new(Model::new(plane(0.9), Vec::new()));
    let size = TextureSize::new(128).unwrap();
    editor.apply(&Edit::Import { model, size }, &Unobserved).unwrap();
    let content = NewContent::Solid([(ChannelId::ROUGHNESS, Value::Scalar(65_535))].into());
    let place = Place { parent: None, index: 0 };
    let name = "dust".to_owned();
    change(&mut editor, MaterialEdit::AddLayer { layer: LAYER, name, content, place }).unwrap();
    change(&mut editor, MaterialEdit::Ground(ChannelId::ROUGHNESS, Value::Scalar(0))).unwrap();
    editor
}

fn change(editor: &mut Editor, change: MaterialEdit) -> Result<(), EditorError> {
    editor.apply(&Edit::Material(CLAY, change), &Unobserved)
}

fn model_of(editor: &Editor) -> ContentHash {
    editor.document().model().unwrap().hash()
}

fn baked(made_from: ContentHash, edge: u32) -> MaterialEdit {
    let extent = TextureSize::new(edge).unwrap().extent();
    let plane = Plane::from_fn(extent, |x, _| (x * 65_535 / (edge - 1)) as u16);
    MaterialEdit::Field(Baked { field: FieldId::Elevation, plane, made_from })
}

fn masked_by_elevation() -> MaterialEdit {
    let source = NewTermSource::Field(FieldExpr::new(FieldId::Elevation, 0.25, 0.75).unwrap());
    let term = NewTerm { id: TermId(1), combine: Combine::Multiply, source };
    MaterialEdit::Layer(LAYER, LayerEdit::AddMaskTerm(MaskOwner::Layer, term))
}

fn refused(result: Result<(), EditorError>) -> DocumentError {
    match result.unwrap_err() {
        EditorError::Document(refused) => refused,
        other => panic!("{other}"),
    }
}

/// A ramp from 0 to 1 through the levels 0.25 and 0.75 lets nothing through below a quarter, all above
/// three quarters, and half in the middle.
#[test]
fn a_mask_reads_a_baked_field_through_its_levels() {
    let mut editor = editor_with_a_solid_layer();
    let made_from = model_of(&editor);
    change(&mut editor, baked(made_from, 128)).unwrap();
    change(&mut editor, masked_by_elevation()).unwrap();
    let composite = editor.composite(CLAY, &Unobserved).unwrap();
    let roughness = &composite.channels[&ChannelId::ROUGHNESS].values[0];
    assert_eq!(roughness.texel(20, 5).unwrap(), 0);
    assert_eq!(roughness.texel(110, 5).unwrap(), 65_535);
    let middle = f64::from(roughness.texel(64, 5).unwrap()) / 65_535.0;
    let expected = (64.0 / 127.0 - 0.25) / 0.5;
    assert!((middle - expected).abs() < 1e-4, "{middle}, {expected}");
}

#[test]
fn a_field_that_was_not_baked_can_not_be_a_mask() {
    let mut editor = editor_with_a_solid_layer();
    let error = refused(change(&mut editor, masked_by_elevation()));
    assert_eq!(error, DocumentError::FieldNotBaked("elevation".to_owned()));
}

#[test]
fn a_bake_of_another_model_or_size_is_refused() {
    let mut editor = editor_with_a_solid_layer();
    let other = refused(change(&mut editor, baked(ContentHash([7; 32]), 128)));
    assert!(matches!(other, DocumentError::Outdated { .. }), "{other}");
    let made_from = model_of(&editor);
    let size = refused(change(&mut editor, baked(made_from, 64)));
    assert!(matches!(size, DocumentError::FieldExtent { .. }), "{size}");
}

#[test]
fn a_field_goes_along_to_another_texture_size() {
    let mut editor = editor_with_a_solid_layer();
    let made_from = model_of(&editor);
    change(&mut editor, baked(made_from, 128)).unwrap();
    change(&mut editor, masked_by_elevation()).unwrap();
    change(&mut editor, MaterialEdit::TextureSize(TextureSize::new(256).unwrap())).unwrap();
    let composite = editor.composite(CLAY, &Unobserved).unwrap();
    let roughness = &composite.channels[&ChannelId::ROUGHNESS].values[0];
    assert_eq!(roughness.texel(40, 9).unwrap(), 0);
    assert_eq!(roughness.texel(220, 9).unwrap(), 65_535);
}
