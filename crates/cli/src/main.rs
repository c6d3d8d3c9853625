//! The command line `scumble`: what was typed becomes a command, the command runs, its end becomes an
//! exit code. 0 done, 1 a check failed, 2 usage, 3 bad input, 4 no graphics
//! adapter or no display.

mod apply;
mod arguments;
mod brush_plate;
mod contact_sheet;
mod demo;
mod failure;
mod info;
mod output;
mod progress;
mod project;
mod sheet_text;
mod show;
mod window;

use std::process::ExitCode;

use clap::Parser;

use crate::arguments::{Arguments, Command};

/// The system's own gives memory back too eagerly: each frame of a stroke would fetch its pages anew.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let done = match arguments.command {
        None => window::run(arguments.file),
        Some(Command::Demo(command)) => demo::run(&command),
        Some(Command::Info(command)) => info::run(&command),
        Some(Command::Apply(command)) => apply::run(&command),
        Some(Command::Show(command)) => show::run(&command),
        Some(Command::Brushes(command)) => brush_plate::run(&command),
        Some(Command::History(command)) => project::history(&command.project, command.edits),
        Some(Command::Verify(command)) => project::verify(&command.project),
        Some(Command::Pack(command)) => project::pack(&command.project, &command.out),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("scumble: {failure}");
            ExitCode::from(failure.code())
        }
    }
}
