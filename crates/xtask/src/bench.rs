//! `cargo xtask bench`: runs every bench of the workspace and the peers they are compared with, and holds
//! the figures against the goals. It measures nothing itself.
//!
//! A bench is a file `crates/CRATE/benches/NAME.rs` with a `main` of its own. It takes `--quick`, and prints
//! each figure as a line `@<TAB>name<TAB>value<TAB>unit` among text for the reader. Peers do the same.

mod curves;
mod figures;
mod goals;
mod peers;
mod table;

use std::fs;
use std::path::Path;

use crate::step::Step;
use figures::Figures;

/// How to run them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Options {
    /// Less work, for figures that are nearly as good.
    pub(crate) quick: bool,
    /// Without the peers in Python.
    pub(crate) offline: bool,
}

/// Runs all benches, then the peers, and prints the table of goals, the curves, and what each took.
///
/// # Errors
/// Says which bench could not be built or run. An unmet goal is no error, nor are missing peers.
pub(crate) fn run(root: &Path, options: Options) -> Result<(), String> {
    let benches = benches(root)?;
    for Bench { target, .. } in &benches {
        Step::new("build", "cargo", &format!("bench {target} --no-run")).run(root)?;
    }
    let flag = if options.quick { "--quick" } else { "" };
    let peers = if options.offline { Vec::new() } else { peers::prepare(root, flag).into() };
    let mut figures = Figures::default();
    let mut times = Vec::new();
    for Bench { name, target } in benches {
        let step = Step::new("bench", "cargo", &format!("bench {target} -- {flag}"));
        times.push((name, figures.measure(&step, root)?));
    }
    let mut left_out = Vec::new();
    for peer in peers {
        let measured = peer.and_then(|step| Ok((step.name, figures.measure(&step, root)?)));
        match measured {
            Ok((name, seconds)) => times.push((name.to_owned(), seconds)),
            Err(why) => left_out.push(why),
        }
    }
    table::print(&figures);
    print_left_out(options, &left_out);
    curves::print(&figures);
    print_times(&times);
    Ok(())
}

fn print_left_out(options: Options, left_out: &[String]) {
    if options.offline {
        println!("the peers were left out, as --offline was given");
    }
    for why in left_out {
        println!("a peer was left out: {why}");
    }
}

fn print_times(times: &[(String, f64)]) {
    println!("\ntime, s");
    for (name, seconds) in times {
        println!("  {name:<24}{seconds:>8.1}");
    }
    let all: f64 = times.iter().map(|(_, seconds)| seconds).sum();
    println!("  {:<24}{all:>8.1}", "all");
}

struct Bench {
    /// Its crate and its own name.
    name: String,
    /// Cargo's arguments for it.
    target: String,
}

/// All benches, by name.
fn benches(root: &Path) -> Result<Vec<Bench>, String> {
    let listed = |folder: &Path| -> Result<Vec<String>, String> {
        let entries =
            fs::read_dir(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
        Ok(entries
            .flatten()
            .map(|entry| entry.file_name().to_string_lossy().into_owned())
            .collect())
    };
    let mut found = Vec::new();
    for package in listed(&root.join("crates"))? {
        let folder = root.join("crates").join(&package).join("benches");
        if !folder.is_dir() {
            continue;
        }
        for file in listed(&folder)? {
            let in_folder = folder.join(&file).join("main.rs").is_file();
            if let Some(bench) = file.strip_suffix(".rs").or(in_folder.then_some(&file)) {
                found.push(Bench {
                    name: format!("{package}/{bench}"),
                    target: format!("--package {package} --bench {bench}"),
                });
            }
        }
    }
    found.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(found)
}
