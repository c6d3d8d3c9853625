//! Files in and out: models (OBJ with MTL, glTF, GLB) images (PNG, JPEG, TIFF, EXR) and environments
//! (Radiance HDR, EXR) are read, maps and painted models written.
//!
//! Rules. What comes in is checked before it is believed: sizes, ranges, and every name of another
//! file. What can't be kept is a note; what is broken is an error of one line that names file and place.
//! What goes out is the same bytes for the same values, under names that are safe on every system, and
//! appears whole or not at all.

mod atomic;
mod environment_read;
mod error;
mod export;
mod folder;
mod glb_geometry;
mod glb_write;
mod gltf_accessor;
mod gltf_material;
mod gltf_nodes;
mod gltf_open;
mod gltf_read;
mod image_read;
mod import;
mod maps;
mod mtl_lines;
mod mtl_read;
mod names;
mod notes;
mod obj_found;
mod obj_read;
mod obj_scan;
mod obj_write;
mod png_write;
mod single;
mod tangents;
mod text;

pub use environment_read::{
    BRIGHTEST_RADIANCE, EnvironmentImage, read_environment, read_environment_bytes,
};
pub use error::ExchangeError;
pub use export::{
    ExportFiles, ExportMaterial, ExportModel, MapSource, MaterialMaps, export, export_names,
};
pub use folder::{Beside, Embedded, FetchError, Folder};
pub use image_read::{
    ImageUse, LONGEST_EDGE, ReadImage, read_brush_image, read_brush_image_bytes, read_image,
    read_image_bytes,
};
pub use import::{Imported, read_model, read_model_bytes};
pub use names::safe_file_stem;
pub use png_write::BitDepth;
pub use single::{write_picture, write_text};
