//! How a long function tells of its progress and learns that it should stop.

use crate::Cancelled;

/// Watches a long function. Called from any thread, often: keep both functions cheap.
pub trait Observer: Send + Sync {
    /// `done` of `total` units are finished; units are the callee's own and only their ratio means something.
    fn progress(&self, done: u64, total: u64);

    /// True once the work's result is no longer wanted.
    fn stopped(&self) -> bool;

    /// `Err(Cancelled)` once the work's result is no longer wanted.
    ///
    /// # Errors
    /// [`Cancelled`] when [`Observer::stopped`].
    fn check(&self) -> Result<(), Cancelled> {
        if self.stopped() { Err(Cancelled) } else { Ok(()) }
    }
}

/// Nobody watches and nothing is stopped.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unobserved;

impl Observer for Unobserved {
    fn progress(&self, _done: u64, _total: u64) {}

    fn stopped(&self) -> bool {
        false
    }
}
