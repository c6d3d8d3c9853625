//! The desk: all that is open, chosen and set. Panels show it, commands change it.

mod area;
mod beside;
mod clone_source;
mod decal_in_hand;
mod flat_view;
mod gesture;
mod gradient;
mod in_hand;
mod light;
mod looking;
mod model_view;
mod parts;
mod path_in_hand;
mod readiness;
mod refusal;
mod stroke;
mod trial;
mod under_pointer;

use self::beside::Beside;
use self::decal_in_hand::DecalInHand;
use self::path_in_hand::PathInHand;
use self::trial::Trial;
pub(crate) use area::LassoInHand;
pub(crate) use flat_view::FlatViewState;
pub(crate) use gesture::{Gesture, Held, Motion, wrapped};
pub(crate) use gradient::GradientInHand;
pub(crate) use light::{Light, LightSetup};
pub(crate) use looking::STEP_CLOSER;
pub(crate) use model_view::{FOV_Y_RAD, ModelViewState, PartState};
pub(crate) use readiness::Readiness;
pub(crate) use stroke::{StrokeInHand, View};
#[cfg(test)]
pub(crate) use under_pointer::texel_of;
pub(crate) use under_pointer::{Met, UnderPointer};

use std::path::PathBuf;
use std::sync::Arc;

use document::{Document, DocumentError, Edit, Material, MaterialEdit, MaterialId};
use editor::{Editor, EditorError, Settings};
use egui::{Rect, TextureId, Ui};
use glam::DVec3;
use layers::Layer;
use raster::Unobserved;
use surface::PartId;
use viewport::MeshBuffers;

use crate::brush_in_hand::BrushInHand;
use crate::chosen::Chosen;
use crate::commands::{Bindings, Command};
use crate::error::AppError;
use crate::exporting::ExportChoices;
use crate::file_dialog::FileDialog;
use crate::hand::Hand;
use crate::notices::Notices;
use crate::on_disk::{Files, OnDisk, Purpose};
use crate::opening::Demo;
use crate::panes::{BrushPanel, HistoryView, LayerTable, Pane, Panes, PartsOfMaterials, arranged};
use crate::path_field::PathField;
use crate::preferences::Preferences;
use crate::references::References;
use crate::screen::AtPointer;
use crate::stencil_in_hand::StencilInHand;
use crate::symmetry_in_hand::SymmetryInHand;
use crate::tasks::Tasks;
use crate::thumbnails::Thumbnails;
use crate::tool::ToolInHand;

/// Where in the job the person is. A stage appears when it works.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) enum Stage {
    /// Painting.
    #[default]
    Paint,
    /// Writing maps and models.
    Export,
}

/// What lies over the window until it is closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Sheet {
    /// Keys and gestures.
    Help,
    /// What is set once and for all.
    Preferences,
    /// What to open.
    Open,
    /// Where a project is to be, and what for.
    Keep(Purpose),
    /// The name of a point.
    Point,
}

/// A command whose new keys are waited for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Rebinding {
    /// The command.
    pub(crate) command: Command,
    /// What keeps it from the keys that were pressed last.
    pub(crate) clash: Option<String>,
}

/// What waits for a word, as it would lose what was painted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Leaving {
    /// Closing the window.
    Close,
    /// Opening a model.
    Open(PathBuf),
    /// Opening the demo.
    Demo,
}

/// Where the window put what the views show; none where there is nothing to draw with.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Pictures {
    /// The model view's.
    pub(crate) model: Option<TextureId>,
    /// The flat view's.
    pub(crate) flat: Option<TextureId>,
}

/// See the module.
#[derive(Debug)]
pub(crate) struct Desk {
    /// The open document.
    pub(crate) editor: Editor,
    /// What it is called: the model's file without its ending.
    pub(crate) title: String,
    /// Counts what was asked to be opened: only the last of it is put on the desk.
    pub(crate) asked: u64,
    /// Counts documents that were put on the desk.
    pub(crate) opened: u64,
    /// The model as the graphics adapter wants it, until the window took it; made again where it is needed again.
    pub(crate) mesh: Option<MeshBuffers>,
    /// Counts models that were put on the desk.
    pub(crate) mesh_number: u64,
    /// The document as some file has it: as it was opened, or exported last.
    pub(crate) kept: Document,
    /// The project file that it is in, once it is in one.
    pub(crate) on_disk: Option<OnDisk>,
    /// What is known of files beside it.
    pub(crate) files: Files,
    /// What is exported, and where to.
    pub(crate) export: ExportChoices,
    /// The demo, where there is one.
    pub(crate) demo: Option<Demo>,
    /// The path that is typed into the sheet that opens files.
    pub(crate) path: PathField,
    /// The system's dialog for files, while it is open.
    pub(crate) dialog: Option<FileDialog>,
    /// Recent brushes and colours, where the pointer is.
    pub(crate) at_pointer: AtPointer,
    /// What the help sheet looks for.
    pub(crate) sought: String,
    /// The command whose new keys are waited for.
    pub(crate) rebinding: Option<Rebinding>,
    /// The first steps, while they are shown: which of them.
    pub(crate) first_step: Option<usize>,
    /// Pictures that were dropped on the window, to be kept beside the model.
    pub(crate) dropped_pictures: Vec<PathBuf>,
    /// Where each panel was shown last.
    pub(crate) pane_places: Vec<(Pane, Rect)>,
    /// What waits for a word.
    pub(crate) leaving: Option<Leaving>,
    /// The window is to be closed.
    pub(crate) closed: bool,
    /// The window fills the screen.
    pub(crate) full_screen: bool,
    /// Where in the job the person is.
    pub(crate) stage: Stage,
    /// What lies over the window.
    pub(crate) sheet: Option<Sheet>,
    /// Material, layer, and what of it is painted.
    pub(crate) chosen: Chosen,
    /// The brush.
    pub(crate) brush: BrushInHand,
    /// How strokes on the model are repeated.
    pub(crate) symmetry: SymmetryInHand,
    /// What strokes are painted through.
    pub(crate) stencil: StencilInHand,
    /// A path that is laid.
    pub(crate) laying: Option<PathInHand>,
    /// A decal that is placed.
    pub(crate) decal: Option<DecalInHand>,
    /// What the hand does in the views.
    pub(crate) tool: ToolInHand,
    /// The lasso that is drawn.
    pub(crate) lasso: Option<LassoInHand>,
    /// The part about whose middle strokes are repeated, and its box.
    pub(crate) symmetry_part: Option<(PartId, (DVec3, DVec3))>,
    /// Edits that are made beside the window.
    pub(crate) beside: Beside,
    /// What is tried out of it, or of a decal or a path.
    pub(crate) trial: Trial,
    /// The gradient that is drawn.
    pub(crate) gradient: Option<GradientInHand>,
    /// What the brush panel remembers between frames.
    pub(crate) brush_panel: BrushPanel,
    /// Pictures to work from.
    pub(crate) references: References,
    /// The model view.
    pub(crate) model_view: ModelViewState,
    /// The flat view.
    pub(crate) flat_view: FlatViewState,
    /// What was made before the pen comes down.
    pub(crate) readiness: Readiness,
    /// The drag that goes on in one of the views.
    pub(crate) gesture: Option<Gesture>,
    /// The stroke that goes on.
    pub(crate) stroke: Option<StrokeInHand>,
    /// What lies under the pointer, in either view.
    pub(crate) under_pointer: Option<UnderPointer>,
    /// What the pen did since the last frame.
    pub(crate) hand: Hand,
    /// Long work that goes on.
    pub(crate) tasks: Tasks,
    /// What is to be read.
    pub(crate) notices: Notices,
    /// What is set once and for all.
    pub(crate) preferences: Preferences,
    /// The keys in force.
    pub(crate) bindings: Bindings,
    /// Where the panels are.
    pub(crate) panes: Panes,
    /// Panels to show or to hide at the end of the frame.
    pub(crate) panel_wishes: Vec<(Pane, bool)>,
    /// What the window drew.
    pub(crate) pictures: Pictures,
    /// What of the layer table is folded, named anew or dragged.
    pub(crate) layer_table: LayerTable,
    /// Where the history list is.
    pub(crate) history_view: HistoryView,
    /// Which parts have which material.
    pub(crate) parts_of_materials: PartsOfMaterials,
    /// Small pictures of cells, masks and materials.
    pub(crate) thumbnails: Thumbnails,
}

impl Desk {
    /// An empty desk.
    ///
    /// # Errors
    /// [`AppError::Editor`] when the system gives no threads.
    pub(crate) fn new(preferences: Preferences) -> Result<Self, AppError> {
        let memory_bytes = preferences.memory_mib as usize * (1 << 20);
        let editor = Editor::new(Settings { memory_bytes, ..Settings::default() })?;
        let (bindings, faults) = Bindings::of(&preferences);
        let mut notices = Notices::default();
        for fault in &faults {
            notices.error(fault);
        }
        Ok(Self {
            chosen: Chosen::of(editor.document(), MaterialId(0)),
            brush: BrushInHand::new(&editor.document().channels),
            symmetry: SymmetryInHand::default(),
            stencil: StencilInHand::default(),
            laying: None,
            decal: None,
            kept: editor.document().clone(),
            editor,
            title: String::new(),
            asked: 0,
            opened: 0,
            mesh: None,
            mesh_number: 0,
            on_disk: None,
            files: Files::new(),
            export: ExportChoices::default(),
            path: PathField::default(),
            dialog: None,
            at_pointer: AtPointer::default(),
            sought: String::new(),
            rebinding: None,
            first_step: None,
            dropped_pictures: Vec::new(),
            pane_places: Vec::new(),
            demo: None,
            leaving: None,
            closed: false,
            full_screen: false,
            stage: Stage::default(),
            sheet: None,
            tool: ToolInHand::default(),
            lasso: None,
            symmetry_part: None,
            beside: Beside::default(),
            trial: Trial::default(),
            gradient: None,
            brush_panel: BrushPanel::default(),
            references: References::default(),
            model_view: ModelViewState::default(),
            flat_view: FlatViewState::default(),
            readiness: Readiness::default(),
            gesture: None,
            stroke: None,
            under_pointer: None,
            hand: Hand::default(),
            tasks: Tasks::default(),
            notices,
            preferences,
            bindings,
            panes: arranged(),
            panel_wishes: Vec::new(),
            pictures: Pictures::default(),
            layer_table: LayerTable::default(),
            history_view: HistoryView::default(),
            parts_of_materials: PartsOfMaterials::default(),
            thumbnails: Thumbnails::default(),
        })
    }

    /// The present document.
    pub(crate) fn document(&self) -> &Document {
        self.editor.document()
    }

    /// The chosen material; none before a model came.
    pub(crate) fn material(&self) -> Option<&Arc<Material>> {
        self.document().materials.get(self.chosen.material.0 as usize)
    }

    /// The chosen material as it is shown: with the stroke that goes on, and what is tried out.
    pub(crate) fn shown_material(&self) -> Option<&Arc<Material>> {
        self.editor.shown().materials.get(self.chosen.material.0 as usize)
    }

    /// The chosen layer.
    pub(crate) fn chosen_layer(&self) -> Option<Arc<Layer>> {
        let layer = self.chosen.layer?;
        self.material()?.stack.find(layer).cloned()
    }

    /// Makes an edit; false, with a notice, where it was refused.
    pub(crate) fn apply(&mut self, edit: &Edit) -> bool {
        self.put_down();
        let applied = self.editor.apply(edit, &Unobserved);
        let fine = applied.is_ok();
        if let Err(error) = applied {
            self.tell_error(error);
        }
        self.settle();
        fine
    }

    /// Tells why something was refused: in passing where it was only asked of the wrong place.
    pub(crate) fn tell_error(&mut self, error: EditorError) {
        let in_passing = matches!(
            error,
            EditorError::Document(
                DocumentError::NothingSelected
                    | DocumentError::NoSelection
                    | DocumentError::OutsideSelection
                    | DocumentError::OutsideStencil
                    | DocumentError::NothingThere { .. }
            )
        );
        if in_passing {
            let text = error.to_string();
            let mut letters = text.chars();
            let first = letters.next().map(|first| first.to_uppercase().to_string());
            self.notices.note(first.unwrap_or_default() + letters.as_str());
        } else {
            self.notices.error(error);
        }
    }

    /// Makes an edit of the chosen material.
    pub(crate) fn edit_material(&mut self, edit: MaterialEdit) -> bool {
        self.apply(&Edit::Material(self.chosen.material, edit))
    }

    /// A change of the chosen material that follows the hand: while a button is held it is only tried out, and
    /// becomes one edit when it is let go; by keys it is one at once.
    pub(crate) fn follow_hand(&mut self, ui: &Ui, edit: MaterialEdit) {
        let is_held = ui.input(|input| input.pointer.any_down() || input.pointer.any_released());
        self.put_down();
        if !is_held {
            self.edit_material(edit);
        } else if let Err(error) = self.editor.preview(&Edit::Material(self.chosen.material, edit))
        {
            self.notices.error(error);
        }
    }

    /// At the end of each frame: what was tried out becomes an edit once no button is held.
    pub(crate) fn keep_what_was_tried(&mut self, ui: &Ui) {
        // A path, a decal or a gradient is tried out until it is kept.
        if self.laying.is_some() || self.decal.is_some() || self.gradient.is_some() {
            return;
        }
        if !ui.input(|input| input.pointer.any_down()) && self.editor.keep_preview() {
            self.settle();
        }
    }

    /// After each edit, undo or redo: what is chosen must be there, memory must be kept to.
    pub(crate) fn settle(&mut self) {
        self.chosen.settle(self.editor.document());
        if let Err(error) = self.editor.settle() {
            self.notices.error(error);
        }
    }

    /// Closes the window once all is on disk. Where something would be lost it asks first.
    pub(crate) fn close(&mut self) {
        self.leave_for(Leaving::Close);
    }

    /// Something lies over the window: nothing is to happen unseen beneath it.
    pub(crate) fn is_covered(&self) -> bool {
        let files = &self.files;
        let is_asked = self.leaving.is_some() || files.in_use.is_some() || files.leaving.is_some();
        self.sheet.is_some() || is_asked
    }

    /// Once a frame: takes the results of what is done.
    pub(crate) fn take_results(&mut self) {
        for then in self.tasks.take_done() {
            then(self);
        }
        self.go_on_beside();
        self.put_down_elsewhere();
        self.go_on_trying();
    }
}
