//! A resolved path: where on the surface, or on the texture, the pen went.

use std::borrow::Cow;

use glam::{DVec3, Vec2, Vec3};
use surface::{PartId, Surface, TriangleId};

use crate::{BrushError, Guide};

/// A point of a path on the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathPoint {
    /// The part that was hit.
    pub part: PartId,
    /// The triangle that was hit.
    pub triangle: TriangleId,
    /// Where in the triangle.
    pub barycentric: [f32; 3],
    /// The point, in model units.
    pub position: Vec3,
    /// The surface's smooth normal there, of unit length, turned towards the eye.
    pub normal: Vec3,
    /// The brush's radius at full pressure, in model units.
    pub radius: f32,
    /// 0..1.
    pub pressure: f32,
    /// Where the pen leans, in model space, as long as it is tilted: 0 upright, 1 flat.
    pub lean: Vec3,
    /// How fast the pen is, 0..1: see [`crate::HALF_SPEED`].
    pub speed: f32,
}

/// A point of a path on the flat texture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TexturePoint {
    /// Where, v down.
    pub uv: Vec2,
    /// The brush's radius at full pressure, in UV units: 1 is the texture's edge.
    pub radius: f32,
    /// 0..1.
    pub pressure: f32,
    /// Where the pen leans, as long as it is tilted: 0 upright, 1 flat.
    pub lean: Vec2,
    /// How fast the pen is, 0..1: see [`crate::HALF_SPEED`].
    pub speed: f32,
}

impl TexturePoint {
    /// A point at full pressure, of a pen that stands upright and still.
    pub fn of(uv: Vec2, radius: f32) -> Self {
        Self { uv, radius, pressure: 1.0, lean: Vec2::ZERO, speed: 0.0 }
    }
}

/// A path on the surface: runs, since a pen may leave the model and come back.
#[derive(Debug, Clone, PartialEq)]
pub struct SurfacePath {
    /// Each run is painted without a gap.
    pub runs: Vec<Vec<PathPoint>>,
    /// Where the surface was seen from, in model units: what is hidden from there is not painted.
    /// Without an eye, each dab looks along its own normal.
    pub eye: Option<DVec3>,
}

/// Where a stroke goes.
#[derive(Debug, Clone, PartialEq)]
pub enum Path {
    /// Over the surface.
    Surface(SurfacePath),
    /// Over the flat texture.
    Texture(Vec<Vec<TexturePoint>>),
    /// Over the surface, through a few points.
    Guided(Guide),
}

/// Points further from the model than so many times its size are a mistake.
const FAR: f32 = 1000.0;

impl Path {
    /// True where it lies on the model.
    pub fn is_on_surface(&self) -> bool {
        !matches!(self, Self::Texture(_))
    }

    /// The path as dabs are placed along it: a guided one laid over the surface, any other as it is.
    pub fn laid(&self, surface: &Surface) -> Cow<'_, Self> {
        match self {
            Self::Guided(guide) => Cow::Owned(Self::Surface(guide.laid(surface))),
            _ => Cow::Borrowed(self),
        }
    }

    /// # Errors
    /// [`BrushError`] for an empty path, numbers that are not finite, a radius that is not above 0, or a
    /// triangle that the surface does not have, and for a point that is a thousand times the model's size away from it.
    pub fn check(&self, surface: &Surface) -> Result<(), BrushError> {
        let (low, high) = surface.mesh().bounds();
        let reach = FAR * low.distance(high);
        let near = [low - Vec3::splat(reach), high + Vec3::splat(reach)];
        let on_model = |point: &PathPoint, index| {
            check_path_point(point, index, surface.triangle_count())?;
            let is_near = point.position.clamp(near[0], near[1]) == point.position;
            if is_near { Ok(()) } else { Err(BrushError::FarAway { index }) }
        };
        match self {
            Self::Surface(path) => {
                if path.eye.is_some_and(|eye| !eye.is_finite()) {
                    return Err(BrushError::NotFinite { index: 0 });
                }
                check_points(path.runs.iter().flatten(), on_model)
            }
            Self::Guided(guide) => check_points(guide.knots.iter(), on_model),
            Self::Texture(runs) => check_points(runs.iter().flatten(), |point, index| {
                check_point(index, point.uv.is_finite(), point.radius, point.pressure)?;
                check_pen(point.lean.length(), point.speed)
            }),
        }
    }
}

fn check_points<'a, P: 'a>(
    points: impl Iterator<Item = &'a P>,
    check: impl Fn(&P, usize) -> Result<(), BrushError>,
) -> Result<(), BrushError> {
    let mut any = false;
    for (index, point) in points.enumerate() {
        any = true;
        check(point, index)?;
    }
    if any { Ok(()) } else { Err(BrushError::EmptyPath) }
}

fn check_path_point(
    point: &PathPoint,
    index: usize,
    triangle_count: usize,
) -> Result<(), BrushError> {
    let numbers = point.barycentric.iter().all(|b| b.is_finite())
        && point.position.is_finite()
        && point.normal.is_finite();
    check_point(index, numbers, point.radius, point.pressure)?;
    check_pen(point.lean.length(), point.speed)?;
    let sum = point.barycentric.iter().sum::<f32>();
    if (sum - 1.0).abs() > 0.01 {
        return Err(BrushError::Weights { index, sum });
    }
    let triangle = point.triangle.0;
    if triangle as usize >= triangle_count {
        return Err(BrushError::NoSuchTriangle { triangle, count: triangle_count });
    }
    Ok(())
}

fn check_point(index: usize, finite: bool, radius: f32, pressure: f32) -> Result<(), BrushError> {
    if !finite || !radius.is_finite() || !pressure.is_finite() {
        return Err(BrushError::NotFinite { index });
    }
    if radius <= 0.0 {
        let value = f64::from(radius);
        return Err(BrushError::Setting { what: "radius", value, range: "more than 0" });
    }
    if !(0.0..=1.0).contains(&pressure) {
        let value = f64::from(pressure);
        return Err(BrushError::Setting { what: "pressure", value, range: "0 to 1" });
    }
    Ok(())
}

/// A lean of length 1 may be a little longer by rounding.
fn check_pen(tilt: f32, speed: f32) -> Result<(), BrushError> {
    for (what, value, most) in [("lean of the pen", tilt, 1.001), ("speed of the pen", speed, 1.0)]
    {
        if !(0.0..=most).contains(&value) {
            let value = f64::from(value);
            return Err(BrushError::Setting { what, value, range: "0 to 1" });
        }
    }
    Ok(())
}
