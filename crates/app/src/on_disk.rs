//! The project file that the open document is in: whatever changes is written at once, beside the window.
//!
//! A file is either one that the person named, or, from the first change on until then, one of the program's own
//! (see `untitled`).

mod closing;
mod copying;
mod earlier;
mod journal;
mod keeping;
mod picture;
mod points;
mod reading;
#[cfg(test)]
mod tests;
mod untitled;
mod view_state;

pub(crate) use earlier::Rest;
pub(crate) use keeping::Purpose;
pub(crate) use picture::{PICTURE_PX, SmallPictures, texture};
pub(crate) use points::{NamingPoint, Points};
pub(crate) use reading::{Found, read};
pub(crate) use untitled::Untitled;
pub(crate) use view_state::ViewState;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use document::History;
use egui::Context;
use store::{Changes, Keeper, Point, Project, StoreError};

use crate::commands::{Command, FileCommand};
use crate::desk::{Desk, Leaving};
use crate::opening::shown_name;

/// The ending of project files.
pub(crate) const PROJECT: &str = "scumble";

/// How long nothing must have changed before what costs more than a stroke is done.
const CALM: Duration = Duration::from_secs(3);

/// What tells one state of a history from the next: the numbers of its present and its last entry.
pub(crate) type HistoryState = (u64, u64);

/// What the desk knows of files beside the one that is open.
#[derive(Debug)]
pub(crate) struct Files {
    /// Work that has no name yet.
    pub(crate) untitled: Untitled,
    /// The history as it was put on the desk.
    pub(crate) begun: HistoryState,
    /// A project that is looked at only.
    pub(crate) looked_at: Option<PathBuf>,
    /// A project that another process has open: it is asked what to do.
    pub(crate) in_use: Option<PathBuf>,
    /// What is done once all is on disk, and since when that is waited for.
    pub(crate) leaving: Option<(Leaving, Instant)>,
    /// The point that is named or renamed.
    pub(crate) naming: Option<NamingPoint>,
    /// Small pictures of projects in lists.
    pub(crate) small_pictures: SmallPictures,
    /// A picture of the model is wanted, for the file.
    pub(crate) is_picture_wanted: bool,
    /// How the document was looked at when it was left, until it is shown so.
    pub(crate) view: Option<ViewState>,
    /// What of the project is read later.
    pub(crate) rest: Option<Rest>,
    /// The sheet asks for another place as writing failed: why.
    pub(crate) fault: Option<String>,
}

impl Files {
    /// Nothing is known yet; the document is a new one.
    pub(crate) fn new() -> Self {
        Self {
            untitled: Untitled::default(),
            begun: (1, 1),
            looked_at: None,
            in_use: None,
            leaving: None,
            naming: None,
            small_pictures: SmallPictures::default(),
            is_picture_wanted: false,
            view: None,
            rest: None,
            fault: None,
        }
    }
}

/// See the module.
#[derive(Debug)]
pub(crate) struct OnDisk {
    /// The file.
    pub(crate) path: PathBuf,
    /// It is one of the program's own.
    pub(crate) is_untitled: bool,
    /// Its named points.
    pub(crate) points: Points,
    keeper: Keeper,
    /// The history that was handed over last, and when.
    handed: HistoryState,
    handed_at: Instant,
    /// How it is looked at, as it was handed over, and as it was seen last.
    view: ViewState,
    seen_view: (ViewState, Instant),
    /// The history that the file's picture shows.
    pictured: Option<HistoryState>,
    /// Nothing was let go of since the last change.
    is_tidy: bool,
}

pub(crate) fn state_of(history: &History) -> HistoryState {
    let (mut entries, present) = history.entries();
    let shown = entries.nth(present).map_or(0, |entry| entry.number);
    (shown, entries.last().map_or(shown, |entry| entry.number))
}

impl OnDisk {
    /// A project that holds this history already.
    fn new(project: Project, history: &History, points: Vec<Point>) -> Result<Self, StoreError> {
        let (path, now) = (project.path().to_owned(), Instant::now());
        Ok(Self {
            path,
            is_untitled: false,
            points: Points::new(points),
            keeper: Keeper::start(project)?,
            handed: state_of(history),
            handed_at: now,
            view: ViewState::default(),
            seen_view: (ViewState::default(), now),
            pictured: None,
            is_tidy: true,
        })
    }

    /// True where a path leads to the same file.
    pub(crate) fn is_at(&self, path: &Path) -> bool {
        let real = |path: &Path| path.canonicalize().ok();
        real(path).is_some_and(|path| real(&self.path) == Some(path))
    }

    /// True once all is safe.
    pub(crate) fn is_all(&self) -> bool {
        self.keeper.progress().is_all_on_disk()
    }

    /// The file's name for a person.
    pub(crate) fn name(&self) -> String {
        shown_name(&self.path)
    }
}

impl Desk {
    /// Once a frame: hands over what changed, and tells once where it can't be written.
    pub(crate) fn keep_on_disk(&mut self, context: &Context) {
        self.take_rest(context);
        self.take_untitled();
        self.begin_untitled();
        self.hand_over();
        self.hand_over_the_view(context);
        self.take_points(context);
        self.tidy_when_calm(context);
        self.look_for_fault();
        self.leave_when_written(context);
    }

    fn hand_over(&mut self) {
        let Some(on_disk) = &mut self.on_disk else { return };
        let now = state_of(self.editor.history());
        if now != on_disk.handed {
            let edits = journal::edits_after(&self.editor, on_disk.handed.1);
            on_disk.handed = now;
            (on_disk.handed_at, on_disk.is_tidy) = (Instant::now(), false);
            on_disk.keeper.keep(Changes { edits, ..Changes::of_history(self.editor.history()) });
        }
    }

    /// What can't be written is told with a way out; until that is taken it goes where untitled work goes.
    fn look_for_fault(&mut self) {
        let Some(on_disk) = &self.on_disk else { return };
        let Some(fault) = on_disk.keeper.progress().fault else { return };
        if on_disk.is_untitled {
            self.files.untitled.refused(&mut self.notices, &fault);
        } else {
            self.notices.error_with(
                format!("{}: {fault}. Nothing more is written to it", on_disk.name()),
                "Keep it in another place",
                Command::File(FileCommand::Keep),
            );
        }
        self.let_go_of_file();
        if self.files.leaving.take().is_some() {
            self.files.fault = Some(fault);
            self.ask_where(Purpose::Keep);
        }
    }

    /// The document goes on without the file that it was in. It is closed in the background.
    pub(crate) fn let_go_of_file(&mut self) {
        if let Some(old) = self.on_disk.take() {
            drop(self.editor.start_awaited(move |_observer| {
                drop(old);
                Ok(())
            }));
        }
    }

    /// True where something was painted or changed that no file has yet.
    pub(crate) fn has_unkept_work(&self) -> bool {
        match &self.on_disk {
            Some(on_disk) => on_disk.handed != state_of(self.editor.history()),
            None => self.has_unexported_work(),
        }
    }

    /// True where the document is not what it was when it was put on the desk.
    pub(crate) fn has_changed(&self) -> bool {
        state_of(self.editor.history()) != self.files.begun
    }
}
