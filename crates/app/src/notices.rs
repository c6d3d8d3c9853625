//! What the person is told: errors until they are closed or no longer true, notes for a while.

use crate::commands::Command;

/// How grave it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Gravity {
    /// Something could not be done.
    Error,
    /// Something is to be known.
    Note,
}

/// A way out that a line offers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct WayOut {
    /// What is on its button.
    pub(crate) label: &'static str,
    /// What it does.
    pub(crate) command: Command,
}

/// One line: what, where, what to do.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Notice {
    /// How grave it is.
    pub(crate) gravity: Gravity,
    /// The line.
    pub(crate) text: String,
    /// What can be done about it at once.
    pub(crate) way_out: Option<WayOut>,
    /// What it is about, so that a later success takes it away.
    about: Option<String>,
    /// When it was first seen, in the window's seconds.
    seen_at: Option<f64>,
}

/// How long a note is shown, in seconds. Common practice, no source.
const NOTE_SECS: f64 = 8.0;

/// All that has not been read yet, the oldest first.
#[derive(Debug, Default)]
pub(crate) struct Notices {
    all: Vec<Notice>,
    shown: usize,
    /// All that was ever told: a test's time runs fast.
    #[cfg(test)]
    pub(crate) ever: Vec<String>,
}

impl Notices {
    /// Tells that something could not be done. What stands there already is not told twice.
    #[expect(
        clippy::needless_pass_by_value,
        reason = "errors and texts are handed over as they come"
    )]
    pub(crate) fn error(&mut self, what: impl ToString) {
        self.add(Gravity::Error, what.to_string(), None);
    }

    /// Tells something that is good to know.
    #[expect(
        clippy::needless_pass_by_value,
        reason = "errors and texts are handed over as they come"
    )]
    pub(crate) fn note(&mut self, what: impl ToString) {
        self.add(Gravity::Note, what.to_string(), None);
    }

    /// Tells that something could not be done, until [`Notices::settled`] is told that it could.
    #[expect(clippy::needless_pass_by_value, reason = "errors are handed over as they come")]
    pub(crate) fn error_about(&mut self, about: &str, what: impl ToString) {
        self.settled(about);
        self.add(Gravity::Error, what.to_string(), Some(about.to_owned()));
    }

    /// Tells that something could not be done, with a button for what can.
    pub(crate) fn error_with(&mut self, what: String, label: &'static str, command: Command) {
        self.add(Gravity::Error, what, None);
        if let Some(told) = self.all.last_mut() {
            told.way_out = Some(WayOut { label, command });
        }
    }

    /// What was told about this is true no longer.
    pub(crate) fn settled(&mut self, about: &str) {
        self.all.retain(|notice| notice.about.as_deref() != Some(about));
    }

    /// Lets notes go that were seen long enough. Gives the seconds until the next one goes.
    pub(crate) fn let_go(&mut self, now: f64) -> Option<f64> {
        let shown = self.shown();
        for notice in self.all.iter_mut().take(shown) {
            notice.seen_at.get_or_insert(now);
        }
        let left = |notice: &Notice| match (notice.gravity, notice.seen_at) {
            (Gravity::Note, Some(seen_at)) => Some(seen_at + NOTE_SECS - now),
            _ => None,
        };
        self.all.retain(|notice| left(notice).is_none_or(|left| left > 0.0));
        self.all.iter().filter_map(left).min_by(f64::total_cmp)
    }

    fn add(&mut self, gravity: Gravity, text: String, about: Option<String>) {
        #[cfg(test)]
        self.ever.push(text.clone());
        if !self.all.iter().any(|known| known.gravity == gravity && known.text == text) {
            self.all.push(Notice { gravity, text, way_out: None, about, seen_at: None });
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_goes_after_a_while_and_an_error_stays() {
        let mut notices = Notices::default();
        notices.note("Exported 3 files");
        notices.error("oak.png: it is torn");
        assert_eq!(notices.let_go(5.0), None, "nothing was shown yet");
        notices.note_shown();
        assert_eq!(notices.let_go(10.0), Some(NOTE_SECS));
        assert_eq!(notices.let_go(12.0), Some(NOTE_SECS - 2.0));
        assert_eq!(notices.let_go(10.0 + NOTE_SECS), None);
        let left: Vec<&str> = notices.all().iter().map(|notice| notice.text.as_str()).collect();
        assert_eq!(left, ["oak.png: it is torn"]);
    }

    #[test]
    fn a_success_takes_the_earlier_failure_away_and_no_other() {
        let mut notices = Notices::default();
        notices.error("oak.png: it is torn");
        notices.error_about("export", "the folder could not be made");
        notices.error_about("export", "the disk is full");
        assert_eq!(notices.all().len(), 2, "the later one is what counts");
        // What stands there already is not told twice, and nothing else goes in its place.
        notices.error("the lamp is out");
        notices.error_about("export", "oak.png: it is torn");
        assert_eq!(notices.all().len(), 2);
        notices.settled("export");
        let left: Vec<&str> = notices.all().iter().map(|notice| notice.text.as_str()).collect();
        assert_eq!(left, ["oak.png: it is torn", "the lamp is out"]);
    }
}
