//! Where the texels of a tile lie on the surface, and which way they face.

use glam::DVec3;

/// The box of a tile's points, and a cone that holds all of their normals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Lowest corner, in model units.
    pub low: DVec3,
    /// Highest corner, in model units.
    pub high: DVec3,
    /// The cone's axis, of unit length; zero where the normals have no common direction.
    pub axis: DVec3,
    /// Cosine of the greatest angle between the axis and a normal (smooth or geometric); -1 where the
    /// normals have no common direction.
    pub cosine: f64,
}

impl Bounds {
    /// Squared distance from a point to the box; 0 inside.
    pub fn distance_squared(&self, point: DVec3) -> f64 {
        (self.low - point).max(point - self.high).max(DVec3::ZERO).length_squared()
    }

    /// The middle of the box.
    pub fn centre(&self) -> DVec3 {
        (self.low + self.high) / 2.0
    }
}

/// Bounds in the making.
pub(crate) struct Gather {
    low: DVec3,
    high: DVec3,
    normals: Vec<DVec3>,
}

impl Gather {
    pub(crate) fn new() -> Self {
        Self {
            low: DVec3::splat(f64::INFINITY),
            high: DVec3::splat(f64::NEG_INFINITY),
            normals: Vec::new(),
        }
    }

    pub(crate) fn point(&mut self, point: DVec3) {
        self.span(point, point);
    }

    pub(crate) fn span(&mut self, low: DVec3, high: DVec3) {
        (self.low, self.high) = (self.low.min(low), self.high.max(high));
    }

    /// Zero normals say nothing and are left out.
    pub(crate) fn normal(&mut self, normal: DVec3) {
        if normal != DVec3::ZERO {
            self.normals.push(normal);
        }
    }

    /// A little wider than what was gathered: points are handed out in f32.
    pub(crate) fn finish(self) -> Bounds {
        let slack = (self.high - self.low) * 1e-6;
        let axis = self.normals.iter().sum::<DVec3>().normalize_or_zero();
        let least = self.normals.iter().fold(1.0f64, |least, normal| least.min(axis.dot(*normal)));
        // A blend of normals stays in their cone only if that is narrower than a half space.
        let (axis, cosine) = if axis != DVec3::ZERO && least > 1e-3 {
            (axis, least - 1e-6)
        } else {
            (DVec3::ZERO, -1.0)
        };
        Bounds { low: self.low - slack, high: self.high + slack, axis, cosine }
    }
}
