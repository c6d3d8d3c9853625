//! What of a project is read after it is on show: the history before, and what turns out to be damaged.

use std::path::Path;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};
use std::time::Duration;

use editor::EditorError;
use egui::Context;
use store::{Damage, Earlier, EarlierEntries, Watch};

use super::state_of;
use crate::desk::Desk;
use crate::opening::shown_name;

/// What a project still has, besides what is on show.
#[derive(Debug)]
pub(crate) struct Rest {
    /// The entries before, until they are being read.
    waiting: Option<Earlier>,
    /// The entries before, on their way.
    coming: Option<Receiver<Result<EarlierEntries, String>>>,
    watch: Watch,
    /// How much damage of tiles was taken from it.
    taken: usize,
    /// All damage that was found after the project was opened.
    found: Vec<Damage>,
}

impl Rest {
    pub(super) fn new(earlier: Earlier, watch: Watch) -> Self {
        let waiting = Some(earlier).filter(|earlier| earlier.list().len() > 0);
        Self { waiting, coming: None, watch, taken: 0, found: Vec::new() }
    }

    /// True while entries before those that are there are to come.
    fn is_coming(&self) -> bool {
        self.waiting.is_some() || self.coming.is_some()
    }
}

/// One line on a file that is damaged.
pub(super) fn told(path: &Path, damage: &[Damage]) -> Option<String> {
    let (first, name, count) = (damage.first()?, shown_name(path), damage.len());
    let places = if count == 1 { "place" } else { "places" };
    Some(format!(
        "{name} is damaged in {count} {places}, {first}. What can be read is shown, and nothing is written to it: \
         keep it in another place (Ctrl+S)"
    ))
}

impl Desk {
    /// True while the history before what is on show is being read.
    pub(crate) fn is_history_coming(&self) -> bool {
        self.files.rest.as_ref().is_some_and(Rest::is_coming)
    }

    /// Once a frame: takes what was read of the history before, and tells of what turned out to be damaged.
    pub(super) fn take_rest(&mut self, context: &Context) {
        self.begin_earlier();
        if self.is_history_coming() {
            context.request_repaint_after(Duration::from_millis(30));
        }
        let Some(rest) = &mut self.files.rest else { return };
        self.editor.set_outside_bytes("tiles read from the file", rest.watch.kept_bytes());
        let before = rest.found.len();
        let new = rest.watch.damage(rest.taken);
        rest.taken += new.len();
        rest.found.extend(new);
        if !self.editor.is_pen_down()
            && let Some(coming) = &rest.coming
        {
            match coming.try_recv() {
                Ok(Ok(entries)) => {
                    rest.coming = None;
                    rest.found.extend(entries.damage);
                    if let Some(earlier) = entries.history {
                        self.editor.put_before(earlier);
                    }
                }
                Ok(Err(fault)) => {
                    rest.coming = None;
                    self.notices.error(format!("The history before can't be read: {fault}"));
                }
                Err(TryRecvError::Disconnected) => rest.coming = None,
                Err(TryRecvError::Empty) => {}
            }
        }
        if rest.found.len() > before {
            self.tell_damage();
        }
    }

    fn begin_earlier(&mut self) {
        let Some(rest) = &mut self.files.rest else { return };
        let Some(earlier) = rest.waiting.take() else { return };
        let (tell, coming) = sync_channel(1);
        rest.coming = Some(coming);
        let job = self.editor.start_awaited(move |observer| {
            let read = earlier.read(observer).map_err(|error| error.to_string());
            // Nobody listens where another document came.
            drop(tell.try_send(read));
            Ok::<(), EditorError>(())
        });
        self.files.reading = Some(job);
    }

    /// A file that turned out to be damaged is no longer written.
    fn tell_damage(&mut self) {
        let path = self.on_disk.as_ref().map(|on_disk| on_disk.path.clone());
        let Some(path) = path.or_else(|| self.files.looked_at.clone()) else { return };
        let Some(rest) = &self.files.rest else { return };
        let Some(line) = told(&path, &rest.found) else { return };
        // One line grows, as more is read.
        self.notices.error_about(&format!("damage of {}", path.display()), line);
        if self.on_disk.is_some() {
            self.let_go_of_file();
            self.files.begun = state_of(self.editor.history());
            self.files.looked_at = Some(path);
        }
    }
}
