//! Writes preferences when they changed, a moment later and in the background.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use editor::{EditorError, Job};

use crate::desk::Desk;
use crate::opening::outside;
use crate::panes;
use crate::preferences::{self, Preferences};

/// How long preferences must have stayed as they are: a slider is not written at each step.
const CALM: Duration = Duration::from_millis(800);

/// See the module.
#[derive(Debug)]
pub(super) struct Keeping {
    /// None where the platform has no place for them: then they last as long as the window.
    folder: Option<PathBuf>,
    written: Preferences,
    seen: Preferences,
    since: Instant,
    job: Option<Job<()>>,
}

impl Keeping {
    /// Reads what was kept. Gives it with a line on what was wrong with it.
    pub(super) fn begin() -> (Self, Preferences, Option<String>) {
        let folder = preferences::folder();
        let (read, fault) = folder.as_deref().map(preferences::read).unwrap_or_default();
        let (written, seen) = (read.clone(), read.clone());
        (Self { folder, written, seen, since: Instant::now(), job: None }, read, fault)
    }

    /// Once a frame: writes what changed and was left alone since. Gives when to look again.
    pub(super) fn follow(&mut self, desk: &mut Desk) -> Option<Duration> {
        if let Some(done) = self.job.as_ref().and_then(Job::take) {
            self.job = None;
            if let Err(error) = done {
                desk.notices.error(error);
            }
        }
        let folder = self.folder.clone()?;
        desk.preferences.panels = panes::written(&desk.panes);
        if desk.preferences != self.seen {
            (self.seen, self.since) = (desk.preferences.clone(), Instant::now());
        }
        if self.seen == self.written {
            return None;
        }
        let calm = self.since.elapsed();
        if self.job.is_some() || calm < CALM {
            return Some(CALM.saturating_sub(calm).max(Duration::from_millis(50)));
        }
        self.written = self.seen.clone();
        let kept = self.written.clone();
        self.job =
            Some(desk.editor.start_awaited(move |_observer| {
                preferences::write(&folder, &kept).map_err(outside)
            }));
        Some(CALM)
    }

    /// Writes what is not written yet: the window closes.
    pub(super) fn finish(&mut self, desk: &Desk) -> Result<(), EditorError> {
        if let Some(job) = self.job.take() {
            job.wait()?;
        }
        match &self.folder {
            Some(folder) if desk.preferences != self.written => {
                preferences::write(folder, &desk.preferences).map_err(outside)
            }
            _ => Ok(()),
        }
    }
}
