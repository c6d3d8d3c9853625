//! What is to be written in one transaction.

use std::collections::BTreeMap;

use document::{Document, History};

/// A document that gets a name, to return to.
#[derive(Debug, Clone)]
pub struct NewPoint {
    /// The name. A point of this name that was there before is replaced.
    pub name: String,
    /// The number of the history's entry.
    pub revision: u64,
    /// The document of that entry.
    pub document: Document,
}

/// Changes to a project, as the window hands them over: cheap to make and to clone. What is left empty
/// stays as it is in the file.
#[derive(Debug, Clone, Default)]
pub struct Changes {
    /// The history as it is now.
    pub history: Option<History>,
    /// The edits that made entries, as text, by the entries' numbers; an entry may have none.
    pub edits: BTreeMap<u64, String>,
    /// New named points.
    pub points: Vec<NewPoint>,
    /// How the window looks at the document; what it says is the window's affair.
    pub view_state: Option<String>,
    /// A small picture of the document, an encoded image.
    pub thumbnail: Option<Vec<u8>>,
}

impl Changes {
    /// The history as it is now, and nothing else.
    pub fn of_history(history: &History) -> Self {
        Self { history: Some(history.clone()), ..Self::default() }
    }

    /// A name for the document that is shown, and the history with it.
    pub fn naming(name: impl Into<String>, history: &History) -> Self {
        let (mut entries, present) = history.entries();
        let revision = entries.nth(present).map_or(0, |entry| entry.number);
        let document = history.present().clone();
        let point = NewPoint { name: name.into(), revision, document };
        Self { points: vec![point], ..Self::of_history(history) }
    }

    /// Both in one: what came later counts.
    pub fn then(mut self, later: Self) -> Self {
        self.edits.extend(later.edits);
        self.points.extend(later.points);
        Self {
            history: later.history.or(self.history),
            edits: self.edits,
            points: self.points,
            view_state: later.view_state.or(self.view_state),
            thumbnail: later.thumbnail.or(self.thumbnail),
        }
    }
}
