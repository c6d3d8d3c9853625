//! What the person is told: in a bar that stays until it was read.

/// How grave it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Gravity {
    /// Something could not be done.
    Error,
    /// Something is to be known.
    Note,
}

/// One line: what, where, what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Notice {
    /// How grave it is.
    pub(crate) gravity: Gravity,
    /// The line.
    pub(crate) text: String,
}

/// All that has not been read yet, the oldest first.
#[derive(Debug, Default)]
pub(crate) struct Notices {
    all: Vec<Notice>,
    shown: usize,
}

impl Notices {
    /// Tells that something could not be done. What stands there already is not told twice.
    #[expect(
        clippy::needless_pass_by_value,
        reason = "errors and texts are handed over as they come"
    )]
    pub(crate) fn error(&mut self, what: impl ToString) {
        self.add(Gravity::Error, what.to_string());
    }

    /// Tells something that is good to know.
    #[expect(
        clippy::needless_pass_by_value,
        reason = "errors and texts are handed over as they come"
    )]
    pub(crate) fn note(&mut self, what: impl ToString) {
        self.add(Gravity::Note, what.to_string());
    }

    fn add(&mut self, gravity: Gravity, text: String) {
        let notice = Notice { gravity, text };
        if !self.all.contains(&notice) {
            self.all.push(notice);
        }
    }

    /// What is told now.
    pub(crate) fn all(&self) -> &[Notice] {
        &self.all
    }

    /// How many of them are shown.
    pub(crate) fn shown(&self) -> usize {
        self.shown.min(self.all.len())
    }

    /// All of them are shown from now on.
    pub(crate) fn note_shown(&mut self) {
        self.shown = self.all.len();
    }

    /// Takes a line away: it was read.
    pub(crate) fn dismiss(&mut self, index: usize) {
        if index < self.all.len() {
            self.all.remove(index);
        }
    }
}
