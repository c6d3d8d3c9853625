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

/// Watches one step of longer work, for whoever watches all of it.
#[derive(Clone, Copy)]
pub struct Share<'a> {
    whole: &'a dyn Observer,
    from: u64,
    to: u64,
    of: u64,
}

impl<'a> Share<'a> {
    /// The step that takes the work from `from` to `to` of `of`; `from` is not above `to`.
    pub fn new(whole: &'a dyn Observer, from: u64, to: u64, of: u64) -> Self {
        Self { whole, from, to, of }
    }
}

impl std::fmt::Debug for Share<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { from, to, of, .. } = self;
        write!(f, "Share({from} to {to} of {of})")
    }
}

impl Observer for Share<'_> {
    fn progress(&self, done: u64, total: u64) {
        const FINE: u64 = 1000;
        let length = self.to.saturating_sub(self.from) * FINE;
        let within = u128::from(length) * u128::from(done.min(total)) / u128::from(total.max(1));
        self.whole.progress(self.from * FINE + within as u64, self.of * FINE);
    }

    fn stopped(&self) -> bool {
        self.whole.stopped()
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

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use super::*;

    #[derive(Default)]
    struct Seen(Mutex<Vec<(u64, u64)>>);

    impl Observer for Seen {
        fn progress(&self, done: u64, total: u64) {
            self.0.lock().unwrap().push((done, total));
        }

        fn stopped(&self) -> bool {
            self.0.lock().unwrap().len() > 3
        }
    }

    #[test]
    fn steps_of_longer_work_never_go_back_and_end_at_its_end() {
        let seen = Seen::default();
        let (first, second) = (Share::new(&seen, 0, 1, 4), Share::new(&seen, 1, 4, 4));
        first.progress(1, 2);
        first.progress(0, 0);
        second.progress(0, 7);
        assert!(!second.stopped());
        second.progress(7, 7);
        assert!(second.stopped());
        assert_eq!(*seen.0.lock().unwrap(), [(500, 4000), (0, 4000), (1000, 4000), (4000, 4000)]);
    }
}
