//! A stroke's life: from the pen that comes down in one of the views to the edit that it becomes.

use brush::{PenSample, Smoothing, StrokeKind, StrokeStart, StrokeView, Symmetry};
use document::Deposit;
use editor::{EditorError, StrokeTarget};
use glam::{DVec2, DVec3};
use layers::Value;
use raster::Unobserved;

use super::Desk;
use crate::brush_in_hand::StrokeEnd;
use crate::chosen::Aim;
use crate::does::Does;
use crate::hand::HandSample;
use crate::symmetry_in_hand::About;

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
    /// Where the pen was last, in pixels of the view.
    last_px: DVec2,
    /// Where the brush is on its string, in pixels of the view; none without one.
    on_string: Option<DVec2>,
}

impl Desk {
    /// Pen down; a straight stroke goes on from where the last one ended. Where nothing can be painted, a notice says
    /// why, and the pen may do as it likes.
    pub(crate) fn begin_stroke(
        &mut self,
        view: View,
        first: HandSample,
        straight: bool,
        pixels_per_point: f32,
    ) {
        self.put_down();
        if let Some(refusal) = self.refusal() {
            self.tell_refusal(refusal);
            return;
        }
        if !self.editor.is_prepared(self.chosen.material) {
            self.prepare_again();
            return;
        }
        let does = if first.eraser { Does::Erase } else { self.brush.does };
        let Some(kind) = self.stroke_kind(does, view, first, pixels_per_point) else { return };
        let Some(target) = self.stroke_target(does) else { return };
        let colour = match &target.deposit {
            Deposit::Paint(values) => values.values().find_map(|value| match value {
                Value::Colour(colour) => Some(*colour),
                Value::Scalar(_) => None,
            }),
            _ => None,
        };
        let mut start = StrokeStart { kind, ..self.stroke_start(view, first, pixels_per_point) };
        if straight {
            start.smoothing = Smoothing::Off;
        }
        if let Err(error) = self.editor.begin_stroke(&target, &start, &Unobserved) {
            self.notices.error(error);
            return;
        }
        let began_secs = first.time_secs;
        let (last_px, on_string) = (DVec2::ZERO, None);
        let waiting = Vec::new();
        self.stroke = Some(StrokeInHand { view, began_secs, colour, waiting, last_px, on_string });
        if let Some(from_px) = self.last_end_px(view).filter(|_| straight) {
            self.wait_with(from_px, first);
        }
        self.extend_stroke(first);
    }

    /// What the brush does to what it is aimed at. Erasing a mask paints it black: it lets nothing through.
    pub(super) fn stroke_target(&self, does: Does) -> Option<StrokeTarget> {
        let aimed = self.chosen.aim.target();
        let deposit = match (&self.chosen.aim, does) {
            (_, Does::Smudge | Does::Soften | Does::Clone) => Deposit::Move(aimed),
            (_, Does::Lighten | Does::Darken | Does::Shift) => {
                Deposit::Adjust(aimed, self.brush.strengths.adjustment(does)?)
            }
            (Aim::Mask(at), Does::Erase) => Deposit::Mask { at: *at, value: 0 },
            (Aim::Mask(at), Does::Paint) => Deposit::Mask { at: *at, value: self.brush.mask_value },
            (Aim::Cells(cells), Does::Erase) => Deposit::Erase(cells.iter().copied().collect()),
            (Aim::Cells(cells), Does::Paint) => {
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

    pub(super) fn stroke_start(
        &self,
        view: View,
        first: HandSample,
        pixels_per_point: f32,
    ) -> StrokeStart {
        let on_model = view == View::Model;
        let stencil = match view {
            View::Model => self.stencil.before(&self.model_view),
            View::Flat => {
                let [width, height] = self.flat_view.size_px.map(f64::from);
                self.stencil.over(&self.flat_view.camera, DVec2::new(width, height))
            }
        };
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
            kind: StrokeKind::Deposit,
            brush: self.brush.settings.clone(),
            // Another for each stroke, and the same again for one that is made anew after an undo.
            seed: (entries.count() as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15),
            left_out: self.model_view.left_out(),
            symmetry: on_model.then(|| self.symmetry()).flatten(),
            stencil,
        }
    }

    /// How strokes on the model are repeated.
    pub(crate) fn symmetry(&self) -> Option<Symmetry> {
        let part = self.symmetry_part.as_ref().map(|(_, bounds)| *bounds);
        let part = part.filter(|_| self.symmetry.about == About::Part);
        self.symmetry.symmetry(part.or_else(|| self.model_box())?)
    }

    /// Lowest and highest corner of the model.
    pub(crate) fn model_box(&self) -> Option<(DVec3, DVec3)> {
        let (low, high) = self.document().model.as_ref()?.mesh().bounds();
        Some((low.as_dvec3(), high.as_dvec3()))
    }

    /// Another report of the pen: kept until the frame's end.
    pub(crate) fn extend_stroke(&mut self, sample: HandSample) {
        let Some(stroke) = &self.stroke else { return };
        let position_px = match stroke.view {
            View::Model => self.model_view.pixel(sample.position),
            View::Flat => self.flat_view.pixel(sample.position),
        };
        self.wait_with(position_px, sample);
    }

    /// Keeps a report of the pen at a place of its view.
    fn wait_with(&mut self, position_px: DVec2, sample: HandSample) {
        let Some(stroke) = &self.stroke else { return };
        let time_secs = (sample.time_secs - stroke.began_secs).max(0.0);
        let tilt_rad = self.tilt_as_seen(stroke.view, sample.tilt_rad);
        let HandSample { pressure, eraser, .. } = sample;
        let smoothing = self.brush.smoothing;
        if let Some(stroke) = &mut self.stroke {
            stroke.waiting.push(PenSample { position_px, pressure, tilt_rad, eraser, time_secs });
            stroke.last_px = position_px;
            if let Smoothing::String { length_px } = smoothing {
                let before = stroke.on_string.unwrap_or(position_px);
                let pull = position_px - before;
                let slack = length_px / pull.length().max(f64::MIN_POSITIVE);
                let moved = pull * (1.0 - slack).max(0.0);
                stroke.on_string = Some(before + moved);
            }
        }
    }

    /// The string from brush to hand, in pixels of the stroke's view; none where there is none.
    pub(crate) fn string_px(&self, view: View) -> Option<[DVec2; 2]> {
        let stroke = self.stroke.as_ref().filter(|stroke| stroke.view == view)?;
        Some([stroke.on_string?, stroke.last_px])
    }

    /// Where the last stroke ended, in pixels of a view; none where it ended in the other one.
    fn last_end_px(&self, view: View) -> Option<DVec2> {
        match (self.brush.last_end?, view) {
            (StrokeEnd::Surface(point), View::Model) => self.model_view.camera.project(point),
            (StrokeEnd::Texture(uv), View::Flat) => {
                let camera = &self.flat_view.camera;
                Some((uv - camera.top_left) / camera.uv_per_px)
            }
            _ => None,
        }
    }

    /// Remembers where a stroke ends.
    fn note_end(&mut self) {
        let Some(stroke) = &self.stroke else { return };
        let at_px = stroke.on_string.unwrap_or(stroke.last_px);
        let end = match stroke.view {
            View::Model => self.met_px(at_px).map(|met| StrokeEnd::Surface(met.position)),
            View::Flat => Some(StrokeEnd::Texture(self.flat_view.camera.uv(at_px))),
        };
        self.brush.last_end = end.or(self.brush.last_end);
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
        self.note_end();
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
