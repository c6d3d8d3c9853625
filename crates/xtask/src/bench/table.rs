//! The table of goals: what was measured, what it is held against, and whether the goal is met.

use super::figures::{Figures, shown};
use super::goals::{Bound, GOALS, Goal};

/// Prints it.
pub(crate) fn print(figures: &Figures) {
    println!("\n{}", row("work", "ours", "peer", "", "ratio", ("goal", "met")));
    for goal in GOALS {
        println!("{}", line(goal, figures));
    }
}

fn line(goal: Goal, figures: &Figures) -> String {
    let bound = match goal.bound {
        Bound::AtLeast(bound) => format!(">= {bound}"),
        Bound::AtMost(bound) => format!("<= {bound}"),
        Bound::None => "-".to_owned(),
    };
    let ours = figures.get(goal.ours);
    let peer = goal.against.and_then(|name| figures.get(name));
    let measured = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), shown);
    let unit = ours.or(peer).map_or("", |figure| &figure.unit);
    let ratio = match goal.against {
        Some(_) => ours.zip(peer).map(|(ours, peer)| ours.value / peer.value),
        None => ours.map(|ours| ours.value),
    };
    let met = match ratio.map(|ratio| goal.bound.holds(ratio)) {
        None => "not measured",
        Some(None) => "",
        Some(Some(true)) => "yes",
        Some(Some(false)) => "NO",
    };
    let ours = measured(ours.map(|figure| figure.value));
    let peer = measured(peer.map(|figure| figure.value));
    row(goal.work, &ours, &peer, unit, &measured(ratio), (&bound, met))
}

fn row(work: &str, ours: &str, peer: &str, unit: &str, ratio: &str, goal: (&str, &str)) -> String {
    let (bound, met) = goal;
    let row = format!("{work:<32}{ours:>9}{peer:>9} {unit:<13}{ratio:>7}  {bound:<8}{met}");
    row.trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::figures::figure;
    use super::*;

    fn met(ours: &str, peer: &str, bound: Bound) -> String {
        let goal = Goal { work: "work", ours: "ours", against: Some("peer"), bound };
        let lines = [format!("@\tours\t{ours}\ts"), format!("@\tpeer\t{peer}\ts")];
        let figures = Figures(lines.iter().filter_map(|line| figure(line)).collect());
        line(goal, &figures).split_whitespace().last().unwrap_or_default().to_owned()
    }

    #[test]
    fn a_goal_is_met_by_the_ratio_of_ours_to_the_peer() {
        assert_eq!(met("3", "2", Bound::AtLeast(1.5)), "yes");
        assert_eq!(met("3", "2", Bound::AtLeast(1.6)), "NO");
        assert_eq!(met("3", "2", Bound::AtMost(1.5)), "yes");
        assert_eq!(met("3", "2", Bound::AtMost(1.4)), "NO");
        assert_eq!(met("3", "2", Bound::None), "-");
    }

    #[test]
    fn what_is_missing_is_not_measured() {
        assert_eq!(met("3", "", Bound::AtLeast(1.0)), "measured");
        assert_eq!(met("", "3", Bound::AtMost(1.0)), "measured");
    }
}
