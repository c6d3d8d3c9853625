//! Work that is larger than the memory that it may take: what is in the project file leaves memory.

use std::path::Path;
use std::sync::Arc;

use brush::{BrushSettings, Path as StrokePath, SurfacePath};
use document::{Deposit, Edit, LayerEdit, MaterialEdit, MaterialId, NewContent, Shape, Step};
use editor::{Editor, Settings};
use glam::DVec3;
use layers::{ChannelId, LayerId, Place, Value};
use raster::Unobserved;
use store::{Changes, Project};

use crate::compared::{composite_difference, difference, whole_composite};
use crate::random_edits::{Desk, size};
use crate::strokes::stroke;

const LAYERS: u32 = 10;
const STROKES: u32 = 40;
/// Enough for surface, texel map and buffers, and not for the tiles.
const TIGHT: usize = 40 << 20;

/// The desk's model at 1024 texels, with bare layers.
fn begun(desk: &Desk, memory_bytes: usize) -> Editor {
    let mut editor = Editor::new(Settings { memory_bytes, threads: None }).unwrap();
    let import = Edit::Import { model: Arc::clone(&desk.model), size: size(1024) };
    editor.apply(&import, &Unobserved).unwrap();
    for layer in 0..LAYERS {
        let (layer, name) = (LayerId(layer), format!("layer {layer}"));
        let place = Place { parent: None, index: 0 };
        let change = MaterialEdit::AddLayer { layer, name, content: NewContent::Painted, place };
        editor.apply(&Edit::Material(MaterialId(0), change), &Unobserved).unwrap();
    }
    editor
}

/// A soft stroke over half of the plate.
fn soft_stroke(desk: &Desk, number: u32) -> Edit {
    let across = f64::from(number % 7) / 7.0;
    let ends = [DVec3::new(0.1, 0.0, across), DVec3::new(0.9, 0.0, 1.0 - across)];
    let points = ends.map(|at| desk.bench.point(at, 0.35)).to_vec();
    let brush = BrushSettings { hardness: 0.0, opacity: 0.6, ..BrushSettings::default() };
    let path = StrokePath::Surface(SurfacePath { runs: vec![points], eye: None });
    let shade = |of: u32| (number * 1_601 * (of + 1) % 65_536) as u16;
    let values = [
        (ChannelId::BASE_COLOUR, Value::Colour([shade(0), shade(1), shade(2)])),
        (ChannelId::ROUGHNESS, Value::Scalar(shade(3))),
    ];
    let deposit = Deposit::Paint(values.into());
    let step = Step::Deposit { deposit, shape: Shape::Stroke(stroke(path, brush)) };
    let paint = LayerEdit::Paint(Arc::new(step));
    Edit::Material(MaterialId(0), MaterialEdit::Layer(LayerId(number % LAYERS), paint))
}

/// Paints, within a budget; what is in a project is written after each stroke.
fn painted(desk: &Desk, memory_bytes: usize, path: Option<&Path>) -> (Editor, Option<Project>) {
    let mut editor = begun(desk, memory_bytes);
    let mut project = path.map(|path| Project::create(path, editor.history()).unwrap());
    for number in 0..STROKES {
        editor.apply(&soft_stroke(desk, number), &Unobserved).unwrap();
        if let Some(project) = &mut project {
            project.commit(&Changes::of_history(editor.history())).unwrap();
        }
        editor.settle_and_wait().unwrap();
    }
    (editor, project)
}

#[test]
fn what_is_in_a_project_leaves_memory_and_nothing_of_undo_has_to_go() {
    let desk = Desk::new();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.scumble");
    let (mut ample, _) = painted(&desk, 4 << 30, None);
    let (alone, _) = painted(&desk, TIGHT, None);
    let (mut kept, project) = painted(&desk, TIGHT, Some(&path));

    let entries = |editor: &Editor| editor.history().entries().0.len();
    assert!(ample.ledger().bytes() > 2 * TIGHT, "it is too little: {:?}", ample.ledger());
    assert!(entries(&alone) < entries(&ample), "memory alone has to let go of steps");
    assert_eq!(entries(&kept), entries(&ample));
    assert_eq!(kept.ledger().over(), 0, "{:?}", kept.ledger());

    assert_eq!(difference(kept.document(), ample.document()), None);
    let [a, b] = [&kept, &ample].map(|editor| whole_composite(editor.document(), MaterialId(0)));
    for channel in [ChannelId::BASE_COLOUR, ChannelId::ROUGHNESS] {
        assert_eq!(composite_difference(&a, &b, channel), None);
    }
    for _ in 0..STROKES / 2 {
        assert!(kept.undo() && ample.undo());
    }
    assert_eq!(difference(kept.document(), ample.document()), None);
    let project = project.unwrap();
    assert_eq!(project.watch().damage(0), []);
    project.close().unwrap();
    assert_eq!(difference(kept.document(), ample.document()), None);
}
