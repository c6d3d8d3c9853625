//! The fast compositor: for display, never for stored bytes.
//!
//! Values are 15 bits: 32767 is 1. A tile walks through the whole stack with the accumulators of all
//! channels in cache, whole planes at a time. What 15 bits can't hold is done in f32 by the exact
//! arithmetic: everything up to the topmost layer that may magnify an error, colours blended in linear
//! light, and the inside of isolated groups. Within 1/16384 of exact for one blend and 1/4096 over 40
//! layers.

#[cfg(target_arch = "x86_64")]
mod avx2;
mod cache;
mod compositor;
mod display;
mod early;
mod gather;
mod inputs;
mod join;
mod kernel;
mod plan;
mod precise;
mod walk;

pub use compositor::FastCompositor;
pub use display::DisplayTile;
