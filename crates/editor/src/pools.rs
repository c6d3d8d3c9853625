//! Three thread pools: one for what the hand waits for, one for long work that a person waits for, one for
//! long work that nobody waits for.
//!
//! Threads of the last yield to all others: on a machine with few processors such a job takes what the brush
//! leaves, and may wait long for its turn. Those of the second are below the hand's, but get their share.

use raster::Observer;
use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};

use crate::{EditorError, Job};

/// The pools of one program.
#[derive(Debug)]
pub struct Pools {
    interactive: ThreadPool,
    awaited: ThreadPool,
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
        Ok(Self {
            interactive: pool("interactive").build()?,
            awaited: pool("awaited").start_handler(|_| stand_back()).build()?,
            background: pool("background").start_handler(|_| yield_to_others()).build()?,
        })
    }

    /// Does what the hand waits for.
    pub fn interactive<R: Send>(&self, work: impl FnOnce() -> R + Send) -> R {
        self.interactive.install(work)
    }

    /// Starts long work from a snapshot, and does not wait.
    pub fn start<T: Send + 'static>(
        &self,
        work: impl FnOnce(&dyn Observer) -> Result<T, EditorError> + Send + 'static,
    ) -> Job<T> {
        Job::start(&self.background, work)
    }

    /// Starts long work that a person waits for, and does not wait.
    pub fn start_awaited<T: Send + 'static>(
        &self,
        work: impl FnOnce(&dyn Observer) -> Result<T, EditorError> + Send + 'static,
    ) -> Job<T> {
        Job::start(&self.awaited, work)
    }
}

/// Below what the hand waits for, above idle. A system that refuses leaves the thread as it was.
fn stand_back() {
    use thread_priority::{ThreadPriority, ThreadPriorityValue, set_current_thread_priority};
    if let Ok(low) = ThreadPriorityValue::try_from(20_u8) {
        let _refused = set_current_thread_priority(ThreadPriority::Crossplatform(low));
    }
}

/// A system that refuses leaves the thread as it was: slower strokes, same bytes.
fn yield_to_others() {
    use thread_priority::{ThreadPriority, set_current_thread_priority};
    #[cfg(target_os = "linux")]
    {
        use thread_priority::{
            NormalThreadSchedulePolicy, ThreadSchedulePolicy, set_thread_priority_and_policy,
            thread_native_id,
        };
        // Below every nice value: a thread that wakes up takes the processor from it at once.
        let idle = ThreadSchedulePolicy::Normal(NormalThreadSchedulePolicy::Idle);
        let lowest = ThreadPriority::Min;
        if set_thread_priority_and_policy(thread_native_id(), lowest, idle).is_ok() {
            return;
        }
    }
    let _refused = set_current_thread_priority(ThreadPriority::Min);
}
