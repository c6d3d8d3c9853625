//! Parts that take no part in a stroke or a fill.

use std::sync::Arc;

use surface::PartId;

/// Parts that get no paint, and how they stand in the way. A hidden part is as if it were not there: the
/// pen goes through it and it hides nothing. A locked part is there: the pen lands on it, and it shields
/// what lies behind.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LeftOut {
    /// Ascending, each once.
    hidden: Arc<[PartId]>,
    /// The same, without those that are hidden.
    locked: Arc<[PartId]>,
}

impl LeftOut {
    /// A part that is both is hidden.
    pub fn new(
        hidden: impl IntoIterator<Item = PartId>,
        locked: impl IntoIterator<Item = PartId>,
    ) -> Self {
        let hidden = sorted(hidden.into_iter());
        let locked = sorted(locked.into_iter().filter(|part| hidden.binary_search(part).is_err()));
        Self { hidden, locked }
    }

    /// The hidden parts, ascending.
    pub fn hidden(&self) -> &[PartId] {
        &self.hidden
    }

    /// The locked parts that are not hidden, ascending.
    pub fn locked(&self) -> &[PartId] {
        &self.locked
    }

    /// True when every part is painted.
    pub fn is_empty(&self) -> bool {
        self.hidden.is_empty() && self.locked.is_empty()
    }

    /// True for a part that is as if it were not there.
    pub fn hides(&self, part: PartId) -> bool {
        self.hidden.binary_search(&part).is_ok()
    }

    /// True for a part that gets paint.
    pub fn paints(&self, part: PartId) -> bool {
        !self.hides(part) && self.locked.binary_search(&part).is_err()
    }

    /// The highest number of a part that is named.
    pub fn highest(&self) -> Option<PartId> {
        self.hidden.last().max(self.locked.last()).copied()
    }
}

fn sorted(parts: impl Iterator<Item = PartId>) -> Arc<[PartId]> {
    let mut parts: Vec<PartId> = parts.collect();
    parts.sort_unstable();
    parts.dedup();
    parts.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_that_is_hidden_and_locked_is_hidden() {
        let left_out = LeftOut::new([PartId(4), PartId(1), PartId(4)], [PartId(2), PartId(1)]);
        assert_eq!(left_out.hidden(), [PartId(1), PartId(4)]);
        assert_eq!(left_out.locked(), [PartId(2)]);
        assert!(left_out.hides(PartId(1)) && !left_out.hides(PartId(2)));
        let painted = (0..6).map(PartId).filter(|part| left_out.paints(*part));
        assert_eq!(painted.collect::<Vec<_>>(), [PartId(0), PartId(3), PartId(5)]);
        assert_eq!(left_out.highest(), Some(PartId(4)));
        assert!(LeftOut::default().is_empty() && !left_out.is_empty());
    }
}
