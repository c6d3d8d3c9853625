//! `cargo xtask torture`: kills a writer of a project file far more often than the tests do.

use std::path::Path;

use crate::step::{Step, answers};

/// How often, where nothing else is said.
pub(crate) const TIMES: &str = "1000";

const TEST: &str = "a_writer_that_is_killed_leaves_all_that_it_acknowledged_and_nothing_half";

/// Runs the test that kills so many times.
///
/// # Errors
/// Says what is no number, or that the test failed.
pub(crate) fn run(root: &Path, times: &str) -> Result<(), String> {
    if times.parse::<u32>().is_err() {
        return Err(format!("--times {times}: this is no number; give one such as {TIMES}"));
    }
    step(times).run(root)
}

/// The whole workspace is built as for its tests, so that nothing is built for this alone.
fn step(times: &str) -> Step {
    let arguments = if answers("cargo", &["nextest", "--version"]) {
        format!("nextest run --workspace --no-capture {TEST}")
    } else {
        format!("test --workspace --test store {TEST} -- --nocapture")
    };
    Step::new("torture", "cargo", &arguments).with("SCUMBLE_KILLS", times)
}
