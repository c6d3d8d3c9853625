//! One open document at work: its history, what is derived from it, and the threads that derive it.
//!
//! The command line and the window both drive an [`Editor`]. It knows no file, no window and no GPU.
//! Data flows one way: an edit makes a document, a document makes composites, composites make maps;
//! what is cached here can be thrown away at any time and made again.

mod composites;
mod derived;
mod display;
mod editor;
mod error;
mod job;
mod journal;
mod label;
mod ledger;
mod made_edit;
mod maps;
mod masks;
mod pen;
mod pools;
mod prepared;
mod preview;
mod selection_on_show;
mod snapshot;
mod thumbnail;
mod thumbnail_key;

pub use derived::Derived;
pub use editor::{Editor, Settings};
pub use error::EditorError;
pub use job::Job;
pub use ledger::{Holding, Ledger};
pub use made_edit::MadeEdit;
pub use maps::{ChannelMap, Unpainted};
pub use pen::StrokeTarget;
pub use pools::Pools;
pub use prepared::Prepared;
pub use snapshot::Snapshot;
pub use thumbnail::{Thumbnail, ThumbnailOf, thumbnail};
pub use thumbnail_key::ThumbnailKey;
