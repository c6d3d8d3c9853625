//! How strokes on the model are repeated, as a person sets it.

use brush::{Axis, Symmetry};
use glam::DVec3;

/// Where planes and axis meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum About {
    /// The middle of the model's box.
    #[default]
    Middle,
    /// The middle of the box of the part that the pointer was over last.
    Part,
    /// The model's origin.
    Origin,
}

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SymmetryInHand {
    /// The planes across x, y and z.
    pub(crate) mirrors: [bool; 3],
    /// The axis to be turned about.
    pub(crate) turns: Option<Axis>,
    /// How often in one full turn.
    pub(crate) count: u8,
    /// Where they meet.
    pub(crate) about: About,
}

impl Default for SymmetryInHand {
    fn default() -> Self {
        Self { mirrors: [false; 3], turns: None, count: 6, about: About::Middle }
    }
}

impl SymmetryInHand {
    /// True where strokes are repeated.
    pub(crate) fn is_on(self) -> bool {
        self.turns.is_some() || self.mirrors.contains(&true)
    }

    /// What a stroke is given, on a model or a part whose box has these corners; none where it stands alone.
    pub(crate) fn symmetry(self, (low, high): (DVec3, DVec3)) -> Option<Symmetry> {
        let centre = match self.about {
            About::Middle | About::Part => low.midpoint(high),
            About::Origin => DVec3::ZERO,
        };
        let turns = self.turns.map(|axis| (axis, self.count.clamp(2, 32)));
        self.is_on().then_some(Symmetry { centre, mirrors: self.mirrors, turns })
    }
}
