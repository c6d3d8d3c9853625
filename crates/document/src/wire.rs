//! The forms in which edits are written down: JSON, versioned, apart from the core types.
//!
//! [`EditList`] is recorded work: a demo, a macro, a test, a bug report. Writing an edit and reading it
//! back gives the same edit, bit for bit. A list made by hand may leave out what can be found out: a
//! path point needs only a position, a brush only what differs from the default.

mod brush;
mod decal;
mod edit;
mod image;
mod in_range;
mod list;
mod png;
mod read;
mod read_shape;
mod region;
mod stencil;
mod stroke;
mod value;
mod write;

pub use brush::WireBrush;
pub use edit::{WireEdit, WireMaterial, WireNewContent};
pub use image::{WireImage, image_of_text, text_of_image};
pub use list::{EDIT_LIST_VERSION, EditList, ListedEdit, ListedFile, WireError};
pub use png::{image_of_png, png_of};
pub use read::Reader;
pub use stroke::{WireLeftOut, WirePoint, WireStroke};
pub use value::WireValue;
pub use write::written;
