//! Long work that goes on beside the window: what it is, how far it is, and what becomes of its result.

use editor::Job;

use crate::desk::Desk;

/// What becomes of a result, on the window's thread.
type Then<T> = Box<dyn FnOnce(&mut Desk, T)>;

/// What is left to do on the desk.
type Rest = Box<dyn FnOnce(&mut Desk)>;

/// A job and what follows it.
struct Pending<T> {
    label: String,
    job: Job<T>,
    then: Option<Then<T>>,
}

trait Running {
    fn progress(&self) -> (u64, u64);
    fn stop(&self);
    /// The rest of the work, once the result is there.
    fn result(&mut self) -> Option<Rest>;
}

impl<T: Send + 'static> Running for Pending<T> {
    fn progress(&self) -> (u64, u64) {
        self.job.progress()
    }

    fn stop(&self) {
        self.job.stop();
    }

    fn result(&mut self) -> Option<Rest> {
        let made = self.job.take()?;
        let then = self.then.take()?;
        let label = self.label.clone();
        Some(Box::new(move |desk: &mut Desk| match made {
            Ok(made) => then(desk, made),
            Err(stopped) if stopped.is_cancelled() => {}
            Err(error) => desk.notices.error_about(&label, error),
        }))
    }
}

/// A task as it is shown.
pub(crate) struct Task {
    /// What it does, as in "Reading bell.obj".
    pub(crate) label: String,
    running: Box<dyn Running>,
    stopping: bool,
}

impl std::fmt::Debug for Task {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Task").field("label", &self.label).finish_non_exhaustive()
    }
}

impl Task {
    /// How far it is, 0..1; none before that is known.
    pub(crate) fn share(&self) -> Option<f32> {
        let (done, total) = self.running.progress();
        (total > 0).then(|| (done as f64 / total as f64).clamp(0.0, 1.0) as f32)
    }

    /// Asks it to stop.
    pub(crate) fn stop(&mut self) {
        self.stopping = true;
        self.running.stop();
    }

    /// It was asked to stop and has not yet.
    pub(crate) fn is_stopping(&self) -> bool {
        self.stopping
    }
}

/// All that goes on.
#[derive(Debug, Default)]
pub(crate) struct Tasks(pub(crate) Vec<Task>);

impl Tasks {
    /// Shows a job until it is done, then does the rest with its result.
    pub(crate) fn add<T: Send + 'static>(
        &mut self,
        label: impl Into<String>,
        job: Job<T>,
        then: impl FnOnce(&mut Desk, T) + 'static,
    ) {
        let label = label.into();
        let running = Box::new(Pending { label: label.clone(), job, then: Some(Box::new(then)) });
        self.0.push(Task { label, running, stopping: false });
    }

    /// Nothing goes on.
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// True while something goes on whose line begins so.
    pub(crate) fn goes_on(&self, doing: &str) -> bool {
        self.0.iter().any(|task| task.label.starts_with(doing))
    }

    /// Asks all to stop whose line begins so.
    pub(crate) fn stop(&mut self, doing: &str) {
        self.0.iter_mut().filter(|task| task.label.starts_with(doing)).for_each(Task::stop);
    }

    /// Lets go of one: it is stopped, and nothing comes of it. False where there is none with that line.
    pub(crate) fn drop_one(&mut self, line: &str) -> bool {
        let found = self.0.iter().position(|task| task.label == line);
        found.map(|place| self.0.remove(place)).is_some()
    }

    /// Takes out what is done, with what is to follow.
    pub(crate) fn take_done(&mut self) -> Vec<Rest> {
        let mut follow = Vec::new();
        self.0.retain_mut(|task| match task.running.result() {
            Some(then) => {
                follow.push(then);
                false
            }
            None => true,
        });
        follow
    }
}
