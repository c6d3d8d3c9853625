//! The forms in which edits are written down: JSON, versioned, apart from the core types.
//!
//! [`EditList`] is recorded work: a demo, a macro, a test, a bug report. Writing an edit and reading it
//! back gives the same edit, bit for bit. A list made by hand may leave out what can be found out: a
//! path point needs only a position, a brush only what differs from the default.

mod edit;
mod in_range;
mod list;
mod read;
mod read_shape;
mod region;
mod stroke;
mod value;
mod write;

pub use edit::{WireEdit, WireMaterial, WireNewContent};
pub use list::{EDIT_LIST_VERSION, EditList, ListedEdit, WireError};
pub use read::Reader;
pub use stroke::{WireBrush, WireLeftOut, WirePoint, WireStroke};
pub use value::WireValue;
pub use write::written;
