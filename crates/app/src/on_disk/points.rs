//! Named points: documents of the project that were given a name, to return to.

use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::Duration;

use document::Document;
use egui::Context;
use store::{Changes, Damage, Keeper, Point, StoreError};

use super::state_of;
use crate::desk::{Desk, Sheet};

/// A point that is given a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct NamingPoint {
    /// The name that it has; none for a new one.
    pub(crate) renamed: Option<String>,
    /// The name as it is typed.
    pub(crate) text: String,
    /// What is wrong with it.
    pub(crate) fault: Option<String>,
}

type Returned = Result<(Option<Document>, Vec<Damage>), StoreError>;

/// The points of the open project.
#[derive(Debug)]
pub(crate) struct Points {
    /// The latest first.
    all: Vec<Point>,
    /// The list as it is after what was asked last.
    coming: Option<Receiver<Result<Vec<Point>, StoreError>>>,
    /// The document that is returned to, with the point's name.
    returning: Option<(String, Receiver<Returned>)>,
}

impl Points {
    pub(super) fn new(all: Vec<Point>) -> Self {
        let mut points = Self { all, coming: None, returning: None };
        points.sort();
        points
    }

    /// The latest first.
    pub(crate) fn all(&self) -> &[Point] {
        &self.all
    }

    fn sort(&mut self) {
        self.all.sort_by(|a, b| b.made_at.cmp(&a.made_at).then(a.name.cmp(&b.name)));
    }

    fn list_again(&mut self, keeper: &Keeper) {
        self.coming = Some(keeper.ask(|project| project.points()));
    }

    /// A name that none of them has.
    fn free_name(&self) -> String {
        let is_free = |name: &String| self.all.iter().all(|point| point.name != *name);
        let first = self.all.len() + 1;
        let mut names = (first..).map(|number| format!("Point {number}"));
        names.find(is_free).unwrap_or_default()
    }
}

impl Desk {
    /// Asks for the name of a point: the document as it is now.
    pub(crate) fn ask_for_point(&mut self) {
        let Some(on_disk) = &self.on_disk else {
            return self.notices.note("A point is named in a project: keep the work in one first");
        };
        let text = on_disk.points.free_name();
        self.files.naming = Some(NamingPoint { renamed: None, text, fault: None });
        self.sheet = Some(Sheet::Point);
    }

    /// Asks for another name of a point.
    pub(crate) fn ask_for_other_name(&mut self, name: String) {
        self.files.naming =
            Some(NamingPoint { text: name.clone(), renamed: Some(name), fault: None });
        self.sheet = Some(Sheet::Point);
    }

    /// What keeps a point from having a name.
    fn fault_of_name(&self, naming: &NamingPoint) -> Option<String> {
        let name = naming.text.trim();
        let taken =
            |on_disk: &super::OnDisk| on_disk.points.all.iter().any(|point| point.name == name);
        if name.is_empty() {
            Some("Type a name".to_owned())
        } else if naming.renamed.as_deref() != Some(name)
            && self.on_disk.as_ref().is_some_and(taken)
        {
            Some("There is a point of this name: choose another".to_owned())
        } else {
            None
        }
    }

    /// Names the point that the sheet asks for; false where it can't have this name.
    pub(crate) fn name_point(&mut self) -> bool {
        let Some(mut naming) = self.files.naming.take() else { return true };
        naming.fault = self.fault_of_name(&naming);
        if naming.fault.is_some() {
            self.files.naming = Some(naming);
            return false;
        }
        let Some(on_disk) = &mut self.on_disk else { return true };
        let name = naming.text.trim().to_owned();
        if let Some(before) = naming.renamed {
            let new = name;
            drop(on_disk.keeper.ask(move |project| project.rename_point(&before, &new)));
        } else {
            let history = self.editor.history();
            let edits = super::journal::edits_after(&self.editor, on_disk.handed.1);
            on_disk.keeper.keep(Changes { edits, ..Changes::naming(&name, history) });
            on_disk.handed = state_of(history);
            self.notices.note(format!("{name} is kept: the history has it"));
        }
        on_disk.points.list_again(&on_disk.keeper);
        true
    }

    /// Lets go of a point.
    pub(crate) fn remove_point(&mut self, name: String) {
        let Some(on_disk) = &mut self.on_disk else { return };
        self.notices.note(format!("{name} is no longer a point; the history stays"));
        drop(on_disk.keeper.ask(move |project| project.remove_point(&name)));
        on_disk.points.list_again(&on_disk.keeper);
    }

    /// Goes on from a point: a new edit, so that nothing is cut off.
    pub(crate) fn return_to_point(&mut self, point: &Point) {
        // Entries never change, and their numbers are given once.
        let in_memory = {
            let (mut entries, _) = self.editor.history().entries();
            let entry = entries.find(|entry| entry.number == point.revision);
            entry.map(|entry| entry.document.clone())
        };
        if let Some(document) = in_memory {
            return self.put_point(&point.name, Ok((Some(document), Vec::new())));
        }
        let Some(on_disk) = &mut self.on_disk else { return };
        let asked = point.clone();
        let coming = on_disk.keeper.ask(move |project| project.document_of(&asked));
        on_disk.points.returning = Some((point.name.clone(), coming));
    }

    /// Once a frame: takes what was asked of the file.
    pub(super) fn take_points(&mut self, context: &Context) {
        let Some(on_disk) = &mut self.on_disk else { return };
        let points = &mut on_disk.points;
        if points.coming.is_some() || points.returning.is_some() {
            context.request_repaint_after(Duration::from_millis(30));
        }
        if let Some(coming) = &points.coming {
            match coming.try_recv() {
                Ok(Ok(all)) => {
                    (points.all, points.coming) = (all, None);
                    points.sort();
                }
                Ok(Err(_)) | Err(TryRecvError::Disconnected) => points.coming = None,
                Err(TryRecvError::Empty) => {}
            }
        }
        // A stroke is not to be broken off.
        if self.editor.is_pen_down() {
            return;
        }
        let Some((name, coming)) = points.returning.take() else { return };
        match coming.try_recv() {
            Ok(returned) => self.put_point(&name, returned),
            Err(TryRecvError::Empty) => points.returning = Some((name, coming)),
            Err(TryRecvError::Disconnected) => {}
        }
    }

    fn put_point(&mut self, name: &str, returned: Returned) {
        match returned {
            Ok((Some(mut document), damage)) => {
                share_model(&mut document, self.document());
                if let Err(error) = self.editor.return_to(document, format!("Return to {name}")) {
                    return self.notices.error(error);
                }
                if let Some(first) = damage.first() {
                    self.notices.error(format!(
                        "{name} is damaged in {} places, {first}. What can be read is shown",
                        damage.len()
                    ));
                }
                self.settle();
            }
            Ok((None, _)) => self.notices.error(format!("{name} can't be read: it is damaged")),
            Err(error) => self.notices.error(format!("{name}: {error}")),
        }
    }
}

/// One that was read shares the model with the one that is there, so that nothing is derived from it again.
fn share_model(read: &mut Document, there: &Document) {
    let both = read.model.as_ref().zip(there.model.as_ref());
    if both.is_some_and(|(read, there)| read.hash() == there.hash()) {
        read.model.clone_from(&there.model);
    }
}
