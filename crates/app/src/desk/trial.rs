//! An edit that the hand is still looking for: where a decal goes, how far a gradient. It is made beside the window,
//! which waits for nothing; what is wanted last is made next.

use document::{Edit, MaterialEdit, MaterialId};
use editor::{EditorError, Job, MadeEdit};

use super::Desk;

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Trial {
    /// What was wanted last.
    latest: Option<(MaterialId, MaterialEdit)>,
    /// It is not being made yet.
    waits: bool,
    /// What is being made.
    job: Option<Job<MadeEdit>>,
}

impl Trial {
    /// Something is not shown yet.
    pub(crate) fn goes_on(&self) -> bool {
        self.waits || self.job.is_some()
    }
}

impl Desk {
    /// Tries an edit of the chosen material out, in the place of what was tried before.
    pub(super) fn try_out(&mut self, edit: MaterialEdit) {
        self.trial.latest = Some((self.chosen.material, edit));
        self.trial.waits = true;
        self.go_on_trying();
    }

    /// Shows what is made, and begins what is wanted.
    pub(super) fn go_on_trying(&mut self) {
        match self.trial.job.as_ref().map(Job::take) {
            Some(None) => return,
            Some(Some(made)) => {
                self.trial.job = None;
                self.show_tried(made);
            }
            None => {}
        }
        if let Some((material, edit)) = self.trial.latest.clone().filter(|_| self.trial.waits) {
            self.trial.waits = false;
            match self.editor.start_edit(material, edit) {
                Ok(job) => self.trial.job = Some(job),
                Err(error) => self.tell_error(error),
            }
        }
    }

    /// False where it was made from a material that is another one now.
    fn show_tried(&mut self, made: Result<MadeEdit, EditorError>) -> bool {
        match made.and_then(|made| self.editor.show(made)) {
            Ok(()) => true,
            Err(EditorError::Overtaken { .. }) => false,
            Err(error) => {
                self.editor.drop_preview();
                self.tell_error(error);
                true
            }
        }
    }

    /// Makes what was tried out last an edit. What is not made yet is waited for, so that nothing that is done next can
    /// come before it.
    pub(super) fn keep_tried(&mut self) {
        let Trial { latest, waits, job } = std::mem::take(&mut self.trial);
        let Some((material, edit)) = latest else { return };
        let is_shown = match job.filter(|_| !waits) {
            Some(job) => self.show_tried(job.wait()),
            None => !waits,
        };
        if !is_shown && let Err(error) = self.editor.preview(&Edit::Material(material, edit)) {
            self.tell_error(error);
        }
        if self.editor.keep_preview() {
            self.settle();
        }
    }

    /// Takes back what is tried out.
    pub(super) fn drop_tried(&mut self) {
        self.trial = Trial::default();
        self.editor.drop_preview();
    }
}
