//! What is in hand beside the brush: a decal or a path. It belongs to the material in which it was taken, and goes back
//! there before anything else is done to the document.

use std::sync::Arc;

use document::Step;
use layers::LayerId;

use super::Desk;

/// How the task that paints a layer again begins its line.
pub(super) const REPAINTS: &str = "Painting the layer again";

/// A step that was kept before, and is changed in hand.
#[derive(Debug, Clone)]
pub(crate) struct KeptStep {
    /// Which step of its layer it is.
    pub(crate) number: usize,
    /// It, as the layer has it.
    pub(super) was: Arc<Step>,
    /// It, as the layer is being painted with it.
    pub(super) wanted: Option<Arc<Step>>,
}

impl Desk {
    /// Ends what is in hand: what is new becomes an edit, if it lies anywhere.
    pub(crate) fn put_down(&mut self) {
        self.keep_path();
        self.keep_decal();
    }

    /// Once a frame: what is in hand goes back when another material is chosen.
    pub(super) fn put_down_elsewhere(&mut self) {
        let held = self.decal.as_ref().map(|decal| decal.material);
        let held = held.or_else(|| self.laying.as_ref().map(|path| path.material));
        if held.is_some_and(|material| material != self.chosen.material) {
            self.put_down();
        }
    }

    /// Leaves what is in hand unpainted.
    pub(crate) fn drop_in_hand(&mut self) {
        self.drop_path();
        self.drop_decal();
    }

    /// Takes back the last of what is new in hand. False where that is nothing: then an edit may be undone, and
    /// nothing is in hand that could be painted over it.
    pub(crate) fn take_back_in_hand(&mut self) -> bool {
        if self.drop_last_knot() {
            return true;
        }
        let is_new = self.decal.as_ref().is_some_and(|held| held.kept.is_none());
        let is_placed = self.decal.as_ref().is_some_and(|held| held.decal.is_some());
        self.drop_in_hand();
        is_new && is_placed
    }

    /// Paints the layer again where a kept step is another one now, one time after the other. None where the layer no
    /// longer has the step, or could not be painted so.
    pub(super) fn repaint_kept(
        &mut self,
        layer: LayerId,
        mut kept: KeptStep,
        painted: Arc<Step>,
    ) -> Option<KeptStep> {
        let recipe = self.material()?.recipe(layer);
        let there = &recipe.steps.get(kept.number)?.step;
        if let Some(wanted) = kept.wanted.take() {
            if *there == wanted {
                kept.was = wanted;
            } else if self.tasks.goes_on(REPAINTS) {
                return Some(KeptStep { wanted: Some(wanted), ..kept });
            } else {
                return None;
            }
        }
        if *there != kept.was {
            return None;
        }
        if painted != kept.was {
            self.repaint(layer, kept.number, Some(Arc::clone(&painted)));
            kept.wanted = Some(painted);
        }
        Some(kept)
    }
}
