//! A path that is being laid: points on the model that a stroke goes through. They can be moved until it is kept,
//! and afterwards again, for the layer remembers them.

use std::sync::Arc;

use brush::{Curve, Guide, KernelVersion, Path, PathPoint, Stroke};
use document::{Deposit, LayerEdit, MaterialEdit, MaterialId, Shape, Step};
use egui::Pos2;
use layers::LayerId;

use super::in_hand::{KeptStep, REPAINTS};
use super::{Desk, Met, Motion};
use crate::hand::HandSample;

/// Points of the window within which a point of the path is taken hold of.
const NEAR: f32 = 10.0;

/// See the module.
#[derive(Debug, Clone)]
pub(crate) struct PathInHand {
    pub(super) material: MaterialId,
    layer: LayerId,
    deposit: Deposit,
    stroke: Stroke,
    pub(crate) guide: Guide,
    /// The step of the layer that it is; none for a new one.
    pub(crate) kept: Option<KeptStep>,
    /// The point that is held.
    pub(crate) grabbed: Option<usize>,
}

impl PathInHand {
    fn painted(&self) -> Arc<Step> {
        let stroke = Stroke { path: Path::Guided(self.guide.clone()), ..self.stroke.clone() };
        Arc::new(Step::Deposit { deposit: self.deposit.clone(), shape: Shape::Stroke(stroke) })
    }
}

impl Desk {
    /// Begins a path with the brush as it is, or keeps the one that is laid.
    pub(crate) fn draw_path(&mut self, pixels_per_point: f32) {
        if self.laying.is_some() {
            self.keep_path();
            return;
        }
        self.put_down();
        if let Some(refusal) = self.refusal() {
            self.tell_refusal(refusal);
            return;
        }
        let first = HandSample::mouse(self.model_view.rect.center(), 0.0);
        let does = self.brush.does;
        let kind = self.stroke_kind(does, super::View::Model, first, pixels_per_point);
        let (Some(kind), Some(target)) = (kind, self.stroke_target(does)) else { return };
        let start = self.stroke_start(super::View::Model, first, pixels_per_point);
        let guide = Guide { knots: Vec::new(), curve: Curve::Smooth, closed: false };
        let stroke = Stroke {
            kernel: KernelVersion::CURRENT,
            kind,
            path: Path::Guided(guide.clone()),
            brush: start.brush,
            seed: start.seed,
            left_out: start.left_out,
            symmetry: start.symmetry,
            stencil: start.stencil,
        };
        self.laying = Some(PathInHand {
            material: target.material,
            layer: target.layer,
            deposit: target.deposit,
            stroke,
            guide,
            kept: None,
            grabbed: None,
        });
    }

    /// Takes a path that was kept in hand again.
    pub(crate) fn take_path(&mut self, layer: LayerId, number: usize) {
        self.put_down();
        let Some(material) = self.material() else { return };
        let recipe = material.recipe(layer);
        let Some(painted) = recipe.steps.get(number) else { return };
        if let Step::Deposit { deposit, shape: Shape::Stroke(stroke) } = &*painted.step
            && let Path::Guided(guide) = &stroke.path
        {
            self.laying = Some(PathInHand {
                material: material.id,
                layer,
                deposit: deposit.clone(),
                stroke: stroke.clone(),
                guide: guide.clone(),
                kept: Some(KeptStep { number, was: Arc::clone(&painted.step), wanted: None }),
                grabbed: None,
            });
        }
    }

    /// The kept paths of the chosen layer: the number of the step, and the path.
    pub(crate) fn kept_paths(&self) -> Vec<(usize, Guide)> {
        let (Some(material), Some(layer)) = (self.material(), self.chosen.layer) else {
            return Vec::new();
        };
        let recipe = material.recipe(layer);
        let guided = |(number, painted): (usize, &document::RecipeStep)| match &*painted.step {
            Step::Deposit { shape: Shape::Stroke(stroke), .. } => match &stroke.path {
                Path::Guided(guide) => Some((number, guide.clone())),
                _ => None,
            },
            _ => None,
        };
        recipe.steps.iter().enumerate().filter_map(guided).collect()
    }

    /// A press on the model while a path is laid: takes hold of a point, or sets another one.
    pub(super) fn press_path(&mut self, at: Pos2, pixels_per_point: f32) -> Option<Motion> {
        let places = self.knot_places();
        let near = places.iter().position(|place| place.is_some_and(|p| p.distance(at) <= NEAR));
        if let Some(met) = self.met(at).filter(|_| near.is_none())
            && let Some(refusal) = self.refusal_at(met.part, met.material)
        {
            self.tell_refusal(refusal);
            return None;
        }
        let knot = if near.is_none() { Some(self.knot_at(at, pixels_per_point)?) } else { None };
        let path = self.laying.as_mut()?;
        if let Some(knot) = knot {
            path.guide.knots.push(knot);
        }
        path.grabbed = near.or(path.guide.knots.len().checked_sub(1));
        self.try_path();
        Some(Motion::MoveKnot)
    }

    /// Moves the point that is held.
    pub(super) fn drag_knot(&mut self, at: Pos2, pixels_per_point: f32) {
        let Some(knot) = self.knot_at(at, pixels_per_point) else { return };
        if let Some(path) = &mut self.laying
            && let Some(held) = path.grabbed.and_then(|held| path.guide.knots.get_mut(held))
        {
            *held = PathPoint { radius: held.radius, ..knot };
            self.try_path();
        }
    }

    /// Lets go of the point; a path that was kept before is painted again.
    pub(super) fn let_go_of_knot(&mut self) {
        if let Some(path) = &mut self.laying {
            path.grabbed = None;
        }
        self.repaint_path();
    }

    /// Where the points of the path are in the window.
    pub(crate) fn knot_places(&self) -> Vec<Option<Pos2>> {
        let Some(path) = &self.laying else { return Vec::new() };
        let view = &self.model_view;
        let place =
            |knot: &PathPoint| Some(view.place_of(view.camera.project(knot.position.as_dvec3())?));
        path.guide.knots.iter().map(place).collect()
    }

    fn knot_at(&self, at: Pos2, pixels_per_point: f32) -> Option<PathPoint> {
        let met: Met = self.met(at).filter(|met| met.material == self.chosen.material)?;
        let anchor = self.anchor(&met)?;
        let camera = &self.model_view.camera;
        let radius = match self.brush_size(pixels_per_point) {
            brush::BrushSize::Screen(px) => px * camera.units_per_px(camera.depth(met.position)),
            brush::BrushSize::Object(radius) => radius,
        };
        let surface = self.readiness.surface.as_ref()?;
        let on = surface.nearest_on(met.triangle, met.position);
        Some(PathPoint {
            part: met.part,
            triangle: met.triangle,
            barycentric: on.barycentric.map(|b| b as f32),
            position: met.position.as_vec3(),
            normal: anchor.normal.as_vec3(),
            radius: radius as f32,
            pressure: 1.0,
            lean: glam::Vec3::ZERO,
            speed: 0.0,
        })
    }

    /// Changes how the path goes.
    pub(crate) fn change_path(&mut self, change: impl FnOnce(&mut Guide)) {
        if let Some(path) = &mut self.laying {
            change(&mut path.guide);
        }
        self.try_path();
        self.repaint_path();
    }

    /// Takes the last point of a new path back; false where there is none.
    pub(crate) fn drop_last_knot(&mut self) -> bool {
        let path = self.laying.as_mut().filter(|path| path.kept.is_none());
        if path.and_then(|path| path.guide.knots.pop()).is_none() {
            return false;
        }
        self.try_path();
        true
    }

    /// Shows a new path as it would be painted.
    fn try_path(&mut self) {
        let Some(path) = self.laying.as_ref().filter(|path| path.kept.is_none()) else { return };
        if path.guide.knots.is_empty() {
            self.drop_tried();
        } else {
            self.try_out(path.layer, path.painted());
        }
    }

    /// Paints the layer of a path that was kept before again, where it is another one now.
    pub(crate) fn repaint_path(&mut self) {
        let Some(path) = &self.laying else { return };
        let Some(kept) = path.kept.clone() else { return };
        let kept = self.repaint_kept(path.layer, kept, path.painted());
        match &mut self.laying {
            Some(path) if kept.is_some() => path.kept = kept,
            path => *path = None,
        }
    }

    /// Takes a kept path, and what it painted, away.
    pub(crate) fn remove_path(&mut self, layer: LayerId, number: usize) {
        self.put_down();
        self.repaint(layer, number, None);
    }

    /// Puts another step in the place of one, and paints the layer again, in the background.
    pub(super) fn repaint(&mut self, layer: LayerId, step: usize, with: Option<Arc<Step>>) {
        let change = MaterialEdit::Layer(layer, LayerEdit::Repaint { step, with });
        match self.editor.start_edit(self.chosen.material, change) {
            Ok(job) => {
                self.tasks.add(REPAINTS, job, |desk, made| {
                    if let Err(error) = desk.editor.take_over(made) {
                        desk.notices.error(error);
                    }
                    desk.settle();
                });
            }
            Err(error) => self.notices.error(error),
        }
    }

    /// Makes the path an edit.
    pub(crate) fn keep_path(&mut self) {
        let Some(path) = self.laying.take() else { return };
        if path.kept.is_none() {
            self.keep_tried();
        }
    }

    /// Gives a new path up, or lets a kept one be; false where none is in hand.
    pub(crate) fn drop_path(&mut self) -> bool {
        let Some(path) = self.laying.take() else { return false };
        if path.kept.is_none() {
            self.drop_tried();
        }
        true
    }
}
