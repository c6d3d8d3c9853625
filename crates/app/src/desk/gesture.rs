//! A drag in one of the views: what it was begun as, and what each move of it does.

use std::f64::consts::{FRAC_PI_2, PI};

use brush::Camera;
use egui::{Modifiers, PointerButton, Pos2, Vec2};
use glam::{DVec2, DVec3};
use viewport::navigation;

use super::{Desk, Met, View};
use crate::brush_in_hand::{BrushInHand, Pick};
use crate::hand::{Deed, HandSample};
use crate::tool::Tool;

/// What a drag does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Motion {
    /// Paints.
    Paint,
    /// Turns the view about a point.
    Orbit {
        /// In model units.
        pivot: DVec3,
    },
    /// Moves the view: the point stays under the pointer.
    Pan {
        /// In model units.
        point: DVec3,
    },
    /// Turns and raises the key light.
    TurnLight,
    /// Moves the flat texture.
    PanFlat,
    /// Moves a point of the path.
    MoveKnot,
    /// Moves the decal.
    MoveDecal,
    /// Draws a line round something.
    Lasso,
    /// Draws a gradient.
    Gradient,
    /// Makes the brush larger or smaller, and its edge harder or softer.
    SizeBrush {
        /// Where it began: the brush's ring stays there.
        at: Pos2,
    },
}

/// A drag that goes on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Gesture {
    /// Where it began.
    pub(crate) view: View,
    /// What is held down.
    pub(crate) button: PointerButton,
    /// What it does.
    pub(crate) motion: Motion,
    /// Where the pointer was first.
    first: Pos2,
    /// It has gone no further from there than a hand trembles.
    is_click: bool,
    /// Where the pointer was last.
    last: Pos2,
    /// The last pass in which its view was there.
    shown_in: u64,
}

/// A key that changes what a drag does, as long as it is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Held {
    /// None is.
    #[default]
    Nothing,
    /// It turns the view.
    Turn,
    /// It turns the light.
    Light,
    /// It sets the brush's size.
    Size,
}

/// A press that goes no further, in points, is a click.
const TREMBLE: f32 = 4.0;
/// The drag, in points, that makes a brush as much larger as e is more than 1.
const SIZE_DRAG: f64 = 120.0;
/// The drag, in points, from the softest edge to the hardest.
const HARDNESS_DRAG: f32 = 240.0;

impl Desk {
    /// Takes what the hand did in a frame. `is_struck`: a press of this frame is this view's, and nothing's that lies
    /// over it.
    pub(crate) fn take_deeds(
        &mut self,
        view: View,
        deeds: &[Deed],
        is_struck: bool,
        held: Held,
        pixels_per_point: f32,
    ) {
        for deed in deeds {
            match *deed {
                Deed::Down { button, sample, modifiers } if is_struck && self.gesture.is_none() => {
                    let motion = match view {
                        View::Model => {
                            self.press_model(button, sample, modifiers, held, pixels_per_point)
                        }
                        View::Flat => {
                            self.press_flat(button, sample, modifiers, held, pixels_per_point)
                        }
                    };
                    let at = sample.position;
                    let begun = |motion| Gesture {
                        view,
                        button,
                        motion,
                        first: at,
                        is_click: true,
                        last: at,
                        shown_in: 0,
                    };
                    self.gesture = motion.map(begun);
                }
                Deed::Move(sample) => {
                    if self.gesture.is_some_and(|on| on.motion == Motion::MoveKnot) {
                        self.drag_knot(sample.position, pixels_per_point);
                    }
                    if self.gesture.is_some_and(|on| on.motion == Motion::MoveDecal) {
                        self.drag_decal(sample.position);
                    }
                    self.drag(view, sample);
                }
                Deed::Up { button, sample } => {
                    if self.gesture.is_some_and(|on| on.view == view && on.button == button) {
                        self.drag_to_end(view, sample);
                        if button == PointerButton::Secondary
                            && self.gesture.is_some_and(|on| on.is_click)
                        {
                            self.at_pointer.toggle();
                        }
                        self.let_go(view);
                    }
                }
                Deed::Gone => self.let_go(view),
                Deed::Down { .. } => {}
            }
        }
    }

    /// What a press on the model begins.
    fn press_model(
        &mut self,
        button: PointerButton,
        sample: HandSample,
        modifiers: Modifiers,
        held: Held,
        pixels_per_point: f32,
    ) -> Option<Motion> {
        let at = sample.position;
        match button {
            PointerButton::Primary if held == Held::Size => Some(Motion::SizeBrush { at }),
            PointerButton::Primary if held == Held::Light => Some(Motion::TurnLight),
            PointerButton::Primary if held == Held::Turn && modifiers.shift => {
                Some(self.pan_at(at))
            }
            PointerButton::Primary if held == Held::Turn => Some(self.orbit_at(at)),
            PointerButton::Primary => self.press_brush(sample, modifiers, pixels_per_point),
            PointerButton::Secondary if modifiers.shift => Some(self.pan_at(at)),
            PointerButton::Secondary => Some(self.orbit_at(at)),
            PointerButton::Middle => Some(self.pan_at(at)),
            PointerButton::Extra1 | PointerButton::Extra2 => None,
        }
    }

    /// Paints on the model, or within the brush's radius of it; on empty ground orbits, where that is wanted.
    fn press_brush(
        &mut self,
        sample: HandSample,
        modifiers: Modifiers,
        pixels_per_point: f32,
    ) -> Option<Motion> {
        if self.decal.is_some() {
            return self.press_decal(sample.position);
        }
        if self.laying.is_some() {
            return self.press_path(sample.position, pixels_per_point);
        }
        if self.brush.picking == Some(Pick::Source) {
            self.pick_source(View::Model, sample.position);
            return None;
        }
        if self.brush.picking.is_some() {
            self.hover_model(sample.position, pixels_per_point);
            self.pick_under_pointer();
            return None;
        }
        if self.tool.tool != Tool::Brush {
            return self.press_tool(View::Model, sample, modifiers);
        }
        let met = self.met(sample.position);
        let takes_paint = |met: &Met| {
            met.material == self.chosen.material && !self.model_view.part(met.part).locked
        };
        let reaches = met.is_some_and(|met| takes_paint(&met))
            || self.met_around(sample.position, pixels_per_point).any(|met| takes_paint(&met));
        if reaches {
            self.begin_stroke(View::Model, sample, modifiers.shift, pixels_per_point);
            return self.stroke.as_ref().map(|_| Motion::Paint);
        }
        if let Some(met) = met {
            if let Some(refusal) = self.refusal_at(met.part, met.material) {
                self.tell_refusal(refusal);
            }
            return None;
        }
        self.preferences
            .ground_orbits
            .then_some(Motion::Orbit { pivot: self.model_view.camera.target })
    }

    /// What a press on the flat texture begins.
    fn press_flat(
        &mut self,
        button: PointerButton,
        sample: HandSample,
        modifiers: Modifiers,
        held: Held,
        pixels_per_point: f32,
    ) -> Option<Motion> {
        match button {
            PointerButton::Primary if held == Held::Size => {
                Some(Motion::SizeBrush { at: sample.position })
            }
            PointerButton::Primary if held == Held::Turn => Some(Motion::PanFlat),
            PointerButton::Primary if self.brush.picking == Some(Pick::Source) => {
                self.pick_source(View::Flat, sample.position);
                None
            }
            PointerButton::Primary if self.brush.picking.is_some() => {
                self.hover_flat(sample.position, pixels_per_point);
                self.pick_under_pointer();
                None
            }
            PointerButton::Primary if self.tool.tool != Tool::Brush => {
                self.press_tool(View::Flat, sample, modifiers)
            }
            PointerButton::Primary => {
                self.begin_stroke(View::Flat, sample, modifiers.shift, pixels_per_point);
                self.stroke.as_ref().map(|_| Motion::Paint)
            }
            PointerButton::Secondary | PointerButton::Middle => Some(Motion::PanFlat),
            PointerButton::Extra1 | PointerButton::Extra2 => None,
        }
    }

    fn orbit_at(&self, at: Pos2) -> Motion {
        let pivot = self.met(at).map_or(self.model_view.camera.target, |met| met.position);
        Motion::Orbit { pivot }
    }

    fn pan_at(&self, at: Pos2) -> Motion {
        Motion::Pan { point: self.point_at(at) }
    }

    /// What is seen at a place: a point of the surface, or of the plane through the camera's target.
    pub(crate) fn point_at(&self, at: Pos2) -> DVec3 {
        let camera = &self.model_view.camera;
        let met = self.met(at).map(|met| met.position);
        met.unwrap_or_else(|| on_target_plane(camera, self.model_view.pixel(at)))
    }

    fn drag(&mut self, view: View, sample: HandSample) {
        let Some(gesture) = self.gesture.filter(|gesture| gesture.view == view) else { return };
        if gesture.motion == Motion::Paint {
            self.extend_stroke(sample);
        } else {
            self.drag_to_end(view, sample);
        }
    }

    /// Moves the view or the light. The last report of a lifted pen paints nothing: it has no pressure.
    fn drag_to_end(&mut self, view: View, sample: HandSample) {
        let Some(gesture) = self.gesture.as_mut().filter(|gesture| gesture.view == view) else {
            return;
        };
        let (before, motion) = (gesture.last, gesture.motion);
        gesture.last = sample.position;
        gesture.is_click &= gesture.first.distance(sample.position) <= TREMBLE;
        match motion {
            Motion::Lasso => return self.draw_lasso(sample.position),
            Motion::Gradient => return self.draw_gradient(view, sample.position),
            _ => {}
        }
        let model = &mut self.model_view;
        let by_px = model.pixel(sample.position) - model.pixel(before);
        let by_points = sample.position - before;
        let camera = &model.camera;
        match motion {
            Motion::Paint if sample.pressure > 0.0 && sample.position != before => {
                self.extend_stroke(sample);
            }
            Motion::Paint
            | Motion::MoveKnot
            | Motion::MoveDecal
            | Motion::Lasso
            | Motion::Gradient => {}
            Motion::Orbit { pivot } => {
                let [turn, raise] = turned_by(by_px, camera);
                model.camera = navigation::orbit(camera, pivot, -turn, raise);
            }
            Motion::Pan { point } => {
                model.camera = navigation::pan(camera, point, model.pixel(sample.position));
            }
            Motion::TurnLight => {
                let [turn, raise] = turned_by(by_px, camera);
                let key = &mut model.lighting.key;
                key.azimuth_rad = wrapped(f64::from(key.azimuth_rad) + turn);
                let raised = f64::from(key.elevation_rad) - raise;
                key.elevation_rad = raised.clamp(0.0, FRAC_PI_2) as f32;
            }
            Motion::SizeBrush { .. } => self.brush.resize(by_points),
            Motion::PanFlat => {
                let by_px = self.flat_view.pixel(sample.position) - self.flat_view.pixel(before);
                self.flat_view.pan(by_px);
            }
        }
    }

    /// Ends whatever goes on in a view.
    pub(crate) fn let_go(&mut self, view: View) {
        match self.gesture.take_if(|gesture| gesture.view == view).map(|gesture| gesture.motion) {
            Some(Motion::Paint) => self.end_stroke(),
            Some(Motion::MoveKnot) => self.let_go_of_knot(),
            Some(Motion::MoveDecal) => self.repaint_decal(),
            Some(Motion::Lasso) => self.close_lasso(view),
            Some(Motion::Gradient) => self.end_gradient(),
            _ => {}
        }
    }

    /// Once a pass, in each view that is there: goes on with what is done in it.
    pub(crate) fn go_on(&mut self, view: View, pass: u64) {
        if let Some(gesture) = self.gesture.as_mut().filter(|gesture| gesture.view == view) {
            gesture.shown_in = pass;
            self.stroke_frame();
            self.try_gradient();
        }
    }

    /// At the end of a pass: what was done in a view that has been put away ends as if the pen were lifted.
    pub(crate) fn end_in_lost_view(&mut self, pass: u64) {
        if let Some(gesture) = self.gesture.filter(|gesture| gesture.shown_in != pass) {
            self.let_go(gesture.view);
        }
    }

    /// A second finger came, or Escape: what was begun was not meant.
    pub(crate) fn take_back_gesture(&mut self) {
        match self.gesture.take().map(|gesture| gesture.motion) {
            Some(Motion::Paint) => {
                self.cancel_stroke();
            }
            Some(Motion::Lasso) => self.lasso = None,
            Some(Motion::Gradient) => {
                self.gradient = None;
                self.drop_tried();
            }
            _ => {}
        }
    }

    /// Goes to what is seen at a place, or away from it; it stays where it is in the picture.
    pub(crate) fn dolly_at(&mut self, at: Pos2, factor: f64) {
        let point = self.point_at(at);
        let camera = &self.model_view.camera;
        self.model_view.camera = navigation::dolly(camera, point, factor);
    }

    /// Moves the model along the picture by points of the window, as two fingers do.
    pub(crate) fn pan_by(&mut self, at: Pos2, by: Vec2) {
        let point = self.point_at(at);
        let to = self.model_view.pixel(at + by);
        self.model_view.camera = navigation::pan(&self.model_view.camera, point, to);
    }
}

impl BrushInHand {
    /// As a drag by so many points asks: across is the size, up the hardness.
    fn resize(&mut self, by: Vec2) {
        self.scale((f64::from(by.x) / SIZE_DRAG).exp());
        let hardness = &mut self.settings.hardness;
        *hardness = (*hardness - by.y / HARDNESS_DRAG).clamp(0.0, 1.0);
    }
}

/// Half a turn for a drag as long as the view is high.
fn turned_by(by_px: DVec2, camera: &Camera) -> [f64; 2] {
    (by_px * (PI / camera.viewport_px.y)).to_array()
}

/// An angle from -pi to pi.
pub(crate) fn wrapped(angle: f64) -> f32 {
    ((angle + PI).rem_euclid(2.0 * PI) - PI) as f32
}

/// The point at a pixel position that lies as deep as the camera's target.
fn on_target_plane(camera: &Camera, at_px: DVec2) -> DVec3 {
    let ray = camera.ray(at_px);
    let (near, along) = (camera.depth(ray.origin), camera.depth(ray.origin + ray.direction));
    let reach = (camera.depth(camera.target) - near) / (along - near).max(1e-12);
    ray.origin + ray.direction * reach
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::ModelViewState;

    #[test]
    fn a_point_on_the_targets_plane_is_seen_where_it_was_asked_for() {
        let camera = ModelViewState::default().camera;
        for camera in [camera, navigation::orthographic(&camera)] {
            for at in [DVec2::new(10.0, 20.0), DVec2::new(600.0, 400.0)] {
                let point = on_target_plane(&camera, at);
                assert!((camera.project(point).unwrap() - at).length() < 1e-6);
                assert!((camera.depth(point) - camera.depth(camera.target)).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn a_drag_across_makes_the_brush_larger_and_one_up_harder() {
        let mut brush = BrushInHand::new(&layers::standard_channels());
        let before = (brush.radius_points, brush.settings.hardness);
        brush.resize(Vec2::new(60.0, 0.0));
        brush.resize(Vec2::new(60.0, -24.0));
        // There and back is as it was.
        assert!((brush.radius_points / before.0 - std::f64::consts::E).abs() < 1e-9);
        assert!((brush.settings.hardness - before.1 - 0.1).abs() < 1e-6);
        brush.resize(Vec2::new(-120.0, 24.0));
        assert!((brush.radius_points - before.0).abs() < 1e-9);
        brush.resize(Vec2::new(0.0, 1e6));
        assert!(brush.settings.hardness == 0.0 && brush.settings.check().is_ok());
    }

    #[test]
    fn an_angle_stays_within_half_a_turn_of_nothing() {
        for (angle, expected) in [(0.0, 0.0), (PI + 0.1, -PI + 0.1), (-7.0 * PI + 0.2, -PI + 0.2)] {
            assert!((f64::from(wrapped(angle)) - expected).abs() < 1e-6, "{angle}");
        }
    }
}
