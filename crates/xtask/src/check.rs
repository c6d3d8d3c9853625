//! `cargo xtask test`: every check there is, in order, the cheapest first.

use std::path::Path;

use crate::outside;
use crate::step::{Step, answers};

/// Runs all checks; the first that fails ends the run. Offline, checks by outside programs are left out.
///
/// # Errors
/// Says which check failed and how to run it again.
pub(crate) fn run(root: &Path, offline: bool) -> Result<(), String> {
    if !offline {
        outside::install(root)?;
    }
    let outside = outside::steps();
    for step in first_steps().iter().chain(outside.iter().filter(|_| !offline)).chain([&docs()]) {
        step.run(root)?;
    }
    println!("\nall checks passed");
    if offline {
        println!("left out, as --offline was given:");
        for step in &outside {
            println!("  {}: {step}", step.name);
        }
    }
    Ok(())
}

fn first_steps() -> Vec<Step> {
    let cargo = |name, arguments| Step::new(name, "cargo", arguments);
    let tests = if answers("cargo", &["nextest", "--version"]) {
        "nextest run --workspace"
    } else {
        "test --workspace --lib --bins --tests"
    };
    vec![
        cargo("format", "fmt --all --check"),
        cargo("lints", "clippy --workspace --all-targets -- -D warnings"),
        cargo("tests", tests),
        cargo("examples in docs", "test --workspace --doc"),
    ]
}

fn docs() -> Step {
    Step::new("docs", "cargo", "doc --workspace --no-deps").with("RUSTDOCFLAGS", "-D warnings")
}
