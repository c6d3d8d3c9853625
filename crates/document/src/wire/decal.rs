//! Decals in JSON.

use brush::{Anchor, Decal, LeftOut};
use glam::DVec3;
use serde::{Deserialize, Serialize};
use surface::Surface;

use super::image::WireImage;
use super::stroke::WireLeftOut;

/// An image laid on the surface.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireDecal {
    /// White is covered: the name of one of the list's images.
    pub image: WireImage,
    /// Its middle; the nearest point of the surface is meant.
    pub position: [f64; 3],
    /// The surface's normal there; found when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub normal: Option<[f64; 3]>,
    /// Which way its top is; +y when left out.
    #[serde(default = "upwards")]
    pub up: [f64; 3],
    /// Half of its longer edge, in model units.
    pub half: f64,
    /// How far it is turned, in radians.
    #[serde(default)]
    pub turn: f64,
    /// The most that it covers; 1 when left out.
    #[serde(default = "full")]
    pub opacity: f32,
    /// Parts that it does not cover.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_out: Option<WireLeftOut>,
}

fn upwards() -> [f64; 3] {
    [0.0, 1.0, 0.0]
}

fn full() -> f32 {
    1.0
}

impl WireDecal {
    pub(crate) fn of(decal: &Decal) -> Self {
        Self {
            image: WireImage::of(&decal.image),
            position: decal.middle.position.to_array(),
            normal: Some(decal.middle.normal.to_array()),
            up: decal.up.to_array(),
            half: decal.half,
            turn: decal.turn,
            opacity: decal.opacity,
            left_out: WireLeftOut::of(&decal.left_out),
        }
    }

    pub(crate) fn decal(&self, left_out: LeftOut, surface: &Surface) -> Result<Decal, String> {
        let position = DVec3::from_array(self.position);
        let found = || {
            let on = position.is_finite().then(|| surface.nearest(position)).flatten();
            let on = on.ok_or_else(|| format!("no surface is near {:?}", self.position))?;
            Ok::<DVec3, String>(surface.smooth_normal(on.triangle, on.barycentric))
        };
        let normal = self.normal.map_or_else(found, |normal| Ok(normal.into()))?;
        Ok(Decal {
            image: self.image.image()?,
            middle: Anchor { position, normal },
            up: self.up.into(),
            half: self.half,
            turn: self.turn,
            opacity: self.opacity,
            left_out,
        })
    }
}
