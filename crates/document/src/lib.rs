//! A document as an immutable value, the edits that make a new one of it, and its history.
//!
//! [`apply`] takes a document and an [`Edit`] and gives a new document, or an error and no change. The
//! new document shares every tile, layer and material that did not change. What edits need of the
//! surface (ray structures, texel maps) is derived from the model and handed in through [`Surfaces`].
//!
//! The core types here know no format: [`wire`] holds the forms in which edits are written down.
//! This crate knows no file, no clock and no thread.

mod apply;
mod apply_layer;
mod deposit;
mod document;
mod edit;
mod error;
mod history;
mod import;
mod material;
mod merge;
mod model;
mod model_hash;
mod moving;
mod painting;
mod recipe;
mod resize;
mod scope;
mod select;
mod selection;
mod step;
mod unshared;
pub mod wire;

pub use apply::{Surfaces, apply};
pub use document::Document;
pub use edit::{
    Baked, CellEdit, Edit, LayerEdit, MaskTermEdit, MaterialEdit, NewContent, NewTerm,
    NewTermSource,
};
pub use error::DocumentError;
pub use history::{Entry, History};
pub use material::{Material, MaterialId};
pub use model::{ContentHash, Model, ModelMaterial, PassMap, PassMapKind};
pub use painting::Painting;
pub use recipe::{Recipe, RecipeBase, RecipeStep, Recipes};
pub use scope::Scope;
pub use selection::{Alike, Region, RegionFill, SelectEdit, SelectMode, Selection};
pub use step::{Deposit, MaskAt, MaskOwner, Shape, Step, Target};
