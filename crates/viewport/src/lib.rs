//! The wgpu renderer, on screen or off: it is handed planes, meshes and a camera, and knows no document.
//!
//! The data flows one way: a mesh and tiles of texels go up into a [`Scene`], a scene and a [`ModelView`] or
//! [`FlatPicture`] make a picture in a [`Target`] of our own, which a window shows or a file keeps.

mod digits;
pub mod environment;
mod error;
mod frame;
mod gpu;
mod layouts;
mod light_textures;
mod material_textures;
mod mesh_buffers;
pub mod navigation;
mod packed_normal;
mod pipelines;
mod places;
mod renderer;
mod scene;
pub mod shading;
mod target;
mod tile_pixels;
mod upper_levels;
mod view;

pub use error::ViewportError;
pub use gpu::Gpu;
pub use mesh_buffers::MeshBuffers;
pub use renderer::Renderer;
pub use scene::Scene;
pub use target::Target;
pub use tile_pixels::{TextureKind, TilePixels};
pub use view::{FlatPicture, Footprint, KeyLight, Lighting, ModelView, Shown, ToneMapping};
