//! Edits of a material that take long: made beside the window, one after the other, in the order in which they were asked
//! for. What is painted meanwhile is not lost, and neither are they: they are made again from what is there then.

use std::collections::VecDeque;

use document::{MaterialEdit, MaterialId};
use editor::EditorError;

use super::Desk;

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Beside {
    waiting: VecDeque<Asked>,
    /// The line of the task that makes the first of them.
    made: Option<String>,
}

#[derive(Debug, Clone)]
struct Asked {
    line: String,
    material: MaterialId,
    edit: MaterialEdit,
}

impl Desk {
    /// Makes an edit of the chosen material beside the window.
    pub(super) fn edit_beside(&mut self, doing: &str, edit: MaterialEdit) {
        self.put_down();
        let Some(material) = self.material() else { return };
        let line = format!("{doing} on {}", material.name);
        let asked = Asked { line, material: material.id, edit };
        self.beside.waiting.push_back(asked);
        self.go_on_beside();
    }

    /// Begins the next of the edits that wait, once the one before is done.
    pub(super) fn go_on_beside(&mut self) {
        let goes_on = self.beside.made.as_ref().is_some_and(|line| self.tasks.goes_on(line));
        if goes_on || self.editor.is_pen_down() {
            return;
        }
        self.beside.made = None;
        let Some(asked) = self.beside.waiting.pop_front() else { return };
        match self.editor.start_edit(asked.material, asked.edit.clone()) {
            Ok(job) => {
                self.beside.made = Some(asked.line.clone());
                self.tasks.add(asked.line.clone(), job, |desk, made| {
                    match desk.editor.take_over(made) {
                        Ok(()) => {}
                        Err(EditorError::Overtaken { .. } | EditorError::PenDown) => {
                            desk.beside.waiting.push_front(asked);
                        }
                        Err(error) => desk.tell_error(error),
                    }
                    desk.settle();
                });
            }
            Err(error) => self.tell_error(error),
        }
    }

    /// Gives up what is being made and all that waits; false where nothing is.
    pub(crate) fn give_up_beside(&mut self) -> bool {
        let waited = !self.beside.waiting.is_empty();
        self.beside.waiting.clear();
        let made = self.beside.made.take();
        waited | made.is_some_and(|line| self.tasks.drop_one(&line))
    }
}
