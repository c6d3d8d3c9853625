//! A step that the hand is still looking for: where a decal goes, how far a gradient. It is made beside the window,
//! which waits for nothing; what is wanted last is made next.

use std::sync::Arc;

use document::{Edit, LayerEdit, MaterialEdit, MaterialId, Step};
use editor::{EditorError, Job, MadeEdit};
use layers::LayerId;

use super::Desk;

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Trial {
    /// What is wanted, until it is kept or given up.
    wanted: Option<Wanted>,
    /// What is being made, and from which step.
    job: Option<(Arc<Step>, Job<MadeEdit>)>,
    /// The step that was refused: it is not tried again.
    refused: Option<Arc<Step>>,
}

/// A step into a layer of a material.
#[derive(Debug, Clone)]
struct Wanted {
    material: MaterialId,
    layer: LayerId,
    step: Arc<Step>,
}

impl Wanted {
    fn change(&self) -> MaterialEdit {
        MaterialEdit::Layer(self.layer, LayerEdit::Paint(Arc::clone(&self.step)))
    }
}

impl Desk {
    /// Something that is tried out is not shown yet.
    pub(crate) fn is_trying(&self) -> bool {
        self.trial.job.is_some() || self.trial.wanted.as_ref().is_some_and(|w| self.is_missing(w))
    }

    /// What is shown is something else.
    fn is_missing(&self, wanted: &Wanted) -> bool {
        let is = |step: &Arc<Step>| Arc::ptr_eq(step, &wanted.step);
        !self.trial.refused.as_ref().is_some_and(is) && !self.editor.tried_step().is_some_and(is)
    }

    /// Tries a step of the chosen material out, in the place of what was tried before.
    pub(super) fn try_out(&mut self, layer: LayerId, step: Arc<Step>) {
        self.trial.wanted = Some(Wanted { material: self.chosen.material, layer, step });
        self.go_on_trying();
    }

    /// Shows what is made, and begins what is wanted and not shown.
    pub(super) fn go_on_trying(&mut self) {
        if let Some((step, job)) = self.trial.job.take() {
            match job.take() {
                None => self.trial.job = Some((step, job)),
                Some(made) => self.show_tried(step, made),
            }
        }
        let missing = self.trial.wanted.clone().filter(|wanted| self.is_missing(wanted));
        let Some(wanted) = missing.filter(|_| self.trial.job.is_none()) else { return };
        match self.editor.start_edit(wanted.material, wanted.change()) {
            Ok(job) => self.trial.job = Some((wanted.step, job)),
            Err(error) => self.refuse_tried(wanted.step, error),
        }
    }

    fn show_tried(&mut self, step: Arc<Step>, made: Result<MadeEdit, EditorError>) {
        match made.and_then(|made| self.editor.show(made)) {
            // What was made from an older material is made again.
            Ok(()) | Err(EditorError::Overtaken { .. }) => {}
            Err(error) => self.refuse_tried(step, error),
        }
    }

    fn refuse_tried(&mut self, step: Arc<Step>, error: EditorError) {
        self.editor.drop_preview();
        self.trial.refused = Some(step);
        self.tell_error(error);
    }

    /// Makes what was tried out last an edit. What is not made yet is waited for, so that nothing that is done next can
    /// come before it.
    pub(super) fn keep_tried(&mut self) {
        if let Some((step, job)) = self.trial.job.take()
            && self.trial.wanted.as_ref().is_some_and(|wanted| Arc::ptr_eq(&wanted.step, &step))
        {
            self.show_tried(step, job.wait());
        }
        if let Some(wanted) = self.trial.wanted.clone().filter(|wanted| self.is_missing(wanted)) {
            let edit = Edit::Material(wanted.material, wanted.change());
            if let Err(error) = self.editor.preview(&edit) {
                self.refuse_tried(wanted.step, error);
            }
        }
        let is_shown = self.trial.wanted.take().is_some();
        self.trial = Trial::default();
        if is_shown && self.editor.tried_step().is_some() && self.editor.keep_preview() {
            self.settle();
        }
    }

    /// Takes back what is tried out.
    pub(crate) fn drop_tried(&mut self) {
        self.trial = Trial::default();
        self.editor.drop_preview();
    }
}
