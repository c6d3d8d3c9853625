//! What a document is left for: closing the window, another file. It waits until all is on disk, or until it is known
//! that it won't be.

use std::time::{Duration, Instant};

use egui::Context;

use super::{CALM, OnDisk, state_of};
use crate::desk::{Desk, Leaving};

/// For the file's picture nobody waits longer.
const FOR_A_PICTURE: Duration = Duration::from_millis(500);

impl Desk {
    /// Leaves the document once nothing of it can be lost; where something would be, it asks first.
    pub(crate) fn leave_for(&mut self, leaving: Leaving) {
        if self.files.leaving.is_some() {
            return;
        }
        if self.on_disk.is_none() && !self.files.untitled.is_coming() && !self.is_being_kept() {
            let may_come = self.files.untitled.folder.is_some() && self.has_changed();
            // One that was refused is not tried again: it is asked for at once.
            if !may_come {
                return self.leave_or_ask(leaving);
            }
            self.begin_untitled();
            if !self.files.untitled.is_coming() {
                return self.leave_or_ask(leaving);
            }
        }
        let now = state_of(self.editor.history());
        let is_shown = self.pictures.model.is_some();
        let is_old = self.on_disk.as_ref().is_some_and(|on_disk| on_disk.pictured != Some(now));
        self.files.is_picture_wanted = is_shown && is_old && self.has_changed();
        self.files.leaving = Some((leaving, Instant::now()));
        if !is_shown && self.is_safe() && self.is_view_on_disk() {
            self.leave_now();
        }
    }

    fn leave_or_ask(&mut self, leaving: Leaving) {
        if self.has_unkept_work() {
            self.leaving = Some(leaving);
        } else {
            self.leave(leaving);
        }
    }

    /// True once all of the document is in a file.
    fn is_safe(&self) -> bool {
        let is_all = self.on_disk.as_ref().is_some_and(OnDisk::is_all);
        is_all && !self.has_unkept_work() && !self.is_being_kept()
    }

    /// Once a frame.
    pub(super) fn leave_when_written(&mut self, context: &Context) {
        let Some((leaving, since)) = &self.files.leaving else { return };
        context.request_repaint_after(Duration::from_millis(30));
        let is_coming = self.files.untitled.is_coming() || self.is_being_kept();
        if self.on_disk.is_none() && !is_coming {
            // It is in no file, and won't be.
            let leaving = leaving.clone();
            self.files.leaving = None;
            return self.leave_or_ask(leaving);
        }
        if self.files.is_picture_wanted && since.elapsed() < FOR_A_PICTURE {
            return;
        }
        self.files.is_picture_wanted = false;
        if self.is_view_on_disk() && self.is_safe() {
            self.leave_now();
        }
    }

    fn leave_now(&mut self) {
        let Some((leaving, _)) = self.files.leaving.take() else { return };
        let budget = self.preferences.history_bytes();
        if let Some(on_disk) = &self.on_disk
            && std::fs::metadata(&on_disk.path).is_ok_and(|file| file.len() > budget)
        {
            on_disk.let_go_of_oldest(budget);
        }
        self.leave(leaving);
    }

    /// Leaves at once, whatever is lost.
    pub(crate) fn leave(&mut self, leaving: Leaving) {
        match leaving {
            Leaving::Close => self.closed = true,
            Leaving::Open(path) => self.open_file_at_once(path),
            Leaving::Demo => {
                if let Some(demo) = self.demo {
                    self.open_demo_at_once(demo);
                }
            }
        }
    }

    /// While nothing is painted: a picture for the file, and what is beyond its budget is let go of.
    pub(super) fn tidy_when_calm(&mut self, context: &Context) {
        let now = state_of(self.editor.history());
        let is_shown = self.pictures.model.is_some();
        let budget = self.preferences.history_bytes();
        let is_busy = self.editor.is_pen_down() || self.gesture.is_some();
        let Some(on_disk) = &mut self.on_disk else { return };
        let wants_picture = is_shown && on_disk.pictured != Some(now) && !on_disk.is_tidy;
        if on_disk.is_tidy && !wants_picture {
            return;
        }
        let left = CALM.saturating_sub(on_disk.handed_at.elapsed());
        if is_busy || !left.is_zero() {
            context.request_repaint_after(left.max(Duration::from_millis(100)));
            return;
        }
        self.files.is_picture_wanted = wants_picture;
        on_disk.is_tidy = true;
        on_disk.let_go_of_oldest(budget);
    }
}

impl OnDisk {
    /// Lets go of the oldest entries beyond so many bytes, and of what nothing names any more.
    fn let_go_of_oldest(&self, budget_bytes: u64) {
        // What fails is a fault of the file, which is told as such.
        drop(self.keeper.ask(move |project| project.collect_garbage(budget_bytes)));
    }
}
