//! The map of one triangle between the layout and the surface, in f64. Computed where it is needed,
//! never stored: 4 bytes a texel say which triangle, this says where.
//!
//! Texel coordinates are UV times the texture's edge: texel (x, y) has its centre at (x + 0.5, y + 0.5).

use glam::{DVec2, DVec3};
use raster::TextureSize;

/// Barycentric weights as an affine function of texel coordinates.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Affine {
    first: DVec2,
    /// How the second and the third weight change along x and y.
    second: DVec2,
    third: DVec2,
}

impl Affine {
    /// `None` where the triangle has no area in the layout.
    pub(crate) fn new(uvs: [DVec2; 3], size: TextureSize) -> Option<Self> {
        let [a, b, c] = uvs.map(|uv| uv * f64::from(size.edge()));
        let (ab, ac) = (b - a, c - a);
        let area = ab.perp_dot(ac);
        let second = DVec2::new(ac.y, -ac.x) / area;
        let third = DVec2::new(-ab.y, ab.x) / area;
        (second.is_finite() && third.is_finite()).then_some(Self { first: a, second, third })
    }

    /// The weights at a point of the texture, in texel coordinates.
    pub(crate) fn weights(&self, at: DVec2) -> [f64; 3] {
        let from = at - self.first;
        let (second, third) = (self.second.dot(from), self.third.dot(from));
        [1.0 - second - third, second, third]
    }

    /// How the point on the surface moves with one texel along x and along y.
    pub(crate) fn steps(&self, [a, b, c]: [DVec3; 3]) -> (DVec3, DVec3) {
        let along = |second: f64, third: f64| (b - a) * second + (c - a) * third;
        (along(self.second.x, self.third.x), along(self.second.y, self.third.y))
    }
}

/// The point with these weights.
pub(crate) fn weighted([a, b, c]: [DVec3; 3], weights: [f64; 3]) -> DVec3 {
    a * weights[0] + b * weights[1] + c * weights[2]
}

/// The centre of a texel in texel coordinates.
pub(crate) fn centre(x: u32, y: u32) -> DVec2 {
    DVec2::new(f64::from(x) + 0.5, f64::from(y) + 0.5)
}
