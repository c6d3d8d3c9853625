//! What an import has to tell that is no error: each thing once, and never more than a person reads.

const MOST: usize = 60;

/// Lines for the person at the screen, in the order in which they came up.
#[derive(Debug, Default)]
pub(crate) struct Notes {
    lines: Vec<String>,
    more: usize,
}

impl Notes {
    /// Adds a line, unless it was said already.
    pub(crate) fn add(&mut self, line: impl Into<String>) {
        let line = line.into();
        if self.lines.contains(&line) {
            return;
        }
        if self.lines.len() < MOST {
            self.lines.push(line);
        } else {
            self.more += 1;
        }
    }

    /// All lines, and how many were too many.
    pub(crate) fn into_lines(mut self) -> Vec<String> {
        if self.more > 0 {
            self.lines.push(format!("and {} more notes", self.more));
        }
        self.lines
    }
}
