//! Where a gesture was seen from. Pixels count from the viewport's top left, y down.

use glam::{DVec2, DVec3, DVec4};
use surface::Ray;

use crate::BrushError;

/// How the camera projects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Projection {
    /// With a full vertical angle of view in radians.
    Perspective {
        /// 0 < angle < pi.
        fov_y_rad: f64,
    },
    /// Parallel, showing this many model units from bottom to top.
    Orthographic {
        /// More than 0.
        height: f64,
    },
}

/// A camera and its viewport.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Where it stands, in model units.
    pub eye: DVec3,
    /// A point that it looks at; not the eye.
    pub target: DVec3,
    /// Roughly up; not along the view.
    pub up: DVec3,
    /// How it projects.
    pub projection: Projection,
    /// Width and height of the viewport in pixels.
    pub viewport_px: DVec2,
}

impl Camera {
    /// # Errors
    /// [`BrushError::Setting`] naming what of the camera sees nothing: a number that is not finite, an eye at its
    /// target, an angle or a height out of range, a viewport of no size.
    pub fn check(&self) -> Result<(), BrushError> {
        let refused = |what, value, range| Err(BrushError::Setting { what, value, range });
        let vectors = [self.eye, self.target, self.up, self.viewport_px.extend(0.0)];
        if let Some(wrong) = vectors.into_iter().find(|vector| !vector.is_finite()) {
            return refused("camera", wrong.x, "finite numbers");
        }
        let away = self.eye.distance(self.target);
        if !(away > 0.0 && away.is_finite()) {
            return refused("distance of the camera's eye from its target", away, "more than 0");
        }
        if self.viewport_px.min_element() <= 0.0 {
            return refused("viewport", self.viewport_px.min_element(), "more than 0 pixels");
        }
        match self.projection {
            Projection::Perspective { fov_y_rad }
                if !(fov_y_rad > 0.0 && fov_y_rad < std::f64::consts::PI) =>
            {
                refused("angle of view", fov_y_rad, "more than 0 and less than pi, in radians")
            }
            Projection::Orthographic { height } if !(height > 0.0 && height.is_finite()) => {
                refused("height of the view", height, "more than 0")
            }
            _ => Ok(()),
        }
    }

    fn axes(&self) -> (DVec3, DVec3, DVec3) {
        let forward = (self.target - self.eye).normalize_or(DVec3::NEG_Z);
        let right = forward.cross(self.up).normalize_or(forward.any_orthonormal_vector());
        (right, right.cross(forward), forward)
    }

    /// The ray through a pixel position; its direction has unit length.
    pub fn ray(&self, position_px: DVec2) -> Ray {
        let (right, up, forward) = self.axes();
        let x = (position_px.x * 2.0 - self.viewport_px.x) / self.viewport_px.y;
        let y = 1.0 - position_px.y * 2.0 / self.viewport_px.y;
        match self.projection {
            Projection::Perspective { fov_y_rad } => {
                let reach = libm::tan(fov_y_rad * 0.5);
                let direction = forward + right * (x * reach) + up * (y * reach);
                Ray { origin: self.eye, direction: direction.normalize_or(forward) }
            }
            Projection::Orthographic { height } => {
                let origin = self.eye + (right * x + up * y) * (height * 0.5);
                Ray { origin, direction: forward }
            }
        }
    }

    /// The pixel position at which a point is seen; `None` behind a perspective camera.
    pub fn project(&self, point: DVec3) -> Option<DVec2> {
        let (right, up, forward) = self.axes();
        let from_eye = point - self.eye;
        let depth = from_eye.dot(forward);
        let half_height = match self.projection {
            Projection::Perspective { fov_y_rad } => depth * libm::tan(fov_y_rad * 0.5),
            Projection::Orthographic { height } => height * 0.5,
        };
        (half_height > 0.0).then(|| {
            let x = from_eye.dot(right) / half_height;
            let y = from_eye.dot(up) / half_height;
            (DVec2::new(x, -y) * self.viewport_px.y + self.viewport_px) * 0.5
        })
    }

    /// The rows of a matrix that takes a point (x, y, z, 1) to its pixel position times w, and w; that is more than 0
    /// for what lies before the camera.
    pub(crate) fn pixel_rows(&self) -> [DVec4; 3] {
        let (right, up, forward) = self.axes();
        let row = |axis: DVec3| axis.extend(-axis.dot(self.eye));
        let half_height = match self.projection {
            Projection::Perspective { fov_y_rad } => row(forward) * libm::tan(fov_y_rad * 0.5),
            Projection::Orthographic { height } => DVec4::W * (height * 0.5),
        };
        let middle = self.viewport_px * 0.5;
        [
            row(right) * middle.y + half_height * middle.x,
            row(-up) * middle.y + half_height * middle.y,
            half_height,
        ]
    }

    /// A direction of the screen, y down, as one in model space.
    pub(crate) fn across(&self, on_screen: DVec2) -> DVec3 {
        let (right, up, _) = self.axes();
        right * on_screen.x - up * on_screen.y
    }

    /// How far a point lies in front of the eye, along the view, in model units.
    pub fn depth(&self, point: DVec3) -> f64 {
        (point - self.eye).dot(self.axes().2)
    }

    /// The length in model units that one pixel spans at a depth.
    pub fn units_per_px(&self, depth: f64) -> f64 {
        match self.projection {
            Projection::Perspective { fov_y_rad } => {
                2.0 * depth * libm::tan(fov_y_rad * 0.5) / self.viewport_px.y
            }
            Projection::Orthographic { height } => height / self.viewport_px.y,
        }
    }

    /// A point from which everything that the camera sees is seen: the eye, or far back for a parallel camera.
    pub fn viewpoint(&self, model_diagonal: f64) -> DVec3 {
        match self.projection {
            Projection::Perspective { .. } => self.eye,
            Projection::Orthographic { height } => {
                self.target - self.axes().2 * (1000.0 * (model_diagonal + height))
            }
        }
    }
}

/// How the flat view lays the texture on the screen: u to the right, v down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlatCamera {
    /// The UV at the viewport's top left.
    pub top_left: DVec2,
    /// What one pixel spans, in UV units (1 is the texture's edge); more than 0.
    pub uv_per_px: f64,
}

impl FlatCamera {
    /// The UV at a pixel position.
    pub fn uv(&self, position_px: DVec2) -> DVec2 {
        self.top_left + position_px * self.uv_per_px
    }

    /// As [`Camera::pixel_rows`], of a point (u, v, 0, 1).
    pub(crate) fn pixel_rows(&self) -> [DVec4; 3] {
        let scale = 1.0 / self.uv_per_px;
        let from = -self.top_left * scale;
        [DVec4::new(scale, 0.0, 0.0, from.x), DVec4::new(0.0, scale, 0.0, from.y), DVec4::W]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_is_seen_where_its_ray_goes() {
        for projection in
            [Projection::Perspective { fov_y_rad: 0.7 }, Projection::Orthographic { height: 3.0 }]
        {
            let camera = Camera {
                eye: DVec3::new(1.8, 1.6, 2.4),
                target: DVec3::ZERO,
                up: DVec3::Y,
                projection,
                viewport_px: DVec2::new(800.0, 600.0),
            };
            for position in
                [DVec2::new(10.0, 20.0), DVec2::new(400.0, 300.0), DVec2::new(777.0, 590.0)]
            {
                let ray = camera.ray(position);
                let seen = camera.project(ray.origin + ray.direction * 2.5).unwrap();
                assert!((seen - position).length() < 1e-9, "{seen} against {position}");
                let point = (ray.origin + ray.direction * 2.5).extend(1.0);
                let [x, y, w] = camera.pixel_rows().map(|row| row.dot(point));
                assert!((DVec2::new(x, y) / w - position).length() < 1e-9 && w > 0.0);
            }
        }
    }
}
