//! Long work on the background pool: it shows how far it is, can be stopped, and leaves its result to be
//! picked up.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError};

use raster::Observer;
use rayon::ThreadPool;

use crate::EditorError;

/// Work that goes on. Dropping it asks it to stop; what it would have given is lost.
#[derive(Debug)]
pub struct Job<T> {
    watch: Arc<Watch>,
    result: Arc<Slot<T>>,
}

/// What the work and whoever waits for it both see.
#[derive(Debug, Default)]
struct Watch {
    done: AtomicU64,
    total: AtomicU64,
    stop: AtomicBool,
}

#[derive(Debug)]
struct Slot<T> {
    made: Mutex<Option<Result<T, EditorError>>>,
    filled: Condvar,
}

impl Observer for Watch {
    fn progress(&self, done: u64, total: u64) {
        self.done.store(done, Ordering::Relaxed);
        self.total.store(total, Ordering::Relaxed);
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl<T: Send + 'static> Job<T> {
    /// Starts work on a pool.
    pub(crate) fn start(
        pool: &ThreadPool,
        work: impl FnOnce(&dyn Observer) -> Result<T, EditorError> + Send + 'static,
    ) -> Self {
        let watch = Arc::new(Watch::default());
        let result = Arc::new(Slot { made: Mutex::new(None), filled: Condvar::new() });
        let (watched, slot) = (Arc::clone(&watch), Arc::clone(&result));
        pool.spawn(move || {
            let made = catch_unwind(AssertUnwindSafe(|| work(&*watched)));
            let made = made.unwrap_or(Err(EditorError::JobFailed));
            *slot.made.lock().unwrap_or_else(PoisonError::into_inner) = Some(made);
            slot.filled.notify_all();
        });
        Self { watch, result }
    }

    /// How far it is: steps done, and of how many; (0, 0) before the first is told.
    pub fn progress(&self) -> (u64, u64) {
        (self.watch.done.load(Ordering::Relaxed), self.watch.total.load(Ordering::Relaxed))
    }

    /// Asks it to stop. Its result is then [`EditorError::Cancelled`], or what it had already made.
    pub fn stop(&self) {
        self.watch.stop.store(true, Ordering::Relaxed);
    }

    /// The result, once it is there; gives it once.
    pub fn take(&self) -> Option<Result<T, EditorError>> {
        self.result.made.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    /// Waits for the result, which must not have been taken.
    ///
    /// # Errors
    /// What the work refused, or [`EditorError::JobFailed`].
    pub fn wait(self) -> Result<T, EditorError> {
        let slot = &self.result;
        let mut made = slot.made.lock().unwrap_or_else(PoisonError::into_inner);
        loop {
            if let Some(made) = made.take() {
                return made;
            }
            made = slot.filled.wait(made).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

impl<T> Drop for Job<T> {
    fn drop(&mut self) {
        self.watch.stop.store(true, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::sync_channel;

    use super::*;
    use crate::Pools;

    #[test]
    fn a_job_gives_its_result_once_and_says_how_far_it_is() {
        let pools = Pools::new(Some(1)).unwrap();
        let (go, gate) = sync_channel::<()>(1);
        let job = pools.start(move |observer| {
            observer.progress(3, 4);
            gate.recv().unwrap();
            Ok(42)
        });
        assert!(job.take().is_none());
        go.send(()).unwrap();
        let watch = Arc::clone(&job.watch);
        assert_eq!(job.wait().unwrap(), 42);
        assert_eq!(watch.done.load(Ordering::Relaxed), 3);
        assert_eq!(watch.total.load(Ordering::Relaxed), 4);
    }

    #[test]
    fn a_job_that_is_asked_to_stop_does() {
        let pools = Pools::new(Some(1)).unwrap();
        let (ready, started) = sync_channel(1);
        let job: Job<()> = pools.start(move |observer| {
            ready.send(()).unwrap();
            loop {
                observer.check()?;
                std::hint::spin_loop();
            }
        });
        started.recv().unwrap();
        job.stop();
        assert!(matches!(job.wait(), Err(EditorError::Cancelled(_))));
    }

    #[test]
    fn a_job_that_breaks_is_an_error_and_the_pool_lives_on() {
        let pools = Pools::new(Some(1)).unwrap();
        let broken: Job<()> = pools.start(|_| panic!("on purpose"));
        assert!(matches!(broken.wait(), Err(EditorError::JobFailed)));
        assert_eq!(pools.start(|_| Ok(7)).wait().unwrap(), 7);
    }
}
