//! A gradient that is drawn over a view: tried out at each frame, and kept when it is let go.

use std::sync::Arc;

use brush::{Fade, FillScope, Gradient};
use document::{Shape, Step};
use egui::Pos2;
use glam::{DVec2, DVec3};
use layers::LayerId;
use surface::TriangleId;

use super::{Desk, Motion, View};
use crate::tool::Way;

/// A gradient that is being drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct GradientInHand {
    /// Where it was begun and where it is, in points of the window.
    pub(crate) line: [Pos2; 2],
    /// Where it is full, in model units.
    from: DVec3,
    /// Where it is nothing.
    to: DVec3,
    /// It is not what is shown.
    waits: bool,
}

impl Desk {
    pub(super) fn begin_gradient(&mut self, view: View, at: Pos2) -> Option<Motion> {
        let found = match view {
            View::Model => Some(self.point_at(at)),
            View::Flat => self.point_on_texture(at),
        };
        let Some(from) = found else {
            self.notices.note("There is nothing of the model here: begin on an island");
            return None;
        };
        self.gradient = Some(GradientInHand { line: [at; 2], from, to: from, waits: false });
        Some(Motion::Gradient)
    }

    /// The gradient ends elsewhere.
    pub(super) fn draw_gradient(&mut self, view: View, at: Pos2) {
        let Some(GradientInHand { from, .. }) = self.gradient else { return };
        let to = match view {
            View::Model => Some(self.beside(from, at)),
            View::Flat => self.point_on_texture(at),
        };
        if let (Some(gradient), Some(to)) = (&mut self.gradient, to) {
            gradient.line[1] = at;
            gradient.waits |= to != gradient.to;
            gradient.to = to;
        }
    }

    /// The point seen at a place of the model view that lies as deep as another one.
    fn beside(&self, point: DVec3, at: Pos2) -> DVec3 {
        let camera = &self.model_view.camera;
        let ray = camera.ray(self.model_view.pixel(at));
        let (near, along) = (camera.depth(ray.origin), camera.depth(ray.origin + ray.direction));
        let reach = (camera.depth(point) - near) / (along - near).max(1e-12);
        ray.origin + ray.direction * reach
    }

    /// The point of the surface that the flat view shows at a place.
    fn point_on_texture(&self, at: Pos2) -> Option<DVec3> {
        let uv = self.flat_view.camera.uv(self.flat_view.pixel(at));
        let triangle = self.owner_of(uv)?;
        let surface = self.readiness.surface.as_ref()?;
        let weights = weights(surface.uvs_of(triangle)?, uv)?;
        Some(surface.position(TriangleId(triangle.0), weights))
    }

    /// Once a frame: shows the gradient as it was drawn so far.
    pub(super) fn try_gradient(&mut self) {
        let Some(gradient) = self.gradient.as_mut().filter(|gradient| gradient.waits) else {
            return;
        };
        gradient.waits = false;
        let (from, to) = (gradient.from, gradient.to);
        let Some((layer, step)) = self.gradient_step(from, to) else {
            self.drop_tried();
            return;
        };
        self.try_out(layer, step);
    }

    /// The gradient stays as it is.
    pub(super) fn end_gradient(&mut self) {
        self.try_gradient();
        self.gradient = None;
        self.keep_tried();
    }

    /// None for one of no length.
    fn gradient_step(&self, from: DVec3, to: DVec3) -> Option<(LayerId, Arc<Step>)> {
        let fade = match self.tool.way {
            Way::Linear => Fade::Linear { from: from.as_vec3(), to: to.as_vec3() },
            Way::Radial => {
                Fade::Radial { centre: from.as_vec3(), radius: from.distance(to) as f32 }
            }
            Way::Along(axis) => {
                let on_axis = |point: DVec3| point.dot(axis.direction()) as f32;
                Fade::Axis { axis, from: on_axis(from), to: on_axis(to) }
            }
        };
        let gradient = Gradient {
            fade,
            easing: self.tool.easing,
            opacity: self.brush.settings.opacity,
            scope: FillScope::Material,
            left_out: self.model_view.left_out(),
        };
        gradient.check().ok()?;
        let target = self.stroke_target(self.brush.does)?;
        let shape = Shape::Gradient(gradient);
        let step = Arc::new(Step::Deposit { deposit: target.deposit, shape });
        Some((target.layer, step))
    }
}

/// Weights of a triangle's corners at a point of its plane; none where it has no area.
fn weights([a, b, c]: [DVec2; 3], at: DVec2) -> Option<[f64; 3]> {
    let area = (b - a).perp_dot(c - a);
    let second = (at - a).perp_dot(c - a) / area;
    let third = (b - a).perp_dot(at - a) / area;
    (area != 0.0).then_some([1.0 - second - third, second, third])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_give_the_point_back_and_none_where_there_is_no_area() {
        let corners = [DVec2::new(0.1, 0.2), DVec2::new(0.9, 0.3), DVec2::new(0.4, 0.8)];
        let at = DVec2::new(0.5, 0.4);
        let [a, b, c] = weights(corners, at).unwrap();
        let back = corners[0] * a + corners[1] * b + corners[2] * c;
        assert!((back - at).length() < 1e-12 && (a + b + c - 1.0).abs() < 1e-12);
        assert_eq!(weights([DVec2::ZERO, DVec2::ONE, DVec2::splat(2.0)], at), None);
    }
}
