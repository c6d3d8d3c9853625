//! Surfaces: mesh values, adjacency, ray casting, UV islands, and the texel map (which point of the
//! surface does each texel show).
//!
//! Conventions. Right-handed, +Y up, counter-clockwise front faces, as glTF. UV (0, 0) is the top left
//! corner of the texture and v points down, as glTF: readers of files with another convention flip at
//! the border. Lengths are in the model's own units.
//!
//! This crate knows no layer, no brush, no file and no thread of its own (rayon excepted).

mod adjacency;
mod affine;
mod border;
mod bounds;
mod clusters;
mod components;
mod cover;
mod crease;
mod decode;
mod decoded_tile;
mod decoded_tiles;
mod error;
mod exponential;
mod facing;
mod islands;
mod mesh;
mod nearest;
mod normals;
mod outer;
mod ownership;
mod padding;
mod raycast;
mod shading;
mod surface;
mod sweep;
#[cfg(test)]
mod testing;
mod texel_map;
mod tree;
mod tree_build;
mod triangulate;
mod uv_report;
mod weld;

pub use bounds::Bounds;
pub use clusters::Connected;
pub use components::ComponentId;
pub use decoded_tile::{
    BLOCK_EDGE, BLOCK_TEXELS, DecodedTile, SurfaceTexel, TexelBlock, TexelFrame,
};
pub use decoded_tiles::DecodedTiles;
pub use error::SurfaceError;
pub use exponential::ExponentialMap;
pub use islands::{Island, IslandId, Islands};
pub use mesh::{Corner, MaterialSlot, Mesh, MeshData, NO_INDEX, Part, PartId};
pub use nearest::SurfacePoint;
pub use raycast::{Ray, RayHit};
pub use surface::{Surface, Triangle, TriangleId};
pub use sweep::{Sight, Sweep};
pub use texel_map::TexelMap;
pub use uv_report::{UvFinding, UvPlace, UvReport};
