//! Two thread pools: one for what the hand waits for, one for long work.

use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};

/// The pools of one program.
#[derive(Debug)]
pub struct Pools {
    interactive: ThreadPool,
    background: ThreadPool,
}

impl Pools {
    /// Pools of as many threads as the machine has processors, or of `threads` where that is given.
    ///
    /// # Errors
    /// When the system gives no threads.
    pub fn new(threads: Option<usize>) -> Result<Self, ThreadPoolBuildError> {
        let pool = |name: &'static str| {
            ThreadPoolBuilder::new()
                .num_threads(threads.unwrap_or(0))
                .thread_name(move |number| format!("{name} {number}"))
                .build()
        };
        Ok(Self { interactive: pool("interactive")?, background: pool("background")? })
    }

    /// Does what the hand waits for.
    pub fn interactive<R: Send>(&self, work: impl FnOnce() -> R + Send) -> R {
        self.interactive.install(work)
    }

    /// Does long work, from a snapshot.
    pub fn background<R: Send>(&self, work: impl FnOnce() -> R + Send) -> R {
        self.background.install(work)
    }
}
