//! Surfaces: mesh values, adjacency, ray casting, UV islands, and the texel map (which point of the
//! surface does each texel show).
//!
//! Conventions. Right-handed, +Y up, counter-clockwise front faces, as glTF. UV (0, 0) is the top left
//! corner of the texture and v points down, as glTF: readers of files with another convention flip at
//! the border. Lengths are in the model's own units.
//!
//! This crate knows no layer, no brush, no file and no thread of its own (rayon excepted).

mod error;
mod mesh;

pub use error::SurfaceError;
pub use mesh::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId};
