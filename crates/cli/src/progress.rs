//! A bar on the terminal for long work; nothing where standard error is no terminal.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};
use raster::Observer;

/// One bar, from its making until it is dropped.
#[derive(Debug)]
pub(crate) struct Bar(ProgressBar);

impl Bar {
    /// A bar that says what is being done.
    pub(crate) fn new(doing: impl Into<String>) -> Self {
        let bar = ProgressBar::new(0);
        let style = ProgressStyle::with_template("{msg:28} {bar:32} {percent:>3} %  {elapsed}");
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        bar.set_message(doing.into());
        bar.enable_steady_tick(Duration::from_millis(200));
        Self(bar)
    }
}

impl Observer for Bar {
    fn progress(&self, done: u64, total: u64) {
        self.0.set_length(total);
        self.0.set_position(done);
    }

    fn stopped(&self) -> bool {
        false
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
