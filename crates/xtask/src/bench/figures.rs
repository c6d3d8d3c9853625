//! Figures as benches print them, and how they are gathered while the text goes through.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::Stdio;
use std::time::Instant;

use crate::step::Step;

/// Something that was measured.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Figure {
    /// What it is; `curve NAME/POINT` is a point of a curve.
    pub(crate) name: String,
    /// How much.
    pub(crate) value: f64,
    /// Of what.
    pub(crate) unit: String,
}

/// All that was measured in one run, in the order in which it came.
#[derive(Debug, Default)]
pub(crate) struct Figures(pub(crate) Vec<Figure>);

impl Figures {
    /// Runs a command and adds the figures that it prints; returns how many seconds it took.
    ///
    /// # Errors
    /// Says which command failed.
    pub(crate) fn measure(&mut self, step: &Step, root: &Path) -> Result<f64, String> {
        let started = Instant::now();
        self.0.extend(figures_of(step, root)?);
        Ok(started.elapsed().as_secs_f64())
    }

    /// The figure of this name; the latest, should it come twice.
    pub(crate) fn get(&self, name: &str) -> Option<&Figure> {
        self.0.iter().rev().find(|figure| figure.name == name)
    }
}

/// The figure that a line holds, if it is one: `@`, name, value and unit, parted by tabs.
pub(super) fn figure(line: &str) -> Option<Figure> {
    let mut parts = line.strip_prefix("@\t")?.split('\t');
    let (name, value, unit) = (parts.next()?, parts.next()?, parts.next()?);
    let value: f64 = value.trim().parse().ok()?;
    let whole = parts.next().is_none() && !name.is_empty() && value.is_finite();
    whole.then(|| Figure { name: name.to_owned(), value, unit: unit.trim().to_owned() })
}

/// Runs a command, passes on what it prints, and returns the figures in it. A line that begins as a figure
/// and is none is an error.
fn figures_of(step: &Step, root: &Path) -> Result<Vec<Figure>, String> {
    println!("\n== {}: {step}", step.name);
    let failed = |problem: &dyn std::fmt::Display| format!("{step}: {problem}");
    let mut child =
        step.command(root).stdout(Stdio::piped()).spawn().map_err(|error| failed(&error))?;
    let mut found = Vec::new();
    for line in child.stdout.take().into_iter().flat_map(|out| BufReader::new(out).lines()) {
        let line = line.map_err(|error| failed(&error))?;
        match figure(&line) {
            Some(figure) => {
                println!("   {}: {} {}", figure.name, shown(figure.value), figure.unit);
                found.push(figure);
            }
            None if line.starts_with("@\t") => return Err(failed(&format!("no figure: {line}"))),
            None => println!("{line}"),
        }
    }
    let status = child.wait().map_err(|error| failed(&error))?;
    if status.success() { Ok(found) } else { Err(failed(&status)) }
}

/// A value with three digits that count.
pub(crate) fn shown(value: f64) -> String {
    let size = value.abs();
    if size >= 99.95 {
        format!("{value:.0}")
    } else if size >= 9.995 {
        format!("{value:.1}")
    } else if size >= 0.9995 {
        format!("{value:.2}")
    } else {
        format!("{value:.3}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_is_a_line_of_four_parts() {
        let found = figure("@\tover, one thread\t1874.5\tMpx-layers/s").unwrap();
        assert_eq!((found.name.as_str(), found.value), ("over, one thread", 1874.5));
        assert_eq!(found.unit, "Mpx-layers/s");
        for line in
            ["over\t1\ts", "@\tover\t1", "@\tover\tfast\ts", "@\tover\tNaN\ts", "@\tover\t1\ts\tx"]
        {
            assert_eq!(figure(line), None, "{line}");
        }
    }

    #[test]
    fn the_latest_of_two_figures_of_a_name_counts() {
        let figures = Figures(
            ["@\ta\t1\ts", "@\tb\t2\ts", "@\ta\t3\ts"].into_iter().filter_map(figure).collect(),
        );
        assert_eq!(figures.get("a").unwrap().value, 3.0);
        assert!(figures.get("c").is_none());
    }

    #[test]
    fn values_are_shown_with_three_digits_that_count() {
        let texts = [0.0123, 0.99961, 1.234, 12.345, 1234.5].map(shown);
        assert_eq!(texts, ["0.012", "1.00", "1.23", "12.3", "1234"]);
    }
}
