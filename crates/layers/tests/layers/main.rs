//! The layer tree and the exact compositor, judged from outside.
//!
//! `scene` makes random stacks, `twin` is the compositor once more as plainly as it can be written,
//! in f64, texel by texel.

#[cfg(test)]
mod bench;
#[cfg(test)]
mod blending;
#[cfg(test)]
mod changing;
#[cfg(test)]
mod compositing;
#[cfg(test)]
mod fast;
#[cfg(test)]
mod fast_cache;
#[cfg(test)]
mod laws;
#[cfg(test)]
mod scene;
#[cfg(test)]
mod tree;
#[cfg(test)]
mod twin;
