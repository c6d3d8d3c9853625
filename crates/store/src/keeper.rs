//! A worker that writes a project while the window goes on.
//!
//! It is handed changes, and writes all that have come since it wrote last in one transaction: a burst of
//! strokes is one commit. It never makes who hands them over wait.

use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use crate::changes::Changes;
use crate::{Project, StoreError};

/// Changes that were handed over are counted from 1.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Progress {
    /// The last changes that were handed over.
    pub handed: u64,
    /// The last changes that are on disk, and with them all before.
    pub on_disk: u64,
    /// Why nothing is written any more.
    pub fault: Option<String>,
}

impl Progress {
    /// True when all that was handed over is on disk.
    pub fn is_all_on_disk(&self) -> bool {
        self.handed == self.on_disk
    }
}

/// Something that is asked of the project itself.
type Request = Box<dyn FnOnce(&mut Project) + Send>;

#[derive(Default)]
struct Desk {
    /// What is to be written.
    waiting: Option<Changes>,
    /// What is to be done once that is written.
    requests: VecDeque<Request>,
    progress: Progress,
    gone: bool,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Desk").field("progress", &self.progress).finish_non_exhaustive()
    }
}

#[derive(Debug, Default)]
struct Shared {
    desk: Mutex<Desk>,
    moved: Condvar,
}

impl Shared {
    fn desk(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// How long nothing must have come before the log is brought into the file.
const IDLE: Duration = Duration::from_secs(2);

/// Owns a project and writes it.
#[derive(Debug)]
pub struct Keeper {
    shared: Arc<Shared>,
    wake: Option<SyncSender<()>>,
    worker: Option<JoinHandle<Project>>,
}

impl Keeper {
    /// Starts the worker.
    ///
    /// # Errors
    /// [`StoreError::Io`] where there can be no further thread; the project is closed then.
    pub fn start(project: Project) -> Result<Self, StoreError> {
        let shared = Arc::new(Shared::default());
        let (wake, woken) = sync_channel(1);
        let path = project.path().to_owned();
        let of_worker = Arc::clone(&shared);
        let worker = std::thread::Builder::new()
            .name("project file".to_owned())
            .spawn(move || work(project, &of_worker, &woken));
        let worker =
            worker.map_err(|error| StoreError::io(&path, "can't be written beside", error))?;
        Ok(Self { shared, wake: Some(wake), worker: Some(worker) })
    }

    /// Hands changes over; gives their number. Returns at once.
    pub fn keep(&self, changes: Changes) -> u64 {
        let mut desk = self.shared.desk();
        desk.progress.handed += 1;
        let handed = desk.progress.handed;
        desk.waiting = Some(match desk.waiting.take() {
            Some(before) => before.then(changes),
            None => changes,
        });
        drop(desk);
        self.wake();
        handed
    }

    /// Asks something of the project itself: it is done on the worker, once all that was handed over by now is
    /// written. Returns at once; what came of it can be received later, or nothing where the worker ended. What is
    /// handed over meanwhile waits until it is done.
    pub fn ask<T: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Project) -> T + Send + 'static,
    ) -> Receiver<T> {
        let (tell, told) = sync_channel(1);
        let request: Request = Box::new(move |project| {
            // Nobody may wait for it any more.
            drop(tell.send(work(project)));
        });
        self.shared.desk().requests.push_back(request);
        self.wake();
        told
    }

    fn wake(&self) {
        let Some(wake) = &self.wake else { return };
        // Full means that the worker will look anyway; gone, that the progress says so.
        match wake.try_send(()) {
            Ok(()) | Err(TrySendError::Full(()) | TrySendError::Disconnected(())) => {}
        }
    }

    /// How far it has come.
    pub fn progress(&self) -> Progress {
        self.shared.desk().progress.clone()
    }

    /// Waits until these changes are on disk, or won't be; for as long at most. Gives how far it has come.
    pub fn wait(&self, number: u64, most: Duration) -> Progress {
        let waits = |desk: &mut Desk| {
            desk.progress.on_disk < number && desk.progress.fault.is_none() && !desk.gone
        };
        let waited = self.shared.moved.wait_timeout_while(self.shared.desk(), most, waits);
        let (desk, _) = waited.unwrap_or_else(PoisonError::into_inner);
        desk.progress.clone()
    }

    /// What was handed over and is not on disk.
    pub fn unwritten(&self) -> Option<Changes> {
        self.shared.desk().waiting.clone()
    }

    /// Writes what is left and gives the project back.
    ///
    /// # Errors
    /// [`StoreError::WorkerGone`] where the worker broke.
    pub fn finish(mut self) -> Result<Project, StoreError> {
        self.wake = None;
        let worker = self.worker.take().ok_or(StoreError::WorkerGone)?;
        worker.join().or(Err(StoreError::WorkerGone))
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.wake = None;
        if let Some(worker) = self.worker.take() {
            // Nobody is left to tell; the project is closed by its own drop.
            _ = worker.join();
        }
    }
}

/// Says that the worker is gone, however it went.
struct Leaving<'a>(&'a Shared);

impl Drop for Leaving<'_> {
    fn drop(&mut self) {
        let mut desk = self.0.desk();
        desk.gone = true;
        // Who waits for them is told by that.
        desk.requests.clear();
        drop(desk);
        self.0.moved.notify_all();
    }
}

fn work(mut project: Project, shared: &Shared, woken: &Receiver<()>) -> Project {
    let _leaving = Leaving(shared);
    let mut log_is_short = true;
    loop {
        match woken.recv_timeout(IDLE) {
            Ok(()) => {
                write_waiting(&mut project, shared);
                answer(&mut project, shared);
                log_is_short = false;
            }
            Err(RecvTimeoutError::Timeout) => {
                if !log_is_short {
                    tidy(&mut project, shared);
                    log_is_short = true;
                }
            }
            Err(RecvTimeoutError::Disconnected) => {
                write_waiting(&mut project, shared);
                answer(&mut project, shared);
                return project;
            }
        }
    }
}

/// Writes what is waiting. What can't be written stays there.
fn write_waiting(project: &mut Project, shared: &Shared) {
    let mut desk = shared.desk();
    if desk.progress.fault.is_some() {
        return;
    }
    let Some(changes) = desk.waiting.take() else { return };
    let handed = desk.progress.handed;
    drop(desk);
    let written = project.commit(&changes);
    let mut desk = shared.desk();
    match written {
        Ok(_) => desk.progress.on_disk = handed,
        Err(error) => {
            desk.waiting = Some(match desk.waiting.take() {
                Some(later) => changes.then(later),
                None => changes,
            });
            desk.progress.fault = Some(error.to_string());
        }
    }
    drop(desk);
    shared.moved.notify_all();
}

/// Does what was asked, each after all that was handed over before it, and writes what came meanwhile.
fn answer(project: &mut Project, shared: &Shared) {
    loop {
        let Some(request) = shared.desk().requests.pop_front() else { break };
        // It may have been asked while something older was written.
        write_waiting(project, shared);
        request(project);
        note_fault(project, shared);
    }
    write_waiting(project, shared);
}

/// A write of the project's own may have failed.
fn note_fault(project: &Project, shared: &Shared) {
    let Some(fault) = project.fault() else { return };
    let mut desk = shared.desk();
    if desk.progress.fault.is_none() {
        desk.progress.fault = Some(fault.to_owned());
        drop(desk);
        shared.moved.notify_all();
    }
}

fn tidy(project: &mut Project, shared: &Shared) {
    if shared.desk().progress.fault.is_some() {
        return;
    }
    if let Err(error) = project.checkpoint() {
        shared.desk().progress.fault = Some(error.to_string());
        shared.moved.notify_all();
    }
}
