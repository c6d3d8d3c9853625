//! The layer tree as a value, masks, blend modes and the exact compositor.
//!
//! Rules that hold here. Every value is immutable and shared by `Arc`: what changed is what is not
//! pointer-equal. Values are stored straight, coverage apart; they are multiplied only inside the
//! accumulator. Arithmetic is f32 in a fixed order without fused operations, and transcendental
//! functions are `libm`'s: the same bytes on every processor and any number of threads.
//!
//! This crate knows no mesh: fields of a surface are handed in as tiles.

mod blend;
mod blend_hsl;
mod change;
mod channel;
mod composite;
mod error;
mod fast;
mod layer;
mod mask;
mod node;
mod paint;
mod same;
mod sample;
mod stack;
mod value;

pub use blend::BlendMode;
pub use change::{changed_mask_tiles, changed_tiles};
pub use channel::{ChannelDescriptor, ChannelId, ChannelKind, standard_channels};
pub use composite::{BlendSpace, ChannelComposite, Composite, Composition, composite, recomposite};
pub use error::LayersError;
pub use fast::{DisplayTile, FastCompositor};
pub use layer::{CellSettings, Content, Isolation, Layer, LayerId, MAX_DEPTH, PaintedCell};
pub use mask::{Combine, FieldExpr, FieldId, Fields, Mask, MaskSource, MaskTerm, NoFields, TermId};
pub use same::give_same;
pub use sample::{Samples, TileSource};
pub use stack::{Place, Stack};
pub use value::{Ground, Opacity, Value};
