//! What the hand does in the views: it paints, or selects, fills or lays a gradient by clicks and drags.

use brush::{Axis, Easing};
use document::SelectMode;
use egui::Modifiers;
use layers::ChannelId;

/// What a press with the brush hand begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) enum Tool {
    /// Strokes.
    #[default]
    Brush,
    /// Says what may be painted.
    Select,
    /// Paints an area at once.
    Fill,
    /// Paints from full to nothing.
    Gradient,
}

/// What a click or a drag means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Area {
    /// What lies in a line drawn round it.
    Lasso,
    /// A part.
    Part,
    /// A UV island.
    Island,
    /// A polygon of the model.
    Face,
    /// All faces up to sharp edges.
    Crease,
    /// What has the same colour or value.
    Alike,
}

/// How a gradient runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Way {
    /// From point to point.
    Linear,
    /// From a point outwards.
    Radial,
    /// Along an axis of the model.
    Along(Axis),
}

/// What is in the hand, and how each of the tools is set.
#[derive(Debug, Clone, PartialEq)]
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of its own on screen")]
pub(crate) struct ToolInHand {
    pub(crate) tool: Tool,
    /// What a click selects.
    pub(crate) selects: Area,
    /// How it meets what was selected.
    pub(crate) mode: SelectMode,
    /// What a click fills; all that is selected where none.
    pub(crate) fills: Option<Area>,
    /// Fills take the brush's tooth.
    pub(crate) fills_tooth: bool,
    /// The most by which the surface bends over an edge that is no crease, in degrees.
    pub(crate) crease_degrees: f64,
    /// The channel that colours are compared in.
    pub(crate) channel: ChannelId,
    /// By how much they may differ, 0..1.
    pub(crate) tolerance: f64,
    /// Only what hangs together.
    pub(crate) connected: bool,
    /// Texels by which the selection grows or shrinks.
    pub(crate) grows_by: f64,
    /// Texels by which it softens.
    pub(crate) softens_by: f64,
    pub(crate) way: Way,
    pub(crate) easing: Easing,
    /// The axis across which paint is mirrored.
    pub(crate) across: Axis,
    /// The plane stands in the middle of the part that is selected, else of the model.
    pub(crate) across_part: bool,
    /// The selection is seen in the views.
    pub(crate) is_selection_seen: bool,
}

impl Default for ToolInHand {
    fn default() -> Self {
        Self {
            tool: Tool::Brush,
            selects: Area::Lasso,
            mode: SelectMode::Replace,
            fills: None,
            fills_tooth: true,
            crease_degrees: 30.0,
            channel: ChannelId::BASE_COLOUR,
            tolerance: 0.1,
            connected: true,
            grows_by: 4.0,
            softens_by: 4.0,
            way: Way::Linear,
            easing: Easing::Even,
            across: Axis::X,
            across_part: false,
            is_selection_seen: true,
        }
    }
}

impl ToolInHand {
    /// How a click with these keys held meets what was selected.
    pub(crate) fn mode_with(&self, held: Modifiers) -> SelectMode {
        match (held.shift, held.command) {
            (true, true) => SelectMode::Intersect,
            (true, false) => SelectMode::Add,
            (false, true) => SelectMode::TakeAway,
            (false, false) => self.mode,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_that_are_held_go_before_the_mode_that_is_set() {
        let tool = ToolInHand { mode: SelectMode::TakeAway, ..ToolInHand::default() };
        let both = Modifiers::SHIFT | Modifiers::COMMAND;
        assert_eq!(tool.mode_with(Modifiers::NONE), SelectMode::TakeAway);
        assert_eq!(tool.mode_with(Modifiers::SHIFT), SelectMode::Add);
        assert_eq!(tool.mode_with(Modifiers::COMMAND), SelectMode::TakeAway);
        assert_eq!(tool.mode_with(both), SelectMode::Intersect);
    }
}
