//! What a clone stroke copies.

use glam::{DVec3, Vec2};

/// Where a clone stroke takes its paint from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CloneFrom {
    /// From the surface: what lies at `source` comes to `start`, and all around it is turned alike.
    Surface {
        /// The point that was picked.
        source: Anchor,
        /// Where the first stroke with it began.
        start: Anchor,
    },
    /// From the flat texture: so far away, in UV units.
    Texture(Vec2),
}

/// A point of the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anchor {
    /// In model units.
    pub position: DVec3,
    /// The surface's normal there, unit length.
    pub normal: DVec3,
}

impl CloneFrom {
    pub(crate) fn is_finite(&self) -> bool {
        match self {
            Self::Surface { source, start } => [source, start]
                .iter()
                .all(|anchor| anchor.position.is_finite() && anchor.normal.is_finite()),
            Self::Texture(offset) => offset.is_finite(),
        }
    }
}
