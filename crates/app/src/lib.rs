//! The window: panels, commands, pen and preferences over one open document.
//!
//! The data flows one way. The window ([`run`]) hands a frame's input to the desk: all that is open and
//! chosen. Panels show the desk and call its commands; every change of the document is an edit of the
//! editor's. What the views shall show is then drawn by `viewport` into textures of its own, and the
//! panels are painted over it. The desk knows no GPU and no window system, so tests drive it without either.

mod brush_in_hand;
mod brushes;
mod chosen;
mod colour;
mod commands;
mod desk;
mod does;
mod error;
mod exporting;
mod file_dialog;
mod hand;
mod lettering;
mod notices;
mod on_disk;
mod opening;
mod palette;
mod panes;
mod path_field;
mod preferences;
mod references;
mod screen;
mod stencil_in_hand;
mod stencils;
mod symmetry_in_hand;
mod tasks;
#[cfg(test)]
mod testing;
mod theme;
mod thumbnails;
mod tool;
mod widgets;
mod window;

pub use brushes::{bring_in_brush, shared_brush};
pub use error::AppError;
pub use opening::Demo;
pub use panes::{BrushPicture, brush_pictures};
pub use window::{Spent, Start, Unseen, run, tile_pixels};
