//! Two thread pools: one for what the hand waits for, one for long work.
//!
//! Threads of the second one yield to all others: on a machine with few processors a long job then takes
//! what the brush leaves.

use raster::Observer;
use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};
use thread_priority::{ThreadPriority, set_current_thread_priority};

use crate::{EditorError, Job};

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
        };
        let yielding = |_| {
            // A system that refuses leaves the thread as it was: slower strokes, same bytes.
            let _refused = set_current_thread_priority(ThreadPriority::Min);
        };
        Ok(Self {
            interactive: pool("interactive").build()?,
            background: pool("background").start_handler(yielding).build()?,
        })
    }

    /// Does what the hand waits for.
    pub fn interactive<R: Send>(&self, work: impl FnOnce() -> R + Send) -> R {
        self.interactive.install(work)
    }

    /// Does long work, and waits for it.
    pub fn background<R: Send>(&self, work: impl FnOnce() -> R + Send) -> R {
        self.background.install(work)
    }

    /// Starts long work from a snapshot, and does not wait.
    pub fn start<T: Send + 'static>(
        &self,
        work: impl FnOnce(&dyn Observer) -> Result<T, EditorError> + Send + 'static,
    ) -> Job<T> {
        Job::start(&self.background, work)
    }
}
