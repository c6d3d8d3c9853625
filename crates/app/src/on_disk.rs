//! The project file that the open document is in: whatever changes is written at once, beside the window.

use std::path::{Path, PathBuf};

use document::History;
use editor::{Editor, EditorError, Settings};
use raster::{Observer, Share};
use store::{Access, Changes, Keeper, Opened as Found, Project, StoreError};

use crate::desk::{Desk, Sheet};
use crate::opening::{Opened, drawable, shown_name};
use crate::path_field::PathField;

/// The ending of project files.
pub(crate) const PROJECT: &str = "scumble";

/// What task and notices of it begin with.
const KEEPING: &str = "Keeping";

/// See the module.
#[derive(Debug)]
pub(crate) struct OnDisk {
    /// The file.
    pub(crate) path: PathBuf,
    keeper: Keeper,
    /// The history that was handed over last.
    handed: (u64, u64),
}

/// What tells one state of a history from the next: the numbers of its present and its last entry.
fn state_of(history: &History) -> (u64, u64) {
    let (mut entries, present) = history.entries();
    let shown = entries.nth(present).map_or(0, |entry| entry.number);
    (shown, entries.last().map_or(shown, |entry| entry.number))
}

impl OnDisk {
    /// A project that holds this history already.
    fn new(project: Project, history: &History) -> Result<Self, StoreError> {
        let path = project.path().to_owned();
        Ok(Self { path, keeper: Keeper::start(project)?, handed: state_of(history) })
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
}

/// Reads a project. One that is open elsewhere, or is damaged, is shown and not written.
pub(crate) fn read(
    path: &Path,
    settings: Settings,
    observer: &dyn Observer,
) -> Result<Opened, EditorError> {
    let mut faults = Vec::new();
    let opened = match Project::open(path, Access::ReadWrite) {
        Err(error @ StoreError::InUse(_)) => {
            faults.push(format!("{error}. It is shown here; what you change is not in that file"));
            Project::open(path, Access::ReadOnly)
        }
        other => other,
    };
    let Found { project, history, damage, .. } = opened.map_err(EditorError::outside)?;
    observer.check()?;
    if let Some(first) = damage.first() {
        let (name, count) = (shown_name(path), damage.len());
        faults.push(format!(
            "{name} is damaged in {count} places, {first}. What can be read is shown, and nothing is written to \
             it: keep it in another place (Ctrl+S)"
        ));
    }
    let on_disk = faults.is_empty().then(|| OnDisk::new(project, &history)).transpose();
    let editor = Editor::resume(history, settings)?;
    // It may have been left before its import.
    let mesh = match &editor.document().model {
        Some(_) => {
            let surface = editor.surface(&Share::new(observer, 1, 3, 4))?;
            Some(drawable(&surface, &Share::new(observer, 3, 4, 4))?)
        }
        None => None,
    };
    let title = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let on_disk = on_disk.map_err(EditorError::outside)?;
    Ok(Opened { editor, mesh, title, notes: Vec::new(), faults, on_disk })
}

impl Desk {
    /// Once a frame: hands over what changed, and tells once where it can't be written.
    pub(crate) fn keep_on_disk(&mut self) {
        let Some(on_disk) = &mut self.on_disk else { return };
        let now = state_of(self.editor.history());
        if now != on_disk.handed {
            on_disk.handed = now;
            on_disk.keeper.keep(Changes::of_history(self.editor.history()));
        }
        if let Some(fault) = on_disk.keeper.progress().fault {
            let name = shown_name(&on_disk.path);
            self.notices.error(format!(
                "{name}: {fault}. Nothing more is written to it: keep your work in another place (Ctrl+S)"
            ));
            self.on_disk = None;
        }
    }

    /// True where something was painted or changed that no file has yet.
    pub(crate) fn has_unkept_work(&self) -> bool {
        match &self.on_disk {
            Some(on_disk) => on_disk.handed != state_of(self.editor.history()),
            None => self.has_unexported_work(),
        }
    }

    /// Asks for a place for the project, or says where it is.
    pub(crate) fn ask_where_to_keep(&mut self) {
        if let Some(on_disk) = &self.on_disk {
            let path = on_disk.path.display();
            self.notices.note(format!("Everything is on disk, each edit at once: {path}"));
            return;
        }
        if self.document().model.is_none() {
            self.notices.note("Open a model first");
            return;
        }
        let folder = PathBuf::from(self.export.folder.trim());
        let folder = folder.parent().map(Path::to_path_buf).unwrap_or_default();
        let text = folder.join(format!("{}.{PROJECT}", self.title)).display().to_string();
        self.path = PathField::default();
        self.path.text = text;
        self.sheet = Some(Sheet::Keep);
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

    /// Makes a project of what is open; from then on each edit goes into it.
    pub(crate) fn keep_in(&mut self, path: PathBuf) {
        let label = format!("{KEEPING} {}", shown_name(&path));
        if self.tasks.goes_on(KEEPING) {
            return;
        }
        self.notices.settled(&label);
        let history = self.editor.history().clone();
        let opened = self.opened;
        let job = self.editor.start_awaited(move |_observer| {
            let project = Project::create(&path, &history).map_err(EditorError::outside)?;
            OnDisk::new(project, &history).map_err(EditorError::outside)
        });
        self.tasks.add(label, job, move |desk, on_disk: OnDisk| {
            if desk.opened == opened {
                desk.title = on_disk.path.file_stem().unwrap_or_default().to_string_lossy().into();
                desk.remember_recent(on_disk.path.clone());
                desk.on_disk = Some(on_disk);
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use egui::{Key, Modifiers};
    use egui_kittest::Harness;
    use egui_kittest::kittest::Queryable as _;

    use super::*;
    use crate::commands::{Command, FileCommand, LayerCommand};
    use crate::preferences::Preferences;
    use crate::testing::{bell_desk, harness as harness_of};

    /// Frames until it is so.
    fn until(harness: &mut Harness<'_, Desk>, so: impl Fn(&Desk) -> bool) {
        let begun = Instant::now();
        while !so(harness.state()) {
            harness.step();
            assert!(begun.elapsed() < Duration::from_mins(2));
            std::thread::yield_now();
        }
    }

    fn is_all_on_disk(desk: &Desk) -> bool {
        desk.on_disk.as_ref().is_some_and(OnDisk::is_all) && !desk.has_unkept_work()
    }

    /// The bell, kept in a project by hand.
    fn kept(folder: &Path) -> (Harness<'static, Desk>, PathBuf) {
        let mut harness = harness_of(bell_desk(), [1280.0, 800.0]);
        harness.run_steps(4);
        harness.key_press_modifiers(Modifiers::COMMAND, Key::S);
        harness.run_steps(4);
        let path = folder.join("tower.scumble");
        harness.state_mut().path.text = folder.join("tower").display().to_string();
        harness.key_press(Key::Enter);
        until(&mut harness, is_all_on_disk);
        (harness, path)
    }

    fn history_of(path: &Path) -> History {
        let found = Project::open(path, Access::ReadOnly).unwrap();
        assert_eq!(found.damage, []);
        found.history
    }

    #[test]
    fn what_is_kept_once_has_each_edit_at_once_and_goes_on_where_it_was_left() {
        let folder = tempfile::tempdir().unwrap();
        let (mut harness, path) = kept(folder.path());
        harness.step();
        assert!(harness.query_by_label("tower, all on disk").is_some());
        let before = history_of(&path).entries().0.len();
        harness.state_mut().perform(Command::Layer(LayerCommand::AddPainted));
        harness.state_mut().perform(Command::Layer(LayerCommand::Duplicate));
        harness.state_mut().perform(Command::File(FileCommand::Undo));
        until(&mut harness, is_all_on_disk);
        let history = history_of(&path);
        assert_eq!((history.entries().0.len(), history.entries().1), (before + 2, before));
        // Nothing is lost by closing, so nothing is asked.
        harness.state_mut().close();
        assert!(harness.state().closed);
        let layers = harness.state().material().unwrap().stack.walk().count();
        drop(harness);

        let mut harness = harness_of(Desk::new(Preferences::default()).unwrap(), [1280.0, 800.0]);
        harness.state_mut().open_file(path.clone());
        until(&mut harness, is_all_on_disk);
        let found = |desk: &Desk| desk.material().unwrap().stack.walk().count();
        assert_eq!(found(harness.state()), layers);
        harness.state_mut().perform(Command::File(FileCommand::Redo));
        assert_eq!(found(harness.state()), layers + 1);
        harness.state_mut().perform(Command::File(FileCommand::Undo));
        harness.state_mut().perform(Command::File(FileCommand::Undo));
        assert_eq!(found(harness.state()), layers - 1);
        until(&mut harness, is_all_on_disk);
        assert_eq!(history_of(&path).entries().1, before - 1);
    }

    #[test]
    fn a_project_that_another_window_has_open_is_shown_and_not_written() {
        let folder = tempfile::tempdir().unwrap();
        let (mut first, path) = kept(folder.path());
        let again = path.clone();
        let mut second = harness_of(Desk::new(Preferences::default()).unwrap(), [1280.0, 800.0]);
        second.state_mut().open_file(path);
        until(&mut second, |desk| desk.document().model.is_some());
        assert!(second.state().on_disk.is_none());
        let (first, second) = (&mut first, &mut second);
        first.state_mut().open_file(again);
        assert!(!first.state().tasks.goes_on("Opening") && first.state().on_disk.is_some());
        let told = second.state().notices.all()[0].text.clone();
        assert!(told.contains("what you change is not in that file"), "{told}");
    }

    #[test]
    fn damage_is_told_until_it_is_read_and_a_damaged_file_is_not_written() {
        let folder = tempfile::tempdir().unwrap();
        let (mut first, path) = kept(folder.path());
        first.state_mut().perform(Command::Layer(LayerCommand::AddPainted));
        until(&mut first, is_all_on_disk);
        drop(first);
        let mut bytes = std::fs::read(&path).unwrap();
        // A byte of each page at the end, where the latest is.
        let (end, page) = (bytes.len(), 16_384);
        for at in (end * 3 / 4..end).step_by(page) {
            bytes[at + 5_000] ^= 0x55;
        }
        std::fs::write(&path, &bytes).unwrap();

        let mut second = harness_of(Desk::new(Preferences::default()).unwrap(), [1280.0, 800.0]);
        second.state_mut().open_file(path.clone());
        until(&mut second, |desk| !desk.notices.all().is_empty());
        let told = &second.state().notices.all()[0];
        assert_eq!(told.gravity, crate::notices::Gravity::Error, "{}", told.text);
        assert!(told.text.contains("damaged") || told.text.contains("lost"), "{}", told.text);
        assert!(second.state().on_disk.is_none());
        if second.state().document().model.is_some() {
            second.state_mut().perform(Command::Layer(LayerCommand::AddPainted));
            second.run_steps(8);
        }
        drop(second);
        // All but the database's head, which says how it was opened last.
        assert!(std::fs::read(&path).unwrap()[100..] == bytes[100..], "it stays as it was");
    }

    #[test]
    fn a_project_that_was_left_before_its_import_opens_and_goes_on() {
        let folder = tempfile::tempdir().unwrap();
        let (mut first, path) = kept(folder.path());
        assert!(first.state_mut().editor.go_to(0));
        assert!(first.state().document().model.is_none());
        until(&mut first, is_all_on_disk);
        drop(first);
        let mut second = harness_of(Desk::new(Preferences::default()).unwrap(), [1280.0, 800.0]);
        second.state_mut().open_file(path);
        until(&mut second, is_all_on_disk);
        assert!(second.state().notices.all().is_empty());
        second.state_mut().perform(Command::File(FileCommand::Redo));
        second.run_steps(4);
        assert!(second.state().document().model.is_some());
    }

    #[test]
    fn a_place_that_can_not_be_is_told_before_anything_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.scumble");
        assert_eq!(Desk::fault_of_place(&file), None);
        std::fs::write(&file, "").unwrap();
        for place in
            [file, folder.path().to_owned(), folder.path().join("no/a.scumble"), PathBuf::new()]
        {
            assert!(Desk::fault_of_place(&place).is_some(), "{}", place.display());
        }
    }
}
