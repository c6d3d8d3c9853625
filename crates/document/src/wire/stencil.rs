//! Stencils in JSON.

use brush::Stencil;
use serde::{Deserialize, Serialize};

use super::image::WireImage;

/// A sheet that a stroke is painted through.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WireStencil {
    /// White lets paint through: the name of one of the list's images.
    pub image: WireImage,
    /// Black does instead.
    #[serde(default)]
    pub inverted: bool,
    /// Three rows that take (x, y, z, 1), or (u, v, 0, 1) on the flat texture, to (x w, y w, w): the place on the
    /// sheet, 0..1 from the left and from the top.
    pub places: [[f64; 4]; 3],
}

impl WireStencil {
    pub(crate) fn of(stencil: &Stencil) -> Self {
        Self {
            image: WireImage::of(&stencil.image),
            inverted: stencil.inverted,
            places: stencil.places.map(|row| row.to_array()),
        }
    }

    pub(crate) fn stencil(&self) -> Result<Stencil, String> {
        Ok(Stencil {
            image: self.image.image()?,
            inverted: self.inverted,
            places: self.places.map(Into::into),
        })
    }
}
