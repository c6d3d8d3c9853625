//! A stroke's life: from the pen that comes down in one of the views to the edit that it becomes.

use brush::{PenSample, StrokeStart, StrokeView};
use document::Deposit;
use editor::{EditorError, StrokeTarget};
use layers::Value;
use raster::Unobserved;

use super::Desk;
use crate::chosen::Aim;
use crate::hand::HandSample;

/// One of the two views that are painted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum View {
    /// The model, in space.
    Model,
    /// The texture, laid flat.
    Flat,
}

/// A stroke that goes on.
#[derive(Debug)]
pub(crate) struct StrokeInHand {
    /// Where the pen came down.
    pub(crate) view: View,
    /// On the window's clock.
    began_secs: f64,
    /// The colour that it leaves.
    colour: Option<[u16; 3]>,
    /// Samples since the last frame of the stroke.
    waiting: Vec<PenSample>,
}

impl Desk {
    /// Pen down. Where nothing can be painted, a notice says why, and the pen may do as it likes.
    pub(crate) fn begin_stroke(&mut self, view: View, first: HandSample, pixels_per_point: f32) {
        if let Some(refusal) = self.refusal() {
            self.tell_refusal(refusal);
            return;
        }
        if !self.editor.is_prepared(self.chosen.material) {
            self.prepare_again();
            return;
        }
        let Some(target) = self.stroke_target(first.eraser || self.brush.erases) else { return };
        let colour = match &target.deposit {
            Deposit::Paint(values) => values.values().find_map(|value| match value {
                Value::Colour(colour) => Some(*colour),
                Value::Scalar(_) => None,
            }),
            _ => None,
        };
        let start = self.stroke_start(view, first, pixels_per_point);
        if let Err(error) = self.editor.begin_stroke(&target, &start, &Unobserved) {
            self.notices.error(error);
            return;
        }
        let began_secs = first.time_secs;
        self.stroke = Some(StrokeInHand { view, began_secs, colour, waiting: Vec::new() });
        self.extend_stroke(first);
    }

    /// What the brush does to what it is aimed at. Erasing a mask paints it black: it lets nothing through.
    pub(super) fn stroke_target(&self, erases: bool) -> Option<StrokeTarget> {
        let deposit = match &self.chosen.aim {
            Aim::Mask(at) => {
                Deposit::Mask { at: *at, value: if erases { 0 } else { self.brush.mask_value } }
            }
            Aim::Cells(cells) if erases => Deposit::Erase(cells.iter().copied().collect()),
            Aim::Cells(cells) => {
                let values = self.document().channels.iter();
                let values = values.filter(|channel| cells.contains(&channel.id));
                Deposit::Paint(
                    values
                        .map(|channel| {
                            let held = self.brush.values.get(&channel.id).copied();
                            (channel.id, held.unwrap_or(channel.ground))
                        })
                        .collect(),
                )
            }
        };
        Some(StrokeTarget { material: self.chosen.material, layer: self.chosen.layer?, deposit })
    }

    fn stroke_start(&self, view: View, first: HandSample, pixels_per_point: f32) -> StrokeStart {
        let view = match view {
            View::Model => StrokeView::Model {
                camera: self.model_view.camera,
                size: self.brush_size(pixels_per_point),
            },
            View::Flat => {
                let camera = self.flat_view.camera;
                let uv = camera.uv(self.flat_view.pixel(first.position));
                StrokeView::Flat { camera, radius: self.radius_uv(uv, pixels_per_point) }
            }
        };
        let (entries, _) = self.editor.history().entries();
        StrokeStart {
            view,
            smoothing: self.brush.smoothing,
            brush: self.brush.settings,
            // Another for each stroke, and the same again for one that is made anew after an undo.
            seed: (entries.count() as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15),
            left_out: self.model_view.left_out(),
        }
    }

    /// Another report of the pen: kept until the frame's end.
    pub(crate) fn extend_stroke(&mut self, sample: HandSample) {
        let Some(stroke) = &self.stroke else { return };
        let position_px = match stroke.view {
            View::Model => self.model_view.pixel(sample.position),
            View::Flat => self.flat_view.pixel(sample.position),
        };
        let time_secs = (sample.time_secs - stroke.began_secs).max(0.0);
        let tilt_rad = self.tilt_as_seen(stroke.view, sample.tilt_rad);
        let HandSample { pressure, eraser, .. } = sample;
        if let Some(stroke) = &mut self.stroke {
            stroke.waiting.push(PenSample { position_px, pressure, tilt_rad, eraser, time_secs });
        }
    }

    /// In a mirror a pen leans the other way.
    fn tilt_as_seen(&self, view: View, [x, y]: [f32; 2]) -> [f32; 2] {
        if view == View::Model && self.model_view.mirrored { [-x, y] } else { [x, y] }
    }

    /// Once a frame in the view of the stroke: paints what came since the last. A stroke that was taken back
    /// meanwhile is forgotten.
    pub(crate) fn stroke_frame(&mut self) {
        if self.hand_in_samples() {
            let painted = self.editor.stroke_frame();
            self.tell(painted.err());
        }
    }

    /// False where the stroke was taken back.
    fn hand_in_samples(&mut self) -> bool {
        let Some(stroke) = &mut self.stroke else { return false };
        let samples = std::mem::take(&mut stroke.waiting);
        match self.editor.extend_stroke(&samples) {
            Err(EditorError::PenUp) => {
                self.stroke = None;
                false
            }
            handed => {
                self.tell(handed.err());
                true
            }
        }
    }

    /// Pen up: what was painted becomes an edit, and its colour one of the recent ones.
    pub(crate) fn end_stroke(&mut self) {
        if !self.hand_in_samples() {
            return;
        }
        let colour = self.stroke.take().and_then(|stroke| stroke.colour);
        match self.editor.end_stroke() {
            Ok(true) => {
                if let Some(colour) = colour {
                    self.brush.note_painted(colour);
                }
            }
            Ok(false) => {}
            Err(error) => self.tell_error(error),
        }
        self.settle();
    }

    /// Takes the stroke that goes on back; false where there is none.
    pub(crate) fn cancel_stroke(&mut self) -> bool {
        self.stroke = None;
        self.editor.cancel_stroke()
    }

    fn tell(&mut self, error: Option<EditorError>) {
        if let Some(error) = error {
            self.notices.error(error);
        }
    }
}
