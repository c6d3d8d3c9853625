//! Work that has no name yet: from its first change on it is in a file of the program's own, so that nothing is lost
//! whatever ends the program. What was left there is offered when the program starts again.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use editor::{EditorError, Job};
use egui::{ColorImage, TextureHandle};
use store::{Changes, Glance, Project, is_in_use};

use super::picture::decoded;
use super::{OnDisk, PROJECT, ViewState, journal};
use crate::desk::{Desk, Leaving};
use crate::notices::Notices;
use crate::opening::shown_name;

/// The task in which work that was left is looked for.
pub(crate) const LOOKING: &str = "Looking for work that was left";

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Untitled {
    /// Where its files are; none where the platform has no place for them.
    pub(crate) folder: Option<PathBuf>,
    /// What was left by windows that are gone, the latest first.
    pub(crate) left: Vec<Left>,
    /// A file that is being made, and the document that it is of.
    coming: Option<(u64, Job<OnDisk>)>,
    /// The document whose file could not be made: it is not tried again.
    refused: Option<u64>,
    /// It was told that files can't be made.
    is_told: bool,
}

/// Work that was left.
#[derive(Clone)]
pub(crate) struct Left {
    /// Its file.
    pub(crate) path: PathBuf,
    /// What the model is called.
    pub(crate) title: String,
    /// Since when it is left.
    pub(crate) ago: Duration,
    /// Edits in it.
    pub(crate) edits: u64,
    /// The model as it was looked at last.
    pub(crate) picture: Option<ColorImage>,
    /// The picture, once it was shown.
    pub(crate) texture: Option<TextureHandle>,
    /// It was asked to be discarded, and is to be asked for once more.
    pub(crate) is_doubted: bool,
}

impl std::fmt::Debug for Left {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Left").field("path", &self.path).finish_non_exhaustive()
    }
}

impl Untitled {
    /// The platform's folder for it.
    pub(crate) fn platform_folder() -> Option<PathBuf> {
        Some(dirs::data_dir()?.join("scumble").join("untitled"))
    }

    /// True for a file of the program's own.
    pub(crate) fn is_mine(&self, path: &Path) -> bool {
        path.parent().is_some() && path.parent() == self.folder.as_deref()
    }

    /// A file is being made.
    pub(crate) fn is_coming(&self) -> bool {
        self.coming.is_some()
    }

    /// Tells once that it can't be written.
    pub(super) fn refused(&mut self, notices: &mut Notices, why: &dyn std::fmt::Display) {
        if !std::mem::replace(&mut self.is_told, true) {
            notices.error(format!(
                "Work without a name can't be written to this disk: {why}. It goes on in memory: keep it in a file \
                 (Ctrl+S)"
            ));
        }
    }
}

impl Desk {
    /// Makes a file of its own for work that is in none, once something was changed.
    pub(super) fn begin_untitled(&mut self) {
        let Some(folder) = self.files.untitled.folder.clone() else { return };
        let untitled = &self.files.untitled;
        let is_settled = self.on_disk.is_some()
            || untitled.is_coming()
            || self.is_being_kept()
            || self.is_history_coming();
        if is_settled || untitled.refused == Some(self.opened) || !self.has_changed() {
            return;
        }
        if self.document().model.is_none() || self.editor.is_pen_down() {
            return;
        }
        let history = self.editor.history().clone();
        let changes = Changes {
            edits: journal::edits_after(&self.editor, 0),
            view_state: self.view_state(true).to_text(),
            ..Changes::of_history(&history)
        };
        let title = self.title.clone();
        let job = self.editor.start_awaited(move |_observer| {
            let made = create(&folder, &title, &changes)?;
            let on_disk = OnDisk::new(made, &history, Vec::new()).map_err(EditorError::outside)?;
            Ok(OnDisk { is_untitled: true, is_tidy: false, ..on_disk })
        });
        self.files.untitled.coming = Some((self.opened, job));
        if let Some(path) = self.files.looked_at.take() {
            let name = shown_name(&path);
            self.notices.note(format!(
                "{name} stays as it is. What you change is kept apart from it, without a name yet"
            ));
        }
    }

    /// Takes the file that was made.
    pub(super) fn take_untitled(&mut self) {
        let Some((opened, job)) = &self.files.untitled.coming else { return };
        let (opened, Some(made)) = (*opened, job.take()) else { return };
        self.files.untitled.coming = None;
        match made {
            Ok(on_disk) if opened == self.opened && self.on_disk.is_none() => {
                self.on_disk = Some(on_disk);
            }
            // Another document came meanwhile: it is left where it is.
            Ok(on_disk) => drop(on_disk),
            Err(error) => {
                self.files.untitled.refused = Some(opened);
                self.files.untitled.refused(&mut self.notices, &error);
            }
        }
    }

    /// What is left for another document is offered from now on.
    pub(crate) fn look_back_at_untitled(&mut self) {
        let Some(on_disk) = self.on_disk.as_ref().filter(|on_disk| on_disk.is_untitled) else {
            return;
        };
        let left = Left {
            path: on_disk.path.clone(),
            title: self.title.clone(),
            ago: Duration::ZERO,
            edits: self.editor.history().entries().0.len() as u64 - 1,
            picture: None,
            texture: None,
            is_doubted: false,
        };
        let name = self.title.clone();
        self.files.untitled.left.insert(0, left);
        self.notices.note(format!("{name} is kept without a name: Open has it (Ctrl+O)"));
    }

    /// Looks for work that was left, then begins with it or with something else.
    pub(crate) fn look_for_left(&mut self, then: impl FnOnce(&mut Self) + 'static) {
        let Some(folder) = self.files.untitled.folder.clone() else { return then(self) };
        let job = self.editor.start_awaited(move |_observer| Ok(left_in(&folder)));
        self.tasks.add(LOOKING, job, move |desk, left| {
            desk.files.untitled.left = left;
            then(desk);
        });
    }

    /// Goes on with work that was left.
    pub(crate) fn go_on_with(&mut self, path: &Path) {
        self.leave_for(Leaving::Open(path.to_owned()));
    }

    /// Discards work that was left, for good.
    pub(crate) fn discard(&mut self, path: &Path) {
        self.files.untitled.left.retain(|left| left.path != path);
        let path = path.to_owned();
        let job = self.editor.start_awaited(move |_observer| {
            remove(&path);
            Ok(())
        });
        self.tasks.add("Discarding", job, |_desk, ()| {});
    }
}

/// Makes a file in a folder, which is made where it is missing.
fn create(folder: &Path, title: &str, changes: &Changes) -> Result<Project, EditorError> {
    fs::create_dir_all(folder).map_err(|error| {
        EditorError::outside(std::io::Error::new(
            error.kind(),
            format!("{}: {error}", folder.display()),
        ))
    })?;
    let now = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
    let plain = |letter: char| if letter.is_alphanumeric() { letter } else { '-' };
    let title: String = title.chars().take(40).map(plain).collect();
    let mut number = now.as_millis();
    loop {
        let path = folder.join(format!("{title}-{number}.{PROJECT}"));
        match Project::create_of(&path, changes) {
            Err(store::StoreError::Exists(_) | store::StoreError::InUse(_)) => number += 1,
            made => return made.map_err(EditorError::outside),
        }
    }
}

/// Takes a file away with what may lie beside it.
pub(super) fn remove(path: &Path) {
    if is_in_use(path).unwrap_or(true) {
        return;
    }
    // What stays is offered again.
    drop(fs::remove_file(path));
    for beside in ["-wal", "-shm", "-journal"] {
        let mut name = path.as_os_str().to_owned();
        name.push(beside);
        drop(fs::remove_file(name));
    }
}

/// What is in the folder, and in no other window's hands.
fn left_in(folder: &Path) -> Vec<Left> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let paths = entries.filter_map(|entry| Some(entry.ok()?.path()));
    let projects = paths.filter(|path| path.extension().is_some_and(|ending| ending == PROJECT));
    let mut left: Vec<Left> = projects.filter_map(|path| left_at(&path)).collect();
    left.sort_by_key(|left| left.ago);
    left
}

fn left_at(path: &Path) -> Option<Left> {
    if is_in_use(path).ok()? {
        return None;
    }
    let changed = |path: &Path| fs::metadata(path).ok()?.modified().ok();
    let mut log = path.as_os_str().to_owned();
    log.push("-wal");
    let latest = changed(path)?.max(changed(Path::new(&log)).unwrap_or(SystemTime::UNIX_EPOCH));
    let ago = SystemTime::now().duration_since(latest).unwrap_or_default();
    // What can't be glanced at is offered too: opening it says what is wrong.
    let glance = Glance::at(path).unwrap_or_default();
    let view = glance.view_state.as_deref().and_then(ViewState::parse);
    let stem = path.file_stem()?.to_string_lossy().into_owned();
    let title = view.and_then(|view| view.title).unwrap_or(stem);
    let picture = glance.thumbnail.as_deref().and_then(decoded);
    let (path, edits) = (path.to_owned(), glance.edits);
    Some(Left { path, title, ago, edits, picture, texture: None, is_doubted: false })
}
