//! The project file: a document with its history in one file, which is never half written.
//!
//! `NAME.scumble` is an `SQLite` database. What a document consists of lies in it as objects, named by the
//! BLAKE3 hash of their kind and content; an object names others, so that the hash of a document's own
//! object stands for all of it. What two revisions have in common is one object. The layout is described
//! in DEVELOPERS.md under "Project file".
//!
//! A commit writes what the file does not have yet and is on disk when it returns. What is damaged is found
//! by its hash when it is read; it is left out and named, and the rest opens.

mod changes;
mod collect;
mod copy;
mod damage;
mod earlier;
mod error;
mod glance;
mod hash;
mod keeper;
mod known;
mod load;
mod load_layer;
mod load_model;
mod load_recipe;
mod load_tiles;
mod lock;
mod node;
mod objects;
mod place;
mod project;
mod read;
mod revisions;
mod save;
mod save_model;
mod schema;
mod shelf;
mod squeezed;
mod staged;
mod write;
mod written;

pub use changes::{Changes, NewPoint};
pub use collect::Collected;
pub use damage::{Damage, Lost, PlaneOf};
pub use earlier::{Earlier, EarlierEntries};
pub use error::StoreError;
pub use glance::{Glance, is_in_use};
pub use hash::Hash;
pub use keeper::{Keeper, Progress};
pub use place::{Place, place_of};
pub use project::{Access, Opened, Project, Watch};
pub use revisions::Point;
pub use write::Committed;

/// The version of project files that this program writes, and the newest that it reads.
pub const VERSION: u32 = 1;
