//! The desk: all that is open, chosen and set. Panels show it, commands change it.

mod flat_view;
mod model_view;

pub(crate) use flat_view::FlatViewState;
pub(crate) use model_view::{ModelViewState, PartState};

use std::sync::Arc;

use document::{Document, Edit, Material, MaterialEdit, MaterialId};
use editor::{Editor, Settings};
use egui::{TextureId, Ui};
use layers::Layer;
use raster::Unobserved;

use crate::brush_in_hand::BrushInHand;
use crate::chosen::Chosen;
use crate::commands::Bindings;
use crate::error::AppError;
use crate::hand::Hand;
use crate::notices::Notices;
use crate::panes::{HistoryView, LayerTable, Pane, Panes, PartsOfMaterials, arranged};
use crate::preferences::Preferences;
use crate::tasks::Tasks;
use crate::thumbnails::Thumbnails;

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
    /// Where in the job the person is.
    pub(crate) stage: Stage,
    /// What lies over the window.
    pub(crate) sheet: Option<Sheet>,
    /// Material, layer, and what of it is painted.
    pub(crate) chosen: Chosen,
    /// The brush.
    pub(crate) brush: BrushInHand,
    /// The model view.
    pub(crate) model_view: ModelViewState,
    /// The flat view.
    pub(crate) flat_view: FlatViewState,
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
        faults.iter().for_each(|fault| notices.error(fault));
        Ok(Self {
            chosen: Chosen::of(editor.document(), MaterialId(0)),
            brush: BrushInHand::new(&editor.document().channels),
            editor,
            title: String::new(),
            stage: Stage::default(),
            sheet: None,
            model_view: ModelViewState::default(),
            flat_view: FlatViewState::default(),
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
        let applied = self.editor.apply(edit, &Unobserved);
        let fine = applied.is_ok();
        if let Err(error) = applied {
            self.notices.error(error);
        }
        self.settle();
        fine
    }

    /// Makes an edit of the chosen material.
    pub(crate) fn edit_material(&mut self, edit: MaterialEdit) -> bool {
        self.apply(&Edit::Material(self.chosen.material, edit))
    }

    /// A change of the chosen material that follows the hand: while a button is held it is only tried out, and
    /// becomes one edit when it is let go; by keys it is one at once.
    pub(crate) fn follow_hand(&mut self, ui: &Ui, edit: MaterialEdit) {
        let is_held = ui.input(|input| input.pointer.any_down() || input.pointer.any_released());
        if !is_held {
            self.edit_material(edit);
        } else if let Err(error) = self.editor.preview(&Edit::Material(self.chosen.material, edit))
        {
            self.notices.error(error);
        }
    }

    /// At the end of each frame: what was tried out becomes an edit once no button is held.
    pub(crate) fn keep_what_was_tried(&mut self, ui: &Ui) {
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

    /// Once a frame: takes the results of what is done.
    pub(crate) fn take_results(&mut self) {
        for then in self.tasks.take_done() {
            then(self);
        }
    }
}
