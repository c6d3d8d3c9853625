//! Curves: figures named `curve NAME/POINT`, shown as a row of values with a small plot.

use super::figures::{Figure, Figures, shown};
use super::goals::FLAT;

const BARS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// Prints each curve: its values, a plot from zero to the largest, and the largest over the smallest.
pub(crate) fn print(figures: &Figures) {
    let curves = curves(&figures.0);
    if curves.is_empty() {
        println!("\ncurves: not measured");
        return;
    }
    println!("\ncurves (goal: largest / smallest <= {FLAT})");
    for (name, points) in curves {
        let values: Vec<f64> = points.iter().map(|(_, figure)| figure.value).collect();
        let spread = spread(&values);
        let met = if spread <= FLAT { "yes" } else { "NO" };
        let unit = points.first().map_or("", |(_, figure)| &figure.unit);
        let row: Vec<String> = points
            .iter()
            .map(|(point, figure)| format!("{point}: {}", shown(figure.value)))
            .collect();
        println!(
            "{name}, {unit}\n  {}  {}  spread {}  {met}",
            row.join("   "),
            plot(&values),
            shown(spread)
        );
    }
}

/// Name and points of each curve, all in the order in which they came.
fn curves(figures: &[Figure]) -> Vec<(&str, Vec<(&str, &Figure)>)> {
    let mut curves: Vec<(&str, Vec<(&str, &Figure)>)> = Vec::new();
    for figure in figures {
        let Some((name, point)) =
            figure.name.strip_prefix("curve ").and_then(|rest| rest.rsplit_once('/'))
        else {
            continue;
        };
        match curves.iter_mut().find(|(known, _)| *known == name) {
            Some((_, points)) => points.push((point, figure)),
            None => curves.push((name, vec![(point, figure)])),
        }
    }
    curves
}

fn spread(values: &[f64]) -> f64 {
    let largest = values.iter().copied().fold(f64::MIN, f64::max);
    largest / values.iter().copied().fold(f64::MAX, f64::min)
}

fn plot(values: &[f64]) -> String {
    let largest = values.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    let bar = |value: &f64| BARS[((value / largest * 8.0).ceil() as usize).clamp(1, 8) - 1];
    values.iter().map(bar).collect()
}

#[cfg(test)]
mod tests {
    use super::super::figures::figure;
    use super::*;

    #[test]
    fn points_are_grouped_by_what_stands_before_the_slash() {
        let lines = ["curve a/1k\t1", "other\t9", "curve b/x\t2", "curve a/2k\t3"];
        let figures: Vec<Figure> =
            lines.iter().filter_map(|line| figure(&format!("@\t{line}\tms"))).collect();
        let found: Vec<(&str, Vec<&str>)> = curves(&figures)
            .into_iter()
            .map(|(name, points)| (name, points.into_iter().map(|(point, _)| point).collect()))
            .collect();
        assert_eq!(found, [("a", vec!["1k", "2k"]), ("b", vec!["x"])]);
    }

    #[test]
    fn a_plot_goes_from_zero_to_the_largest() {
        assert_eq!(plot(&[1.0, 4.0, 8.0]), "▁▄█");
        assert_eq!(spread(&[1.0, 4.0, 0.5]), 8.0);
    }
}
