//! The wgpu renderer, on screen or off: it is handed planes, meshes and a camera, and knows no document.
//!
//! The data flows one way: a mesh and tiles of texels go up into a scene, a scene and a [`ModelView`] or
//! [`FlatPicture`] make a picture in a target of our own, which a window shows or a file keeps.

pub mod environment;
pub mod shading;
mod view;

pub use view::{FlatPicture, Footprint, KeyLight, Lighting, ModelView, Shown, ToneMapping};
