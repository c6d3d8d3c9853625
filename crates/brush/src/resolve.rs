//! From a gesture to a path on the surface, by ray casting.

use glam::DVec3;
use surface::Surface;

use crate::smoothing::{ScreenPoint, smoothed, spaced_evenly};
use crate::{BrushError, BrushSize, Gesture, PathPoint, SurfacePath};

/// Casts the steadied gesture onto the surface. The path breaks where the pen leaves the model, and
/// where depth jumps by more than the brush's diameter between neighbouring points.
///
/// # Errors
/// [`BrushError`] for a gesture that is not valid. A gesture that meets nothing gives a path without runs.
pub fn resolve(gesture: &Gesture, surface: &Surface) -> Result<SurfacePath, BrushError> {
    gesture.check()?;
    let (low, high) = surface.mesh().bounds();
    let diagonal = f64::from((high - low).length());
    let points = smoothed(&gesture.samples, gesture.smoothing);
    let mut runs: Vec<Vec<PathPoint>> = Vec::new();
    let mut depth_before = None;
    for point in spaced_evenly(&points, step_px(gesture, surface)) {
        let Some(hit) = cast(gesture, surface, point) else {
            depth_before = None;
            continue;
        };
        let depth = gesture.camera.depth(hit.position.as_dvec3());
        let jumps = |before: f64| (depth - before).abs() > 2.0 * f64::from(hit.radius);
        if depth_before.is_none_or(jumps) {
            runs.push(Vec::new());
        }
        depth_before = Some(depth);
        if let Some(run) = runs.last_mut() {
            run.push(hit);
        }
    }
    Ok(SurfacePath { runs, eye: Some(gesture.camera.viewpoint(diagonal)) })
}

/// A tenth of the radius, and from a third of a pixel to eight.
fn step_px(gesture: &Gesture, surface: &Surface) -> f64 {
    let radius_px = match gesture.size {
        BrushSize::Screen(radius_px) => radius_px,
        BrushSize::Object(radius) => {
            let (low, high) = surface.mesh().bounds();
            let depth = gesture.camera.depth(((low + high) * 0.5).as_dvec3());
            radius / gesture.camera.units_per_px(depth.max(1e-9))
        }
    };
    (radius_px * 0.1).clamp(0.34, 8.0)
}

fn cast(gesture: &Gesture, surface: &Surface, point: ScreenPoint) -> Option<PathPoint> {
    let ray = gesture.camera.ray(point.position_px);
    let hit = surface.raycast(&ray)?;
    let position: DVec3 = surface.position(hit.triangle, hit.barycentric);
    let normal = surface.smooth_normal(hit.triangle, hit.barycentric);
    let facing = surface.geometric_normal(hit.triangle).dot(ray.direction) <= 0.0;
    let radius = match gesture.size {
        BrushSize::Screen(radius_px) => {
            radius_px * gesture.camera.units_per_px(gesture.camera.depth(position))
        }
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
    })
}
