//! One command of a check, run in the open: its output goes to the terminal as it comes.

use std::fmt;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

/// A command to run in the repository's root.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Step {
    /// What it is for, in a word or two.
    pub(crate) name: &'static str,
    /// The program.
    pub(crate) program: String,
    /// What it is given.
    pub(crate) arguments: Vec<String>,
    /// Variables set for it.
    pub(crate) variables: Vec<(&'static str, String)>,
}

impl Step {
    /// A step with arguments that are separated by spaces.
    pub(crate) fn new(name: &'static str, program: &str, arguments: &str) -> Self {
        Self {
            name,
            program: program.to_owned(),
            arguments: arguments.split_whitespace().map(str::to_owned).collect(),
            variables: Vec::new(),
        }
    }

    /// The same with a variable set.
    pub(crate) fn with(mut self, variable: &'static str, value: &str) -> Self {
        self.variables.push((variable, value.to_owned()));
        self
    }

    /// The process that it is, not yet started.
    pub(crate) fn command(&self, root: &Path) -> Command {
        let mut command = Command::new(&self.program);
        command
            .args(&self.arguments)
            .envs(self.variables.iter().map(|(variable, value)| (variable, value)))
            .current_dir(root)
            .stdin(Stdio::null());
        command
    }

    /// Runs it under a header and prints how long it took.
    ///
    /// # Errors
    /// Says which command to run again.
    pub(crate) fn run(&self, root: &Path) -> Result<(), String> {
        println!("\n== {}: {self}", self.name);
        let started = Instant::now();
        let status = self.command(root).status();
        let seconds = started.elapsed().as_secs_f64();
        match status {
            Ok(status) if status.success() => {
                println!("== {}: done in {seconds:.1} s", self.name);
                Ok(())
            }
            Ok(status) => {
                let name = self.name;
                Err(format!(
                    "{name} failed ({status}) after {seconds:.1} s. To run it again:\n{self}"
                ))
            }
            Err(error) => Err(format!("{}: {}: {error}", self.name, self.program)),
        }
    }
}

impl fmt::Display for Step {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (variable, value) in &self.variables {
            write!(out, "{variable}='{value}' ")?;
        }
        write!(out, "{}", self.program)?;
        self.arguments.iter().try_for_each(|argument| write!(out, " {argument}"))
    }
}

/// Whether a program starts and says that all is well.
pub(crate) fn answers(program: &str, arguments: &[&str]) -> bool {
    Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}
