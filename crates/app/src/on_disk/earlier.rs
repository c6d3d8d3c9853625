//! What of a project is read after it is on show: the history before, and what turns out to be damaged.

use std::path::Path;
use std::time::Duration;

use editor::{EditorError, Job};
use egui::Context;
use raster::Observer;
use store::{Damage, Earlier, EarlierEntries, Watch};

use super::state_of;
use crate::desk::Desk;
use crate::opening::shown_name;

/// What a project still has, besides what is on show.
#[derive(Debug)]
pub(crate) struct Rest {
    /// The entries before, until they are being read.
    waiting: Option<Earlier>,
    /// The entries before, on their way: stopped where another document comes.
    coming: Option<Job<EarlierEntries>>,
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
            && let Some(read) = rest.coming.as_ref().and_then(Job::take)
        {
            rest.coming = None;
            match read {
                Ok(entries) => {
                    rest.found.extend(entries.damage);
                    if let Some(earlier) = entries.history {
                        self.editor.put_before(earlier);
                    }
                }
                Err(fault) => {
                    self.notices.error(format!("The history before can't be read: {fault}"));
                }
            }
        }
        if rest.found.len() > before {
            self.tell_damage();
        }
    }

    fn begin_earlier(&mut self) {
        let Some(rest) = &mut self.files.rest else { return };
        let Some(earlier) = rest.waiting.take() else { return };
        let read =
            move |observer: &dyn Observer| earlier.read(observer).map_err(EditorError::outside);
        rest.coming = Some(self.editor.start_awaited(read));
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
