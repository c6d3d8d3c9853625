//! A place for a project: asked for, looked at, and taken.

use std::path::{Path, PathBuf};

use document::History;
use editor::EditorError;
use store::{Changes, Project, place_of};

use super::copying::{Copied, asked_of};
use super::{OnDisk, PROJECT, journal};
use crate::desk::{Desk, Sheet};
use crate::opening::shown_name;
use crate::path_field::PathField;

/// What a place is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Purpose {
    /// The work goes into a file of a name.
    Keep,
    /// A copy is made, and the work goes on in it.
    GoOn,
    /// A copy is left, and the work goes on where it is.
    Copy,
    /// The present document is left in a small file, and the work goes on where it is.
    Pack,
}

impl Purpose {
    /// What the task's line and notices of it begin with.
    pub(super) fn doing(self) -> &'static str {
        match self {
            Self::Keep | Self::GoOn => "Keeping",
            Self::Copy => "Copying into",
            Self::Pack => "Packing into",
        }
    }

    /// What is added to a name that is suggested.
    fn addition(self) -> &'static str {
        match self {
            Self::Keep => "",
            Self::GoOn => " 2",
            Self::Copy => " copy",
            Self::Pack => " packed",
        }
    }
}

impl Desk {
    /// Asks for a place for what has no name; in a project that has one a point is named.
    pub(crate) fn keep(&mut self) {
        if self.on_disk.as_ref().is_some_and(|on_disk| !on_disk.is_untitled) {
            self.ask_for_point();
        } else {
            self.ask_where(Purpose::Keep);
        }
    }

    /// Asks for a place.
    pub(crate) fn ask_where(&mut self, purpose: Purpose) {
        if self.document().model.is_none() {
            self.notices.note("Open a model first");
            return;
        }
        let named = self.on_disk.as_ref().filter(|on_disk| !on_disk.is_untitled);
        let purpose =
            if named.is_none() && purpose == Purpose::GoOn { Purpose::Keep } else { purpose };
        let beside =
            named.map(|on_disk| on_disk.path.as_path()).or(self.files.looked_at.as_deref());
        let export = PathBuf::from(self.export.folder.trim());
        let folder = beside.unwrap_or(&export).parent().map(Path::to_path_buf).unwrap_or_default();
        let mut name = format!("{}{}", self.title, purpose.addition());
        for number in 2.. {
            if !folder.join(format!("{name}.{PROJECT}")).exists() {
                break;
            }
            name = format!("{}{} {number}", self.title, purpose.addition().trim_end_matches(" 2"));
        }
        self.path = PathField::default();
        self.path.text = folder.join(format!("{name}.{PROJECT}")).display().to_string();
        self.sheet = Some(Sheet::Keep(purpose));
    }

    /// What keeps a project from being made there.
    pub(crate) fn fault_of_place(path: &Path) -> Option<String> {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let fault = if path.file_name().is_none() || path.is_dir() {
            "Name a file, not a folder"
        } else if path.exists() {
            "There is a file already: choose another name"
        } else if folder.is_some_and(|folder| !folder.is_dir()) {
            "There is no such folder"
        } else {
            return None;
        };
        Some(fault.to_owned())
    }

    /// What may go wrong with a place that can be: one line.
    pub(crate) fn warning_of_place(path: &Path) -> Option<&'static str> {
        place_of(path).warning()
    }

    /// True while the document is on its way into another file.
    pub(crate) fn is_being_kept(&self) -> bool {
        self.tasks.goes_on(Purpose::Keep.doing())
    }

    /// Does with a place what it was asked for.
    pub(crate) fn take_place(&mut self, purpose: Purpose, path: PathBuf) {
        if self.tasks.goes_on(purpose.doing()) {
            self.notices.note("That goes on already: wait for it or stop it first");
            return;
        }
        if self.on_disk.is_none() && self.is_history_coming() {
            self.notices.note("The history is still being read: try again in a moment");
            return;
        }
        self.files.fault = None;
        match purpose {
            Purpose::Keep | Purpose::GoOn if self.on_disk.is_some() => self.go_on_in(path),
            Purpose::Keep | Purpose::GoOn => self.keep_in(path),
            Purpose::Copy => self.leave_copy(path),
            Purpose::Pack => self.pack_into(path),
        }
    }

    /// The task's line; what was told of it before is no longer true.
    pub(super) fn begin_line(&mut self, purpose: Purpose, path: &Path) -> String {
        let label = format!("{} {}", purpose.doing(), shown_name(path));
        self.notices.settled(&label);
        label
    }

    /// Makes a project of what is open; from then on each edit goes into it.
    fn keep_in(&mut self, path: PathBuf) {
        let label = self.begin_line(Purpose::Keep, &path);
        let (changes, history) = self.everything();
        let opened = self.opened;
        let job = self.editor.start_awaited(move |_observer| {
            let project = Project::create_of(&path, &changes).map_err(EditorError::outside)?;
            OnDisk::new(project, &history, Vec::new()).map_err(EditorError::outside)
        });
        self.tasks.add(label, job, move |desk, on_disk: OnDisk| {
            if desk.opened == opened {
                desk.let_go_of_untitled();
                desk.on_disk = Some(on_disk);
                desk.has_name();
            }
        });
    }

    /// All that a new file is to hold, as memory has it.
    pub(super) fn everything(&self) -> (Changes, History) {
        let history = self.editor.history().clone();
        let edits = journal::edits_after(&self.editor, 0);
        let view_state = self.view_state(false).to_text();
        (Changes { edits, view_state, ..Changes::of_history(&history) }, history)
    }

    /// A file of the program's own that was begun meanwhile is no longer needed.
    fn let_go_of_untitled(&mut self) {
        let Some(old) = self.on_disk.take() else { return };
        drop(self.editor.start_awaited(move |_observer| {
            let (path, is_untitled) = (old.path.clone(), old.is_untitled);
            drop(old);
            if is_untitled {
                super::untitled::remove(&path);
            }
            Ok(())
        }));
    }

    /// The project goes on in a copy of itself. A file of the program's own is then no longer needed.
    fn go_on_in(&mut self, path: PathBuf) {
        let Some(on_disk) = &self.on_disk else { return };
        let (left, is_untitled) = (on_disk.path.clone(), on_disk.is_untitled);
        let to = path.clone();
        let asked = asked_of(&on_disk.keeper, move |project, observer| {
            project.go_on_in(&to, observer)?;
            if is_untitled {
                super::untitled::remove(&left);
            }
            Ok(())
        });
        let label = self.begin_line(Purpose::GoOn, &path);
        let opened = self.opened;
        let job = self.editor.start_awaited(move |observer| asked.wait(observer));
        self.tasks.add(label, job, move |desk, Copied| {
            if desk.opened == opened
                && let Some(on_disk) = &mut desk.on_disk
            {
                (on_disk.path, on_disk.is_untitled) = (path, false);
                desk.has_name();
            }
        });
    }

    /// The document has a file with a name from now on.
    fn has_name(&mut self) {
        let Some(on_disk) = &self.on_disk else { return };
        let path = on_disk.path.clone();
        self.title = path.file_stem().unwrap_or_default().to_string_lossy().into();
        self.files.looked_at = None;
        self.files.small_pictures.forget();
        self.remember_recent(path);
    }
}
