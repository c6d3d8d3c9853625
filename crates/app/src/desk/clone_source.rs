//! The point that clone strokes take their paint from, and what a stroke that moves paint needs before it begins.

use brush::{Anchor, StrokeKind};
use egui::Pos2;
use layers::Content;

use super::{Desk, Met, View};
use crate::chosen::Aim;
use crate::commands::{BrushCommand, Command};
use crate::does::{CloneSource, Does};
use crate::hand::HandSample;

impl Desk {
    /// How a stroke treats texels. Where it has nothing to work with, a notice says so.
    pub(super) fn stroke_kind(
        &mut self,
        does: Does,
        view: View,
        first: HandSample,
        pixels_per_point: f32,
    ) -> Option<StrokeKind> {
        if does.needs_paint() && !self.has_paint() {
            let text = format!("There is no paint on this layer that the brush {}: paint first", {
                does.heading().to_lowercase()
            });
            self.notices.note(text);
            return None;
        }
        let strengths = &self.brush.strengths;
        match does {
            Does::Smudge => Some(StrokeKind::Smudge { hold: strengths.hold }),
            Does::Soften => Some(StrokeKind::Soften { reach: strengths.reach }),
            Does::Clone => self.clone_kind(view, first, pixels_per_point),
            _ => Some(StrokeKind::Deposit),
        }
    }

    /// Whether the chosen layer has any paint where the brush is aimed.
    fn has_paint(&self) -> bool {
        match (&self.chosen.aim, self.chosen_layer().map(|layer| layer.content.clone())) {
            (Aim::Cells(cells), Some(Content::Painted(painted))) => {
                cells.iter().any(|channel| painted.contains_key(channel))
            }
            (Aim::Mask(_), Some(_)) => true,
            _ => false,
        }
    }

    fn clone_kind(
        &mut self,
        view: View,
        first: HandSample,
        pixels_per_point: f32,
    ) -> Option<StrokeKind> {
        let start = self.start_at(view, first.position, pixels_per_point);
        let text = match (&mut self.brush.source, view, start) {
            (Some(CloneSource::Surface { part, .. }), View::Model, _)
                if self.model_view.part(*part).hidden =>
            {
                "The part to clone from is hidden: show it, or pick another point"
            }
            (Some(CloneSource::Surface { start, .. }), View::Model, Some(Start::Surface(at))) => {
                start.get_or_insert(at);
                return self.brush.source.and_then(|source| source.kind());
            }
            (Some(CloneSource::Texture { start, .. }), View::Flat, Some(Start::Texture(at))) => {
                start.get_or_insert(at);
                return self.brush.source.and_then(|source| source.kind());
            }
            (Some(_), _, Some(_)) => {
                "The point to clone from was picked in the other view: pick one in this view"
            }
            (Some(_), _, None) => return None,
            (None, ..) => "Pick the point to clone from first",
        };
        let keys = self.bindings.text(Command::Brush(BrushCommand::PickSource));
        let keys = keys.map_or_else(String::new, |keys| format!("  ({keys})"));
        self.notices.note(format!("{text}{keys}"));
        None
    }

    /// Where a stroke that begins there has its first dab, roughly.
    fn start_at(&self, view: View, at: Pos2, pixels_per_point: f32) -> Option<Start> {
        if view == View::Flat {
            let camera = &self.flat_view.camera;
            return Some(Start::Texture(camera.uv(self.flat_view.pixel(at))));
        }
        let met = self.met(at).or_else(|| self.met_around(at, pixels_per_point).next())?;
        self.anchor(&met).map(Start::Surface)
    }

    pub(super) fn anchor(&self, met: &Met) -> Option<Anchor> {
        let surface = self.readiness.surface.as_ref()?;
        let towards = self.model_view.camera.ray(self.model_view.camera.project(met.position)?);
        let on = surface.nearest_on(met.triangle, met.position);
        let normal = surface.smooth_normal(met.triangle, on.barycentric);
        let normal = if normal.dot(towards.direction) > 0.0 { -normal } else { normal };
        Some(Anchor { position: met.position, normal })
    }

    /// Takes what lies under the pointer as the point to clone from. Where nothing does, the pick goes on.
    pub(super) fn pick_source(&mut self, view: View, at: Pos2) {
        let source = match view {
            View::Flat => {
                let uv = self.flat_view.camera.uv(self.flat_view.pixel(at));
                let inside = uv.min_element() >= 0.0 && uv.max_element() <= 1.0;
                inside.then_some(CloneSource::Texture { uv, start: None })
            }
            View::Model => self.met(at).and_then(|met| {
                let source = self.anchor(&met)?;
                Some(CloneSource::Surface { source, part: met.part, start: None })
            }),
        };
        match source {
            Some(source) => (self.brush.source, self.brush.picking) = (Some(source), None),
            None => self.notices.note("There is nothing to clone from here: click on the model"),
        }
    }
}

/// Where a stroke begins.
#[derive(Clone, Copy)]
enum Start {
    Surface(Anchor),
    Texture(glam::DVec2),
}
