//! From a gesture to a path on the surface, by ray casting, or on the flat texture.

use glam::{DVec3, Vec3};
use surface::Surface;

use crate::trace::{Trace, View, add_to_runs};
use crate::{
    BrushError, BrushSize, Camera, FlatCamera, Gesture, LeftOut, PathPoint, ScreenPoint,
    SurfacePath, TexturePoint,
};

/// Casts the steadied gesture onto the surface. The path breaks where the pen leaves the model, and
/// where depth jumps by more than the brush's diameter between neighbouring points.
///
/// # Errors
/// [`BrushError`] for a gesture that is not valid. A gesture that meets nothing gives a path without runs.
pub fn resolve(gesture: &Gesture, surface: &Surface) -> Result<SurfacePath, BrushError> {
    gesture.check()?;
    let bounds = surface.mesh().bounds();
    let Gesture { camera, size, left_out, .. } = gesture;
    let view = ModelView { camera: *camera, size: *size, surface, bounds, left_out };
    let mut runs = Vec::new();
    let mut trace = Trace::new(gesture.smoothing, &view);
    for sample in &gesture.samples {
        trace.push(sample, &view, &mut |further| add_to_runs(&mut runs, further));
    }
    trace.finish(&view, &mut |further| add_to_runs(&mut runs, further));
    Ok(SurfacePath { runs, eye: Some(view.eye()) })
}

/// The surface, seen by a camera.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ModelView<'a> {
    pub(crate) camera: Camera,
    pub(crate) size: BrushSize,
    pub(crate) surface: &'a Surface,
    /// The lowest and the highest corner of the mesh: looked up once, it takes a look at every point.
    pub(crate) bounds: (Vec3, Vec3),
    /// The pen goes through hidden parts.
    pub(crate) left_out: &'a LeftOut,
}

impl ModelView<'_> {
    pub(crate) fn eye(&self) -> DVec3 {
        let (low, high) = self.bounds;
        self.camera.viewpoint(f64::from((high - low).length()))
    }
}

impl View for ModelView<'_> {
    type Point = PathPoint;

    fn look_up(&self, point: ScreenPoint) -> Option<PathPoint> {
        let Self { camera, surface, .. } = self;
        let ray = camera.ray(point.position_px);
        let hit = surface.raycast_where(&ray, |part| !self.left_out.hides(part))?;
        let position: DVec3 = surface.position(hit.triangle, hit.barycentric);
        let normal = surface.smooth_normal(hit.triangle, hit.barycentric);
        let facing = surface.geometric_normal(hit.triangle).dot(ray.direction) <= 0.0;
        let radius = match self.size {
            BrushSize::Screen(radius_px) => radius_px * camera.units_per_px(camera.depth(position)),
            BrushSize::Object(radius) => radius,
        };
        Some(PathPoint {
            part: surface.part_of(hit.triangle),
            triangle: hit.triangle,
            barycentric: hit.barycentric.map(|b| b as f32),
            position: position.as_vec3(),
            normal: if facing { normal } else { -normal }.as_vec3(),
            radius: radius as f32,
            pressure: point.pressure as f32,
            lean: camera.across(point.lean).as_vec3(),
            speed: speed(point.speed_px, radius / camera.units_per_px(camera.depth(position))),
        })
    }

    /// Where depth jumps by more than the brush's diameter.
    fn breaks(&self, before: &PathPoint, next: &PathPoint) -> bool {
        let depth = |point: &PathPoint| self.camera.depth(point.position.as_dvec3());
        (depth(next) - depth(before)).abs() > 2.0 * f64::from(next.radius)
    }

    fn step_px(&self) -> f64 {
        step_px(match self.size {
            BrushSize::Screen(radius_px) => radius_px,
            BrushSize::Object(radius) => {
                let (low, high) = self.bounds;
                let depth = self.camera.depth(((low + high) * 0.5).as_dvec3());
                radius / self.camera.units_per_px(depth.max(1e-9))
            }
        })
    }
}

/// The texture, laid flat.
#[derive(Debug, Clone, Copy)]
pub(crate) struct FlatView {
    pub(crate) camera: FlatCamera,
    /// In UV units.
    pub(crate) radius: f64,
}

impl View for FlatView {
    type Point = TexturePoint;

    fn look_up(&self, point: ScreenPoint) -> Option<TexturePoint> {
        let uv = self.camera.uv(point.position_px).as_vec2();
        Some(TexturePoint {
            uv,
            radius: self.radius as f32,
            pressure: point.pressure as f32,
            lean: point.lean.as_vec2(),
            speed: speed(point.speed_px, self.radius / self.camera.uv_per_px),
        })
    }

    fn breaks(&self, _before: &TexturePoint, _next: &TexturePoint) -> bool {
        false
    }

    fn step_px(&self) -> f64 {
        step_px(self.radius / self.camera.uv_per_px)
    }
}

/// The speed, in radii a second, that counts as a half.
pub const HALF_SPEED: f64 = 20.0;

/// A speed as a number of 0..1 that nears 1.
fn speed(speed_px: f64, radius_px: f64) -> f32 {
    let radii = speed_px / radius_px;
    if radii.is_finite() { (radii / (radii + HALF_SPEED)) as f32 } else { 0.0 }
}

/// A tenth of the radius, and from a third of a pixel to eight.
fn step_px(radius_px: f64) -> f64 {
    (radius_px * 0.1).clamp(0.34, 8.0)
}
