//! A stroke that is painted while the pen moves: what is shown on the way, and that it ends in the edit
//! that replay gives.

use std::collections::BTreeMap;

use brush::{
    BrushSettings, BrushSize, Camera, LeftOut, PenSample, Projection, Reach, Smoothing, StrokeKind,
    StrokeStart, StrokeView, Symmetry,
};
use document::{Deposit, Document, Edit, MaterialId, Target};
use editor::{Editor, EditorError, Settings, StrokeTarget};
use glam::{DVec2, DVec3};
use layers::{ChannelId, LayerId, Value};
use proptest::prelude::*;
use raster::Unobserved;

use crate::compared::difference;
use crate::random_edits::Desk;

/// The desk's two plates seen from above.
pub(crate) fn start(radius: f64, brush: BrushSettings) -> StrokeStart {
    let camera = Camera {
        eye: DVec3::new(0.9, 4.0, 0.9),
        target: DVec3::new(0.9, 0.0, 0.5),
        up: DVec3::NEG_Z,
        projection: Projection::Perspective { fov_y_rad: 0.6 },
        viewport_px: DVec2::new(640.0, 480.0),
    };
    let view = StrokeView::Model { camera, size: BrushSize::Object(radius) };
    StrokeStart {
        view,
        smoothing: Smoothing::Off,
        kind: StrokeKind::Deposit,
        brush,
        seed: 5,
        left_out: LeftOut::default(),
        symmetry: None,
        stencil: None,
    }
}

pub(crate) fn target(b: u32, layer: u32) -> StrokeTarget {
    let values = [
        (ChannelId::BASE_COLOUR, Value::Colour([50_000, 3_000, 21_000])),
        (ChannelId::ROUGHNESS, Value::Scalar(11_000)),
        (ChannelId::METALNESS, Value::Scalar(65_535)),
    ];
    let values: BTreeMap<_, _> =
        values.into_iter().filter(|(channel, _)| b & (1 << channel.0) != 0).collect();
    let deposit = match b {
        8 => Deposit::Erase(vec![ChannelId::BASE_COLOUR, ChannelId::METALNESS]),
        _ => Deposit::Paint(values),
    };
    StrokeTarget { material: MaterialId(0), layer: LayerId(layer), deposit }
}

pub(crate) fn samples(turns: f64, count: usize) -> Vec<PenSample> {
    let at = |share: f64| {
        let turn = share * turns;
        DVec2::new(170.0 + 260.0 * share, 240.0 + 60.0 * turn.sin())
    };
    (0..count)
        .map(|number| PenSample {
            pressure: 0.3 + 0.7 * (number as f32 / count as f32),
            ..PenSample::mouse(at(number as f64 / count as f64), number as f64 / 133.0)
        })
        .collect()
}

/// Draws all samples, `frames` saying how many come with each frame.
pub(crate) fn draw(editor: &mut Editor, samples: &[PenSample], frames: &[usize]) {
    let mut left = samples;
    for &count in frames.iter().cycle() {
        let (now, later) = left.split_at(count.clamp(1, left.len()));
        editor.extend_stroke(now).unwrap();
        editor.stroke_frame().unwrap();
        left = later;
        if left.is_empty() {
            return;
        }
    }
}

/// The edit that was applied last, taken from the recorded list and read back.
fn applied_again(desk: &Desk, editor: &Editor) -> Document {
    desk.replayed(&editor.recorded(), 1).document().clone()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..Default::default() })]

    #[test]
    fn a_live_stroke_ends_in_what_replay_gives_whatever_the_frames(
        frames in prop::collection::vec(1..20_usize, 1..6),
        turns in 0.0..9.0_f64,
        b in 1..9_u32,
        layer in prop::sample::select(vec![0_u32, 2]),
        even in any::<bool>(),
        kind in prop::sample::select(vec![
            StrokeKind::Deposit,
            StrokeKind::Smudge { hold: 0.7 },
            StrokeKind::Soften { reach: 0.3 },
        ]),
        mirrored in any::<bool>(),
    ) {
        let desk = Desk::new();
        let mut editor = desk.editor(Settings::default());
        let build_up = if even { brush::BuildUp::Even } else { brush::BuildUp::Gradual };
        let brush = BrushSettings { flow: 0.4, build_up, ..BrushSettings::default() };
        let samples = samples(turns, 40);
        let centre = DVec3::new(0.9, 0.0, 0.5);
        let symmetry = Symmetry { centre, mirrors: [true, false, false], turns: None };
        let symmetry = mirrored.then_some(symmetry);
        let start = StrokeStart { kind, symmetry, ..start(0.07, brush.clone()) };
        let mut target = target(b, layer);
        if kind.is_transport() {
            let channels = match &target.deposit {
                Deposit::Paint(values) => values.keys().copied().collect(),
                Deposit::Erase(channels) => channels.clone(),
                _ => vec![ChannelId::ROUGHNESS],
            };
            target.deposit = Deposit::Move(Target::Cells(channels));
        }
        editor.begin_stroke(&target, &start, &Unobserved).unwrap();
        draw(&mut editor, &samples, &frames);
        let shown = editor.shown().clone();
        prop_assert!(editor.end_stroke().unwrap());
        // Moved paint can't be taken back, so its last bit has to wait.
        if !kind.is_transport() {
            prop_assert_eq!(difference(&shown, editor.document()), None);
        }
        prop_assert_eq!(difference(&applied_again(&desk, &editor), editor.document()), None);
    }
}

#[test]
fn what_is_shown_has_no_lag() {
    let desk = Desk::new();
    let samples = samples(4.0, 30);
    for count in [1, 2, 7, 30] {
        let brush = BrushSettings { reach: Reach::Part, ..BrushSettings::default() };
        let mut live = desk.editor(Settings::default());
        live.begin_stroke(&target(7, 0), &start(0.05, brush.clone()), &Unobserved).unwrap();
        draw(&mut live, &samples[..count], &[3]);
        let mut lifted = desk.editor(Settings::default());
        lifted.begin_stroke(&target(7, 0), &start(0.05, brush.clone()), &Unobserved).unwrap();
        lifted.extend_stroke(&samples[..count]).unwrap();
        lifted.end_stroke().unwrap();
        assert_eq!(difference(live.shown(), lifted.document()), None, "{count} samples");
    }
}

#[test]
fn undo_while_the_pen_is_down_takes_that_stroke_back_and_nothing_else() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let before = editor.document().clone();
    let brush = BrushSettings::default();
    for back in 0..3 {
        editor.begin_stroke(&target(7, 0), &start(0.07, brush.clone()), &Unobserved).unwrap();
        draw(&mut editor, &samples(3.0, 20), &[4]);
        assert!(difference(editor.shown(), &before).is_some());
        assert!(!editor.redo());
        assert!(if back == 0 { editor.go_to(0) } else { editor.undo() });
        assert_eq!(difference(editor.shown(), &before), None);
        assert!(std::sync::Arc::ptr_eq(&editor.document().materials[0], &before.materials[0]));
        assert!(matches!(editor.extend_stroke(&samples(3.0, 2)), Err(EditorError::PenUp)));
    }
}

#[test]
fn while_the_pen_is_down_no_other_edit_is_taken() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let brush = BrushSettings::default();
    editor.begin_stroke(&target(7, 0), &start(0.07, brush.clone()), &Unobserved).unwrap();
    let rename = document::LayerEdit::Rename("a name".to_owned());
    let change = document::MaterialEdit::Layer(LayerId(0), rename);
    let edit = Edit::Material(MaterialId(0), change);
    assert!(matches!(editor.apply(&edit, &Unobserved), Err(EditorError::PenDown)));
    let again = editor.begin_stroke(&target(7, 0), &start(0.07, brush.clone()), &Unobserved);
    assert!(matches!(again, Err(EditorError::PenDown)));
    assert!(!editor.end_stroke().unwrap());
    editor.apply(&edit, &Unobserved).unwrap();
}

#[test]
fn a_pen_that_misses_the_model_or_sends_nonsense_changes_nothing() {
    let desk = Desk::new();
    let mut editor = desk.editor(Settings::default());
    let (entries, before) = (editor.history().entries().0.count(), editor.document().clone());
    let brush = BrushSettings::default();
    editor.begin_stroke(&target(7, 0), &start(0.07, brush.clone()), &Unobserved).unwrap();
    let far = samples(1.0, 3)
        .into_iter()
        .map(|sample| PenSample { position_px: sample.position_px * 100.0, ..sample });
    editor.extend_stroke(&far.collect::<Vec<_>>()).unwrap();
    editor.stroke_frame().unwrap();
    let wild = PenSample { pressure: f32::NAN, ..samples(1.0, 1)[0] };
    assert!(matches!(editor.extend_stroke(&[wild]), Err(EditorError::Brush(_))));
    assert!(!editor.end_stroke().unwrap());
    assert_eq!(editor.history().entries().0.count(), entries);
    assert_eq!(difference(editor.document(), &before), None);
}
