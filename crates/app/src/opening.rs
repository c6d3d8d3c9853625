//! Bringing a model onto the desk: read, prepared and made drawable in the background, then shown at once.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use document::wire::EditList;
use document::{Document, Edit, MaterialEdit, MaterialId, NewContent};
use editor::{Editor, EditorError, Prepared, Settings};
use exchange::{Embedded, ExchangeError, Imported, read_model, read_model_bytes};
use layers::Place;
use raster::{Observer, Share, TextureSize, Unobserved};
use store::Access;
use surface::Surface;
use viewport::{MeshBuffers, ViewportError};

use crate::chosen::Chosen;
use crate::desk::{Desk, Leaving};
use crate::on_disk::{self, Found, OnDisk, PROJECT, Rest, ViewState};
use crate::panes::LayerTable;

/// What the tasks' lines begin with.
const OPENING: &str = "Opening";
const PAINTING: &str = "Painting";

/// A painted model that is a part of the program.
#[derive(Debug, Clone, Copy)]
pub struct Demo {
    /// Its file's name, with an ending that says its format.
    pub name: &'static str,
    /// The file.
    pub model: &'static [u8],
    /// The files that it names, with their names.
    pub beside: &'static [(&'static str, &'static [u8])],
    /// The edits that paint it, as a recorded list.
    pub edits: &'static str,
}

/// A document that is ready to be shown.
#[derive(Debug)]
pub(crate) struct Opened {
    /// The document.
    pub(crate) editor: Editor,
    /// Its model as it is drawn, where it has one.
    pub(crate) mesh: Option<MeshBuffers>,
    /// What it is called.
    pub(crate) title: String,
    /// What the person is to know of it.
    pub(crate) notes: Vec<String>,
    /// What the person must read of it.
    pub(crate) faults: Vec<String>,
    /// The project file that it is in.
    pub(crate) on_disk: Option<OnDisk>,
    /// The project that it was read from and is not in, as that is only looked at.
    pub(crate) looked_at: Option<PathBuf>,
    /// How it was looked at when it was left.
    pub(crate) view: Option<ViewState>,
    /// What of the project is read later.
    pub(crate) rest: Option<Rest>,
}

impl Desk {
    /// Opens a model, unless what was painted would be lost: then it asks first.
    pub(crate) fn open_file(&mut self, path: PathBuf) {
        if self.on_disk.as_ref().is_some_and(|on_disk| on_disk.is_at(&path)) {
            self.notices.note(format!("{} is open already", shown_name(&path)));
            return;
        }
        self.leave_for(Leaving::Open(path));
    }

    /// Opens a file in place of what is there.
    pub(crate) fn open_file_at_once(&mut self, path: PathBuf) {
        self.open_with(path, Access::ReadWrite);
    }

    /// Opens a project to look at it only.
    pub(crate) fn look_at(&mut self, path: PathBuf) {
        self.open_with(path, Access::ReadOnly);
    }

    fn open_with(&mut self, path: PathBuf, access: Access) {
        self.stop_opening();
        let (settings, edge) = (self.settings(), self.preferences.texture_edge);
        let read = path.clone();
        let job = self.editor.start_awaited(move |observer| {
            if read.extension().is_some_and(|ending| ending.eq_ignore_ascii_case(PROJECT)) {
                return on_disk::read(&read, access, settings, observer);
            }
            let imported = read_model(&read, &Share::new(observer, 0, 1, 2)).map_err(outside)?;
            let made = opened(imported, &read, edge, settings, &Share::new(observer, 1, 2, 2))?;
            Ok(Found::Opened(Box::new(made)))
        });
        let label = format!("{OPENING} {}", shown_name(&path));
        let asked = self.asked;
        self.tasks.add(label, job, move |desk, found: Found| {
            if desk.asked != asked {
                return;
            }
            match found {
                Found::Opened(opened) => desk.put_file(*opened, path),
                Found::InUse(path) => desk.files.in_use = Some(path),
            }
        });
    }

    fn put_file(&mut self, opened: Opened, path: PathBuf) {
        let is_mine = self.files.untitled.is_mine(&path);
        self.put(opened);
        if is_mine {
            self.files.untitled.left.retain(|left| left.path != path);
            if let Some(on_disk) = &mut self.on_disk {
                on_disk.is_untitled = true;
            }
            self.suggest_export(None);
        } else {
            self.suggest_export(Some(&path));
            self.remember_recent(path);
        }
    }

    /// What is being opened is no longer wanted.
    fn stop_opening(&mut self) {
        self.asked += 1;
        self.tasks.stop(OPENING);
        self.tasks.stop(PAINTING);
    }

    /// Opens the demo: bare at once, and painted as soon as that is done.
    pub(crate) fn open_demo(&mut self, demo: Demo) {
        if self.demo.is_some() {
            self.leave_for(Leaving::Demo);
        } else {
            self.open_demo_at_once(demo);
        }
    }

    /// Opens the demo in place of what is there.
    pub(crate) fn open_demo_at_once(&mut self, demo: Demo) {
        self.stop_opening();
        let (settings, edge) = (self.settings(), self.preferences.texture_edge);
        let job = self.editor.start_awaited(move |observer| {
            let imported = embedded(&demo, &Share::new(observer, 0, 1, 4))?;
            opened(imported, demo.name.as_ref(), edge, settings, &Share::new(observer, 1, 4, 4))
        });
        let asked = self.asked;
        self.tasks.add(format!("{OPENING} the harbour bell"), job, move |desk, bare: Opened| {
            if desk.asked != asked {
                return;
            }
            desk.put(bare);
            desk.suggest_export(None);
            desk.paint_demo(demo, settings, edge);
        });
    }

    fn paint_demo(&mut self, demo: Demo, settings: Settings, edge: u32) {
        let Ok(model) = self.document().model().cloned() else { return };
        let asked = self.asked;
        let job = self.editor.start_awaited(move |observer| {
            let (list, size) = (EditList::parse(demo.edits)?, TextureSize::new(edge)?);
            let mut editor = Editor::new(settings)?;
            let edits = EditsOnly { observer, count: list.edits.len() as u64 };
            editor.apply_list(&resized(list, size), &model, size, &edits)?;
            editor.begin_history();
            Ok(editor)
        });
        self.tasks.add(format!("{PAINTING} the harbour bell"), job, move |desk, painted: Editor| {
            if desk.asked != asked {
                return;
            }
            if desk.has_changed() || desk.on_disk.is_some() {
                desk.notices.note(
                    "The harbour bell was left as you are painting it; open it again to see it painted.",
                );
                return;
            }
            desk.replace_editor(painted);
        });
    }

    /// Shows a document in place of what is there.
    pub(crate) fn put(&mut self, opened: Opened) {
        self.mesh = opened.mesh;
        self.mesh_number += 1;
        self.replace_editor(opened.editor);
        self.title = opened.title;
        self.on_disk = opened.on_disk;
        (self.files.looked_at, self.files.view) = (opened.looked_at, opened.view);
        self.files.rest = opened.rest;
        for fault in opened.faults {
            self.notices.error(fault);
        }
        for note in opened.notes {
            self.notices.note(note);
        }
    }

    /// Shows another document in place of what is there.
    pub(crate) fn replace_editor(&mut self, editor: Editor) {
        self.look_back_at_untitled();
        self.let_go_of_file();
        self.editor = editor;
        self.opened += 1;
        self.files.begun = on_disk::state_of(self.editor.history());
        (self.files.looked_at, self.files.view) = (None, None);
        self.files.rest = None;
        self.chosen = Chosen::of(self.document(), MaterialId(0));
        self.layer_table = LayerTable::default();
        self.kept = self.document().clone();
        // What was under way belongs to the document that went.
        (self.stroke, self.gesture, self.under_pointer) = (None, None, None);
        (self.decal, self.laying, self.gradient) = (None, None, None);
        self.drop_tried();
        self.give_up_beside();
        self.symmetry_part = None;
        self.settle();
    }

    /// True where something was painted or changed that no file has.
    pub(crate) fn has_unexported_work(&self) -> bool {
        !is_same(self.document(), &self.kept)
    }

    /// What an editor may use, as the preferences have it.
    pub(crate) fn settings(&self) -> Settings {
        let memory_bytes = self.preferences.memory_mib as usize * (1 << 20);
        Settings { memory_bytes, ..Settings::default() }
    }

    /// Puts a file first among those that were open lately.
    pub(crate) fn remember_recent(&mut self, path: PathBuf) {
        /// How many are kept.
        const MOST: usize = 10;
        let path = std::path::absolute(&path).unwrap_or(path);
        let recent = &mut self.preferences.recent;
        recent.retain(|known| *known != path);
        recent.insert(0, path);
        recent.truncate(MOST);
    }
}

/// Tells of the edits of a list only, not of what comes before the first.
struct EditsOnly<'a> {
    observer: &'a dyn Observer,
    count: u64,
}

impl Observer for EditsOnly<'_> {
    fn progress(&self, done: u64, total: u64) {
        if total == self.count {
            self.observer.progress(done, total);
        }
    }

    fn stopped(&self) -> bool {
        self.observer.stopped()
    }
}

fn is_same(a: &Document, b: &Document) -> bool {
    a.materials.len() == b.materials.len()
        && a.materials.iter().zip(&b.materials).all(|(a, b)| Arc::ptr_eq(a, b))
}

fn embedded(demo: &Demo, observer: &dyn Observer) -> Result<Imported, EditorError> {
    let beside = Embedded(demo.beside);
    read_model_bytes(demo.name, demo.model, &beside, observer).map_err(outside)
}

fn opened(
    imported: Imported,
    path: &Path,
    edge: u32,
    settings: Settings,
    observer: &dyn Observer,
) -> Result<Opened, EditorError> {
    let size = TextureSize::new(edge)?;
    let prepared = Prepared::of(Arc::new(imported.model), size, &Share::new(observer, 0, 3, 4))?;
    let mesh = Some(drawable(prepared.surface(), &Share::new(observer, 3, 4, 4))?);
    let mut editor = Editor::new(settings)?;
    editor.import(prepared)?;
    add_first_layers(&mut editor)?;
    editor.begin_history();
    let title = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let (notes, faults) = (imported.notes, Vec::new());
    let (on_disk, looked_at, view, rest) = (None, None, None, None);
    Ok(Opened { editor, mesh, title, notes, faults, on_disk, looked_at, view, rest })
}

/// A surface as it is drawn.
pub(crate) fn drawable(
    surface: &Surface,
    observer: &dyn Observer,
) -> Result<MeshBuffers, EditorError> {
    MeshBuffers::build(surface, observer).map_err(|error| match error {
        ViewportError::Cancelled(stopped) => EditorError::Cancelled(stopped),
        error => EditorError::outside(error),
    })
}

/// Gives each material a layer, so that the first drag paints.
fn add_first_layers(editor: &mut Editor) -> Result<(), EditorError> {
    for material in editor.document().materials.clone() {
        let layer = editor.free_layer_id(material.id);
        let place = Place { parent: None, index: material.stack.layers.len() };
        let (name, content) = ("Layer 1".to_owned(), NewContent::Painted);
        let edit = MaterialEdit::AddLayer { layer, name, content, place };
        editor.apply(&Edit::Material(material.id, edit), &Unobserved)?;
    }
    Ok(())
}

/// The list with its import at another size.
fn resized(mut list: EditList, size: TextureSize) -> EditList {
    if let Some(first) = list.edits.first_mut()
        && let document::wire::WireEdit::Import { texture_size, .. } = &mut first.edit
    {
        *texture_size = size.edge();
    }
    list
}

/// An error of files as one of a job.
pub(crate) fn outside(error: ExchangeError) -> EditorError {
    match error {
        ExchangeError::Cancelled(stopped) => EditorError::Cancelled(stopped),
        error => EditorError::outside(error),
    }
}

/// A file's name for a person.
pub(crate) fn shown_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
