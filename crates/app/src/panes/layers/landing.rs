//! Where a layer that is dragged over the table would land.

use layers::{LayerId, Place, Stack};

use super::rows::Row;

/// Where it lands, and how that is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Landing {
    /// The place, counted as the stack is once the layer is taken out.
    pub(crate) place: Place,
    /// How it is shown.
    pub(crate) mark: Mark,
}

/// What shows where a layer lands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mark {
    /// A line over the row with this number, as far in as a layer in so many groups.
    Line {
        /// The row below the line.
        over: usize,
        /// In how many groups it lands.
        depth: usize,
    },
    /// A frame about a group's row.
    Into(usize),
}

/// Where the layer `moved` lands when it is let go at a height of `at` rows from the top. `wish` is the number of
/// groups that it should lie in where there is a choice, as at the end of a group. None where it would lie in
/// itself.
pub(crate) fn landing(
    stack: &Stack,
    rows: &[Row],
    moved: LayerId,
    at: f32,
    wish: usize,
) -> Option<Landing> {
    let at = at.clamp(0.0, rows.len() as f32);
    let (row, within) = (at.floor() as usize, at.fract());
    let (place, mark) = match rows.get(row) {
        Some(group) if group.is_group() && (0.25..0.75).contains(&within) => {
            (inside(group), Mark::Into(row))
        }
        _ => {
            let over = at.round() as usize;
            let (place, depth) = between(rows, over, wish);
            (place, Mark::Line { over, depth })
        }
    };
    let from = stack.place_of(moved)?;
    if lies_in(stack, place.parent, moved) {
        return None;
    }
    let shifts = from.parent == place.parent && from.index < place.index;
    let place = Place { index: place.index - usize::from(shifts), ..place };
    Some(Landing { place, mark })
}

/// On top of what a group holds.
fn inside(group: &Row) -> Place {
    Place { parent: Some(group.layer.id), index: group.layer.children().len() }
}

/// The place in the gap over row `over`, and in how many groups it lies.
fn between(rows: &[Row], over: usize, wish: usize) -> (Place, usize) {
    let Some(above) = over.checked_sub(1).and_then(|row| rows.get(row)) else {
        let top = rows.first().map_or(0, |first| first.place.index + 1);
        return (Place { parent: None, index: top }, 0);
    };
    let least = rows.get(over).map_or(0, |below| below.depth);
    let most = above.depth + usize::from(above.is_open);
    let depth = wish.clamp(least, most.max(least));
    if depth > above.depth {
        return (inside(above), depth);
    }
    // Right below the layer of that depth that `above` is, or lies in.
    let beside = rows[..over].iter().rev().find(|row| row.depth <= depth).unwrap_or(above);
    (beside.place, depth)
}

fn lies_in(stack: &Stack, parent: Option<LayerId>, moved: LayerId) -> bool {
    let mut parent = parent;
    while let Some(group) = parent {
        if group == moved {
            return true;
        }
        parent = stack.place_of(group).and_then(|place| place.parent);
    }
    false
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::super::rows::rows;
    use super::super::rows::tests::nested;
    use super::*;

    /// The ids from the top after a layer was let go, with their depths.
    fn after(moved: u32, at: f32, wish: usize) -> Option<Vec<(u32, usize)>> {
        let stack = nested();
        let before = rows(&stack, &BTreeSet::new());
        let landing = landing(&stack, &before, LayerId(moved), at, wish)?;
        let stack = stack.moved(LayerId(moved), landing.place).unwrap();
        let after = rows(&stack, &BTreeSet::new());
        Some(after.iter().map(|row| (row.layer.id.0, row.depth)).collect())
    }

    // From the top: 5, group 4 (3, group 2 (1)), 0.
    #[test]
    fn a_layer_lands_in_the_gap_that_it_is_let_go_over() {
        let top = [(0, 0), (5, 0), (4, 0), (3, 1), (2, 1), (1, 2)];
        assert_eq!(after(0, 0.1, 0).unwrap(), top);
        let bottom = [(4, 0), (3, 1), (2, 1), (1, 2), (0, 0), (5, 0)];
        assert_eq!(after(5, 5.9, 0).unwrap(), bottom);
        let between = [(4, 0), (3, 1), (5, 1), (2, 1), (1, 2), (0, 0)];
        assert_eq!(after(5, 3.1, 0).unwrap(), between);
    }

    #[test]
    fn over_the_middle_of_a_group_it_lands_in_it() {
        let within = [(4, 0), (5, 1), (3, 1), (2, 1), (1, 2), (0, 0)];
        assert_eq!(after(5, 1.5, 0).unwrap(), within);
        let deep = [(5, 0), (4, 0), (3, 1), (2, 1), (0, 2), (1, 2)];
        assert_eq!(after(0, 3.5, 0).unwrap(), deep);
    }

    #[test]
    fn at_the_end_of_groups_the_hand_says_which_it_leaves() {
        for (wish, depth) in [(0, 0), (1, 1), (2, 2), (9, 2)] {
            let expected = [(4, 0), (3, 1), (2, 1), (1, 2), (5, depth), (0, 0)];
            assert_eq!(after(5, 4.9, wish).unwrap(), expected, "wish {wish}");
        }
    }

    #[test]
    fn a_group_never_lands_in_itself() {
        assert!(after(4, 2.1, 1).is_none());
        assert!(after(4, 3.5, 0).is_none());
        assert!(after(4, 1.5, 0).is_none());
    }

    #[test]
    fn let_go_where_it_is_it_stays() {
        let same = [(5, 0), (4, 0), (3, 1), (2, 1), (1, 2), (0, 0)];
        assert_eq!(after(5, 0.2, 0).unwrap(), same);
        assert_eq!(after(3, 2.9, 1).unwrap(), same);
    }
}
