//! Copies: of the whole project, or of the present document alone. The project's own thread makes them, and a task
//! shows how far they are and can stop them.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

use document::History;
use editor::EditorError;
use raster::Observer;
use store::{Keeper, Project, StoreError};

use super::Purpose;
use crate::desk::Desk;
use crate::opening::shown_name;

/// It is done.
#[derive(Debug, Clone, Copy)]
pub(super) struct Copied;

/// What the project's thread and the task both see.
#[derive(Debug, Default)]
struct Seen {
    done: AtomicU64,
    total: AtomicU64,
    stop: AtomicBool,
}

impl Observer for Seen {
    fn progress(&self, done: u64, total: u64) {
        self.done.store(done, Ordering::Relaxed);
        self.total.store(total, Ordering::Relaxed);
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// A copy that is being made.
#[derive(Debug)]
pub(super) struct Asked {
    seen: Arc<Seen>,
    told: Receiver<Result<(), StoreError>>,
}

/// Asks the project for a copy.
pub(super) fn asked_of(
    keeper: &Keeper,
    work: impl FnOnce(&mut Project, &dyn Observer) -> Result<(), StoreError> + Send + 'static,
) -> Asked {
    let seen = Arc::new(Seen::default());
    let watched = Arc::clone(&seen);
    Asked { seen, told: keeper.ask(move |project| work(project, &*watched)) }
}

impl Asked {
    /// Waits for it, and passes on how far it is and that it is to stop.
    pub(super) fn wait(self, observer: &dyn Observer) -> Result<Copied, EditorError> {
        const GLANCE: Duration = Duration::from_millis(30);
        loop {
            match self.told.recv_timeout(GLANCE) {
                Ok(Ok(())) => return Ok(Copied),
                Ok(Err(StoreError::Cancelled(stopped))) => return Err(stopped.into()),
                Ok(Err(error)) => return Err(EditorError::outside(error)),
                Err(RecvTimeoutError::Disconnected) => {
                    return Err(EditorError::outside(StoreError::WorkerGone));
                }
                Err(RecvTimeoutError::Timeout) => {}
            }
            let (done, total) = (&self.seen.done, &self.seen.total);
            observer.progress(done.load(Ordering::Relaxed), total.load(Ordering::Relaxed));
            self.seen.stop.store(observer.stopped(), Ordering::Relaxed);
        }
    }
}

impl Desk {
    /// Leaves a copy of everything in another place.
    pub(super) fn leave_copy(&mut self, path: PathBuf) {
        let to = path.clone();
        if let Some(on_disk) = &self.on_disk {
            let asked = asked_of(&on_disk.keeper, move |project, observer| {
                project.copy_to_watched(&to, observer)
            });
            self.wait_for_copy(Purpose::Copy, path, move |observer| asked.wait(observer));
        } else {
            let (changes, _) = self.everything();
            self.wait_for_copy(Purpose::Copy, path, move |_observer| {
                let made = Project::create_of(&to, &changes).and_then(Project::close);
                made.map(|()| Copied).map_err(EditorError::outside)
            });
        }
    }

    /// Leaves the present document in a small file.
    pub(super) fn pack_into(&mut self, path: PathBuf) {
        let to = path.clone();
        if let Some(on_disk) = &self.on_disk {
            let asked = asked_of(&on_disk.keeper, move |project, _| project.pack(&to).map(|_| ()));
            self.wait_for_copy(Purpose::Pack, path, move |observer| asked.wait(observer));
        } else {
            let history = History::new(self.document().clone());
            self.wait_for_copy(Purpose::Pack, path, move |_observer| {
                let made = Project::create(&to, &history).and_then(Project::close);
                made.map(|()| Copied).map_err(EditorError::outside)
            });
        }
    }

    fn wait_for_copy(
        &mut self,
        purpose: Purpose,
        path: PathBuf,
        wait: impl FnOnce(&dyn Observer) -> Result<Copied, EditorError> + Send + 'static,
    ) {
        let label = self.begin_line(purpose, &path);
        let job = self.editor.start_awaited(wait);
        self.tasks.add(label, job, move |desk, Copied| {
            let size = std::fs::metadata(&path).map_or(0, |file| file.len());
            let mebibytes = size as f64 / f64::from(1 << 20);
            let name = shown_name(&path);
            let goes_on = if desk.on_disk.is_some() { ". You go on where you were" } else { "" };
            desk.notices.note(format!("{name} is there, {mebibytes:.1} MiB{goes_on}"));
            desk.files.small_pictures.forget();
        });
    }
}
