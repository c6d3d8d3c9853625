//! The editor: applies edits, goes back and forth, and gives what follows from the document.

use std::collections::BTreeMap;
use std::sync::Arc;

use brush::{Gesture, SurfacePath, resolve};
use document::wire::{EditList, ListedEdit, Reader, WireEdit, WireError, written};
use document::{
    Document, Edit, History, LayerEdit, MaterialEdit, MaterialId, Model, Surfaces, apply,
};
use layers::{Composite, LayerId};
use raster::Observer;
use surface::{Surface, TexelMap};

use crate::composites::Composites;
use crate::display::Displays;
use crate::label::label;
use crate::ledger::Packing;
use crate::maps::{channel_maps, unpainted};
use crate::masks::MasksOnShow;
use crate::pen::Pen;
use crate::preview::Preview;
use crate::selection_on_show::SelectionsOnShow;
use crate::{ChannelMap, Derived, EditorError, Job, Pools, Snapshot, Unpainted};

/// What an editor may use.
#[derive(Debug, Clone, Copy)]
pub struct Settings {
    /// Bytes of memory that everything together should take: see [`crate::Ledger`].
    pub memory_bytes: usize,
    /// Threads a pool; as many as the machine has processors when `None`.
    pub threads: Option<usize>,
}

impl Default for Settings {
    fn default() -> Self {
        Self { memory_bytes: 4 << 30, threads: None }
    }
}

/// One open document.
#[derive(Debug)]
pub struct Editor {
    pub(crate) history: History,
    /// What was done, as far as it can be written down. Cut short by undo.
    pub(crate) record: Vec<Option<Edit>>,
    pub(crate) derived: Arc<Derived>,
    pub(crate) composites: Composites,
    pub(crate) pools: Pools,
    pub(crate) memory_bytes: usize,
    /// What others hold on behalf of this document.
    pub(crate) outside_bytes: BTreeMap<&'static str, usize>,
    pub(crate) packing: Packing,
    /// The layer that is painted, or was last.
    pub(crate) active: Option<(MaterialId, LayerId)>,
    pub(crate) pen: Pen,
    pub(crate) preview: Option<Preview>,
    pub(crate) displays: Displays,
    pub(crate) masks: MasksOnShow,
    pub(crate) selections: SelectionsOnShow,
}

impl Editor {
    /// An empty document.
    ///
    /// # Errors
    /// [`EditorError::Threads`] when the system gives no threads.
    pub fn new(settings: Settings) -> Result<Self, EditorError> {
        Self::open(Document::default(), settings)
    }

    /// A document that is there already, with nothing to undo.
    ///
    /// # Errors
    /// [`EditorError::Threads`] when the system gives no threads.
    pub fn open(document: Document, settings: Settings) -> Result<Self, EditorError> {
        Self::resume(History::new(document), settings)
    }

    /// A document with its history, to go on where it was left.
    ///
    /// # Errors
    /// [`EditorError::Threads`] when the system gives no threads.
    pub fn resume(history: History, settings: Settings) -> Result<Self, EditorError> {
        let edits = history.entries().0.len() - 1;
        Ok(Self {
            history,
            record: vec![None; edits],
            derived: Arc::default(),
            composites: Composites::default(),
            pools: Pools::new(settings.threads)?,
            memory_bytes: settings.memory_bytes,
            outside_bytes: BTreeMap::new(),
            packing: Packing::default(),
            active: None,
            pen: Pen::default(),
            preview: None,
            displays: Displays::default(),
            masks: MasksOnShow::default(),
            selections: SelectionsOnShow::default(),
        })
    }

    /// The present document.
    pub fn document(&self) -> &Document {
        self.history.present()
    }

    /// The documents before and after.
    pub fn history(&self) -> &History {
        &self.history
    }

    /// Makes the edit's document the present one. What had been undone is gone.
    ///
    /// # Errors
    /// [`EditorError::Document`] when the edit is refused, [`EditorError::PenDown`] while a stroke goes on;
    /// nothing is changed then.
    pub fn apply(&mut self, edit: &Edit, observer: &dyn Observer) -> Result<(), EditorError> {
        self.check_pen_is_up()?;
        self.drop_preview();
        let Self { history, derived, pools, .. } = self;
        let made = pools.interactive(|| apply(history.present(), edit, &**derived, observer))?;
        if matches!(edit, Edit::Import { .. }) {
            self.forget_what_was_shown();
        }
        self.push(made, edit);
        Ok(())
    }

    /// Another model has come.
    pub(crate) fn forget_what_was_shown(&mut self) {
        self.composites.clear();
        self.displays.clear();
        self.masks.clear();
        self.selections.clear();
    }

    pub(crate) fn push(&mut self, made: Document, edit: &Edit) {
        self.preview = None;
        self.record.truncate(self.undone_from());
        // A baked field has no written form, and would be kept in memory for nothing.
        let is_field = matches!(edit, Edit::Material(_, MaterialEdit::Field(_)));
        self.record.push((!is_field).then(|| edit.clone()));
        if let Edit::Material(
            material,
            MaterialEdit::Layer(layer, LayerEdit::Paint(_) | LayerEdit::FillRegion(_)),
        ) = edit
        {
            self.active = Some((*material, *layer));
        }
        let label = label(edit, self.document());
        self.history.push(made, label);
    }

    /// How many edits led to the present document.
    pub(crate) fn undone_from(&self) -> usize {
        let (entries, present) = self.history.entries();
        let undone = entries.count() - 1 - present;
        self.record.len() - undone
    }

    /// Goes one edit back; false when there is none to go back to. While a stroke goes on or an edit is
    /// tried out, it takes that back.
    pub fn undo(&mut self) -> bool {
        self.cancel_stroke() || self.drop_preview() || self.history.undo()
    }

    /// Goes one edit forward; false when there is none, or while a stroke goes on.
    pub fn redo(&mut self) -> bool {
        self.drop_preview();
        self.check_pen_is_up().is_ok() && self.history.redo()
    }

    /// Goes to any entry of the history, 0 being the oldest that is kept; false when the document is there
    /// already, or there is no such entry. While a stroke goes on, it takes that back and goes nowhere.
    pub fn go_to(&mut self, entry: usize) -> bool {
        self.drop_preview();
        self.cancel_stroke() || self.history.go_to(entry)
    }

    /// Puts entries before the oldest of the history, as [`History::put_before`].
    pub fn put_before(&mut self, earlier: History) {
        let known = self.history.entries().0.len();
        self.history.put_before(earlier);
        let new = self.history.entries().0.len() - known;
        self.record.splice(0..0, std::iter::repeat_n(None, new));
    }

    /// Forgets how the present document came about, as far as undo goes: it is where a person begins.
    pub fn begin_history(&mut self) {
        self.history = History::new(self.document().clone());
    }

    /// Starts long work on the background threads, from whatever snapshot it holds.
    pub fn start<T: Send + 'static>(
        &self,
        work: impl FnOnce(&dyn Observer) -> Result<T, EditorError> + Send + 'static,
    ) -> Job<T> {
        self.pools.start(work)
    }

    /// Starts long work that a person waits for, as opening and exporting. On a busy machine
    /// [`Editor::start`] may wait long for its turn.
    pub fn start_awaited<T: Send + 'static>(
        &self,
        work: impl FnOnce(&dyn Observer) -> Result<T, EditorError> + Send + 'static,
    ) -> Job<T> {
        self.pools.start_awaited(work)
    }

    /// What led to the present document, as a list that gives it again.
    pub fn recorded(&self) -> EditList {
        let done = self.record[..self.undone_from()].iter().flatten();
        let written = done.filter_map(|edit| written(edit, self.document()));
        let edits = (3..).zip(written).map(|(line, edit)| ListedEdit { line, edit });
        let model = self.document().model.as_ref().map(|model| model.hash().to_string());
        EditList { model, edits: edits.collect(), files: Vec::new() }
    }

    /// Applies a recorded list. `model` is what its import brings in; a list without an import gets one
    /// at the size given.
    ///
    /// # Errors
    /// [`EditorError::List`] with the line of the edit that can't be read or was refused. The edits
    /// before it stay applied.
    pub fn apply_list(
        &mut self,
        list: &EditList,
        model: &Arc<Model>,
        size: raster::TextureSize,
        observer: &dyn Observer,
    ) -> Result<(), EditorError> {
        check_model(list, model)?;
        let starts_empty = self.document().model.is_none();
        let imports = matches!(list.edits.first(), Some(first) if matches!(first.edit, WireEdit::Import { .. }));
        if starts_empty && !imports {
            self.apply(&Edit::Import { model: Arc::clone(model), size }, observer)?;
        }
        let surface = self.derived.surface(model, observer)?;
        let total = list.edits.len() as u64;
        for (done, listed) in (1u64..).zip(&list.edits) {
            let at = |reason: String| WireError { line: listed.line, reason };
            let reader = Reader { document: self.document(), model, surface: &surface };
            let edit = reader.edit(&listed.edit).map_err(at)?;
            self.apply(&edit, &Quiet(observer)).map_err(|error| match error {
                stopped if stopped.is_cancelled() => raster::Cancelled.into(),
                EditorError::Document(refused) => at(refused.to_string()).into(),
                other => other,
            })?;
            self.settle_and_wait()?;
            observer.progress(done, total);
        }
        Ok(())
    }

    /// A layer id that the material does not use.
    pub fn free_layer_id(&self, material: MaterialId) -> LayerId {
        let stack = self.document().materials.get(material.0 as usize).map(|m| &m.stack);
        let highest = stack.and_then(|stack| stack.ids().max());
        highest.map_or(LayerId(0), |LayerId(id)| LayerId(id + 1))
    }

    /// The surface of the model.
    ///
    /// # Errors
    /// [`EditorError::Document`] without a model, or when the observer stops it.
    pub fn surface(&self, observer: &dyn Observer) -> Result<Arc<Surface>, EditorError> {
        let model = self.document().model()?;
        Ok(self.pools.interactive(|| self.derived.surface(model, observer))?)
    }

    /// Which point of the surface each texel of a material shows.
    ///
    /// # Errors
    /// [`EditorError::Document`] without such a material, or when the observer stops it.
    pub fn texel_map(
        &self,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Arc<TexelMap>, EditorError> {
        let size = self.document().material(material)?.size;
        let model = self.document().model()?;
        let made = self
            .pools
            .interactive(|| self.derived.texel_map(model, material.slot(), size, observer))?;
        Ok(made)
    }

    /// Where a gesture goes on the surface.
    ///
    /// # Errors
    /// [`EditorError::Brush`] for a gesture that is not valid.
    pub fn resolve(
        &self,
        gesture: &Gesture,
        observer: &dyn Observer,
    ) -> Result<SurfacePath, EditorError> {
        Ok(resolve(gesture, &*self.surface(observer)?)?)
    }

    /// The present document with what was derived from it, for work that goes on elsewhere meanwhile.
    pub fn snapshot(&self) -> Snapshot {
        let (derived, composites) = (Arc::clone(&self.derived), self.composites.clone());
        Snapshot::new(self.document().clone(), derived, composites)
    }

    /// A material's channels as its layers give them, exactly. Only tiles that changed since the last
    /// call are composited.
    ///
    /// # Errors
    /// [`EditorError::Layers`] when a mask reads a field that is not baked, or a tile can't be read.
    pub fn composite(
        &mut self,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Arc<Composite>, EditorError> {
        let Self { history, composites, pools, .. } = self;
        pools.interactive(|| composites.of(history.present(), material, observer))
    }

    /// A material's channels as padded images.
    ///
    /// # Errors
    /// As [`Editor::composite`].
    pub fn maps(
        &mut self,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Vec<ChannelMap>, EditorError> {
        let composite = self.composite(material, observer)?;
        let Self { history, derived, pools, .. } = self;
        pools.interactive(|| {
            channel_maps(history.present(), material, &composite, &**derived, observer)
        })
    }

    /// How much of each channel of a material shows the bare ground.
    ///
    /// # Errors
    /// As [`Editor::composite`].
    pub fn unpainted(
        &mut self,
        material: MaterialId,
        observer: &dyn Observer,
    ) -> Result<Vec<Unpainted>, EditorError> {
        let composite = self.composite(material, observer)?;
        unpainted(self.document(), material, &composite, &*self.derived, observer)
    }
}

/// Hands on the wish to stop, but not the progress of each edit of a list.
struct Quiet<'a>(&'a dyn Observer);

impl Observer for Quiet<'_> {
    fn progress(&self, _done: u64, _total: u64) {}

    fn stopped(&self) -> bool {
        self.0.stopped()
    }
}

fn check_model(list: &EditList, model: &Model) -> Result<(), EditorError> {
    let holds = model.hash().to_string();
    match &list.model {
        Some(hash) if *hash != holds => {
            let reason = format!(
                "the list was recorded on model {hash}, but the model given is {holds}: give that \
                 model, or take \"model\" out of the list to apply it all the same"
            );
            Err(WireError { line: 1, reason }.into())
        }
        _ => Ok(()),
    }
}
