//! Regions and gradients in JSON.

use std::sync::Arc;

use brush::{Camera, Easing, Fade, FillScope, Lasso, Projection};
use glam::{DVec2, DVec3, Vec3};
use serde::{Deserialize, Serialize};
use surface::TriangleId;

use super::edit::WireMaterial;
use super::stroke::{WireAxis, WireLeftOut};
use crate::SelectMode;

/// A part of the surface.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum WireRegion {
    /// The whole texture.
    Material,
    /// A part, by number or name.
    Part(WireMaterial),
    /// The island that holds this triangle.
    Island(u32),
    /// These triangles.
    Faces(Vec<u32>),
    /// What hangs together with a triangle up to sharp edges.
    Crease(WireCrease),
    /// What is seen in a line drawn round it.
    Lasso(WireLasso),
    /// What lies in a line on the flat texture, in UV units.
    FlatLasso(Vec<[f64; 2]>),
    /// What looks like a texel.
    Alike(WireAlike),
}

/// See [`FillScope::Crease`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireCrease {
    /// The triangle.
    pub from: u32,
    /// In radians.
    pub angle: f32,
}

/// A line on the screen, and from where the model was seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireLasso {
    /// Where the camera stands.
    pub eye: [f64; 3],
    /// What it looks at.
    pub target: [f64; 3],
    /// Roughly up.
    #[serde(default = "upright")]
    pub up: [f64; 3],
    /// The full vertical angle of view, in radians; of a perspective camera.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fov_y: Option<f64>,
    /// Model units from bottom to top; of a parallel camera.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<f64>,
    /// Width and height of the picture, in pixels.
    pub viewport: [f64; 2],
    /// The line, in pixels from the picture's top left.
    pub outline: Vec<[f64; 2]>,
}

/// See [`crate::Alike`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireAlike {
    /// The channel's key.
    pub channel: String,
    /// Where the texel is.
    pub uv: [f32; 2],
    /// By how much values may differ, 0..1.
    #[serde(default)]
    pub tolerance: f32,
    /// Only what hangs together with it.
    #[serde(default)]
    pub connected: bool,
}

/// How what is selected meets what was.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireSelectMode {
    #[default]
    Replace,
    Add,
    TakeAway,
    Intersect,
}

/// A gradient: one of `linear`, `radial` and `axis`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireGradient {
    /// From point to point.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub linear: Option<WireLinear>,
    /// From a point outwards.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub radial: Option<WireRadial>,
    /// Along an axis of the model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub axis: Option<WireAlong>,
    /// "even" (the default) or "smooth".
    #[serde(default)]
    pub easing: WireEasing,
    /// How much, 0..1; 1 when left out.
    #[serde(default = "full")]
    pub opacity: f32,
    /// What it may cover; the material when left out.
    #[serde(default = "material")]
    pub scope: WireRegion,
    /// Parts that get nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_out: Option<WireLeftOut>,
}

/// See [`Fade::Linear`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireLinear {
    /// Where it is full.
    pub from: [f32; 3],
    /// Where it is nothing.
    pub to: [f32; 3],
}

/// See [`Fade::Radial`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireRadial {
    /// Where it is full.
    pub centre: [f32; 3],
    /// How far from there it is nothing.
    pub radius: f32,
}

/// See [`Fade::Axis`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireAlong {
    /// "x", "y" or "z".
    pub along: WireAxis,
    /// Where it is full.
    pub from: f32,
    /// Where it is nothing.
    pub to: f32,
}

/// How a gradient falls off.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WireEasing {
    /// Evenly.
    #[default]
    Even,
    /// Slowly at both ends.
    Smooth,
}

fn upright() -> [f64; 3] {
    [0.0, 1.0, 0.0]
}

fn full() -> f32 {
    1.0
}

fn material() -> WireRegion {
    WireRegion::Material
}

impl WireRegion {
    pub(crate) fn of_scope(scope: &FillScope) -> Self {
        match scope {
            FillScope::Material => Self::Material,
            FillScope::Part(part) => Self::Part(WireMaterial::Number(part.0)),
            FillScope::Island(triangle) => Self::Island(triangle.0),
            FillScope::Faces(faces) => Self::Faces(faces.iter().map(|face| face.0).collect()),
            FillScope::Crease { from, angle } => {
                Self::Crease(WireCrease { from: from.0, angle: *angle })
            }
        }
    }

    pub(crate) fn of_lasso(lasso: &Lasso) -> Self {
        let points = |outline: &[DVec2]| outline.iter().map(DVec2::to_array).collect();
        match lasso {
            Lasso::Flat { outline } => Self::FlatLasso(points(outline)),
            Lasso::Model { camera, outline } => {
                let (fov_y, height) = match camera.projection {
                    Projection::Perspective { fov_y_rad } => (Some(fov_y_rad), None),
                    Projection::Orthographic { height } => (None, Some(height)),
                };
                Self::Lasso(WireLasso {
                    eye: camera.eye.to_array(),
                    target: camera.target.to_array(),
                    up: camera.up.to_array(),
                    fov_y,
                    height,
                    viewport: camera.viewport_px.to_array(),
                    outline: points(outline),
                })
            }
        }
    }
}

/// A line as points.
pub(crate) fn outline(points: &[[f64; 2]]) -> Arc<[DVec2]> {
    points.iter().copied().map(DVec2::from_array).collect()
}

/// Triangles by number.
pub(crate) fn faces(numbers: &[u32]) -> Arc<[TriangleId]> {
    numbers.iter().copied().map(TriangleId).collect()
}

impl WireLasso {
    pub(crate) fn lasso(&self) -> Result<Lasso, String> {
        let projection = match (self.fov_y, self.height) {
            (Some(fov_y_rad), None) => Projection::Perspective { fov_y_rad },
            (None, Some(height)) => Projection::Orthographic { height },
            _ => return Err("a lasso needs either \"fov_y\" or \"height\"".to_owned()),
        };
        let camera = Camera {
            eye: DVec3::from_array(self.eye),
            target: DVec3::from_array(self.target),
            up: DVec3::from_array(self.up),
            projection,
            viewport_px: DVec2::from_array(self.viewport),
        };
        Ok(Lasso::Model { camera, outline: outline(&self.outline) })
    }
}

impl WireSelectMode {
    pub(crate) fn of(mode: SelectMode) -> Self {
        match mode {
            SelectMode::Replace => Self::Replace,
            SelectMode::Add => Self::Add,
            SelectMode::TakeAway => Self::TakeAway,
            SelectMode::Intersect => Self::Intersect,
        }
    }

    pub(crate) fn mode(self) -> SelectMode {
        match self {
            Self::Replace => SelectMode::Replace,
            Self::Add => SelectMode::Add,
            Self::TakeAway => SelectMode::TakeAway,
            Self::Intersect => SelectMode::Intersect,
        }
    }
}

impl WireGradient {
    pub(crate) fn of(gradient: &brush::Gradient) -> Self {
        let (mut linear, mut radial, mut axis) = (None, None, None);
        match gradient.fade {
            Fade::Linear { from, to } => {
                linear = Some(WireLinear { from: from.to_array(), to: to.to_array() });
            }
            Fade::Radial { centre, radius } => {
                radial = Some(WireRadial { centre: centre.to_array(), radius });
            }
            Fade::Axis { axis: along, from, to } => {
                axis = Some(WireAlong { along: WireAxis::of(along), from, to });
            }
        }
        Self {
            linear,
            radial,
            axis,
            easing: match gradient.easing {
                Easing::Even => WireEasing::Even,
                Easing::Smooth => WireEasing::Smooth,
            },
            opacity: gradient.opacity,
            scope: WireRegion::of_scope(&gradient.scope),
            left_out: WireLeftOut::of(&gradient.left_out),
        }
    }

    pub(crate) fn fade(&self) -> Result<Fade, String> {
        match (&self.linear, &self.radial, &self.axis) {
            (Some(linear), None, None) => Ok(Fade::Linear {
                from: Vec3::from_array(linear.from),
                to: Vec3::from_array(linear.to),
            }),
            (None, Some(radial), None) => {
                Ok(Fade::Radial { centre: Vec3::from_array(radial.centre), radius: radial.radius })
            }
            (None, None, Some(along)) => {
                Ok(Fade::Axis { axis: along.along.axis(), from: along.from, to: along.to })
            }
            _ => Err("a gradient needs one of \"linear\", \"radial\" and \"axis\"".to_owned()),
        }
    }

    pub(crate) fn easing(&self) -> Easing {
        match self.easing {
            WireEasing::Even => Easing::Even,
            WireEasing::Smooth => Easing::Smooth,
        }
    }
}
