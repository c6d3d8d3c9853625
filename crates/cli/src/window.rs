//! `scumble` and `scumble FILE`: the window.

use std::path::PathBuf;

use app::{AppError, Start};

use crate::arguments::{Demo, Depth};
use crate::demo;
use crate::failure::Failure;

pub(crate) fn run(file: Option<PathBuf>) -> Result<(), Failure> {
    let start = match file {
        Some(file) if file.is_file() => Start::File(file),
        Some(file) => {
            let name = file.display();
            return Err(Failure::Usage(format!(
                "{name} is neither a command nor a file: see scumble --help"
            )));
        }
        None => Start::Demo,
    };
    match (app::run(&start, demo::HARBOUR_BELL), start) {
        (Err(AppError::NoDisplay(reason)), Start::Demo) => {
            eprintln!(
                "scumble: no window can be opened here ({reason}): painting the demo into out/"
            );
            demo::run(&Demo { out: "out".into(), size: 2048, depth: Depth::Sixteen })
        }
        (done, _) => Ok(done?),
    }
}
