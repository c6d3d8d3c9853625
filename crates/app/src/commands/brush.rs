//! The brush and its values.

use std::collections::BTreeMap;

use brush::Axis;
use layers::{ChannelId, Value};

use super::{Command, Entry};
use crate::brush_in_hand::Pick;
use crate::chosen::Aim;
use crate::desk::Desk;
use crate::does::Does;
use crate::tool::Tool;

/// Commands on the brush.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum BrushCommand {
    /// A larger brush.
    Larger,
    /// A smaller brush.
    Smaller,
    /// As long as it is held, a drag sets size and softness.
    HoldToSize,
    /// Recent brushes and colours at the pointer, or away with them.
    AtPointer,
    /// A softer edge.
    Softer,
    /// A harder edge.
    Harder,
    /// More opacity.
    MoreOpaque,
    /// Less opacity.
    LessOpaque,
    /// Erase instead of paint, or paint again.
    ToggleErase,
    /// Let strokes do something else.
    Does(Does),
    /// Pick the point to clone from with the next click.
    PickSource,
    /// Begin a path, or keep the one that is laid.
    DrawPath,
    /// Keep the path that is laid.
    KeepPath,
    /// Give the path that is laid up.
    DropPath,
    /// Keep the decal that is placed.
    KeepDecal,
    /// Give the decal that is placed up.
    DropDecal,
    /// Take the last point of the path back.
    DropLastPoint,
    /// Hold the stencil before the views, or let go of it.
    HoldStencil,
    /// Let paint through where the stencil keeps it off, and the other way round.
    InvertStencil,
    /// Put the stencil back to the middle of the view.
    PutStencilBack,
    /// Mirror strokes across an axis, or no longer.
    MirrorAcross(Axis),
    /// Paint into a channel, or no longer.
    ToggleChannel(ChannelId),
    /// Pick all values with the next click.
    PickAll,
    /// Pick one channel's value with the next click.
    PickOne(ChannelId),
    /// Change places of the present colour and the one before.
    SwapColours,
    /// Keep the present colour in the palette.
    KeepColour,
}

const fn row(
    command: BrushCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::Brush(command), key, label, about, shortcut)
}

/// What a step of opacity or softness is.
const STEP: f32 = 0.1;

pub(super) const TABLE: &[Entry] = &[
    row(BrushCommand::Larger, "brush_larger", "Larger brush", "Make the brush a tenth larger", "]"),
    row(
        BrushCommand::Smaller,
        "brush_smaller",
        "Smaller brush",
        "Make the brush a tenth smaller",
        "[",
    ),
    row(
        BrushCommand::HoldToSize,
        "hold_to_size",
        "Hold for brush size",
        "Hold, and drag over the model or the texture: across sets the brush's size, up makes it harder",
        "D",
    ),
    row(
        BrushCommand::AtPointer,
        "at_pointer",
        "At the pointer",
        "Show recent brushes and colours at the pointer, or put them away",
        "Z",
    ),
    row(BrushCommand::Softer, "brush_softer", "Softer brush", "Let the edge fall off sooner", "Alt+]"),
    row(BrushCommand::Harder, "brush_harder", "Harder brush", "Make the edge crisper", "Alt+["),
    row(
        BrushCommand::MoreOpaque,
        "brush_more_opaque",
        "More opaque",
        "Raise the brush's opacity by a tenth",
        "Ctrl+]",
    ),
    row(
        BrushCommand::LessOpaque,
        "brush_less_opaque",
        "Less opaque",
        "Lower the brush's opacity by a tenth",
        "Ctrl+[",
    ),
    row(
        BrushCommand::ToggleErase,
        "erase",
        "Erase or paint",
        "Take paint off, or paint again",
        "E",
    )
    .left("U"),
    row(
        BrushCommand::Does(Does::Paint),
        "does_paint",
        "Leave paint",
        "Leave the brush's values",
        "Shift+B",
    ),
    row(BrushCommand::Does(Does::Erase), "does_erase", "Erase", "Take paint off", ""),
    row(
        BrushCommand::Does(Does::Smudge),
        "does_smudge",
        "Smudge",
        "Take the paint that is there along with the brush",
        "N",
    )
    .left("R"),
    row(
        BrushCommand::Does(Does::Soften),
        "does_soften",
        "Soften paint",
        "Mix the paint that is there with its neighbours",
        "Shift+N",
    )
    .left("Shift+R"),
    row(
        BrushCommand::Does(Does::Lighten),
        "does_lighten",
        "Lighten",
        "Make the values that are there higher",
        "",
    ),
    row(
        BrushCommand::Does(Does::Darken),
        "does_darken",
        "Darken",
        "Make the values that are there lower",
        "",
    ),
    row(
        BrushCommand::Does(Does::Shift),
        "does_shift",
        "Shift",
        "Change hue, saturation and value of the paint that is there",
        "",
    ),
    row(
        BrushCommand::Does(Does::Clone),
        "does_clone",
        "Clone",
        "Bring paint from elsewhere on the same layer",
        "Shift+C",
    ),
    row(
        BrushCommand::PickSource,
        "pick_source",
        "Pick the source",
        "Take the point to clone from with the next click on the model or the texture",
        "Alt+C",
    ),
    row(
        BrushCommand::DrawPath,
        "draw_path",
        "Draw a path",
        "Set points on the model that a stroke goes through, and that can be moved later",
        "Q",
    ),
    row(BrushCommand::KeepPath, "keep_path", "Keep the path", "Paint the path that is laid", ""),
    row(
        BrushCommand::DropPath,
        "drop_path",
        "Give the path up",
        "Leave the path that is laid unpainted",
        "",
    ),
    row(BrushCommand::KeepDecal, "keep_decal", "Keep the decal", "Paint the decal that is placed", ""),
    row(
        BrushCommand::DropDecal,
        "drop_decal",
        "Give the decal up",
        "Leave the decal that is placed unpainted",
        "",
    ),
    row(
        BrushCommand::DropLastPoint,
        "drop_last_point",
        "Take the last point back",
        "Take the point of the path that was set last away",
        "",
    ),
    row(
        BrushCommand::HoldStencil,
        "hold_stencil",
        "Hold the stencil",
        "Hold the stencil before the views and paint through it, or let go of it",
        "Shift+H",
    ),
    row(
        BrushCommand::InvertStencil,
        "invert_stencil",
        "Invert the stencil",
        "Let paint through where the stencil keeps it off, and the other way round",
        "Shift+I",
    ),
    row(
        BrushCommand::PutStencilBack,
        "put_stencil_back",
        "Put the stencil back",
        "To the middle of the view, upright and at its usual size",
        "",
    ),
    row(
        BrushCommand::MirrorAcross(Axis::X),
        "mirror_x",
        "Mirror strokes left and right",
        "Paint on the left what is painted on the right, and the other way round",
        "X",
    ),
    row(
        BrushCommand::MirrorAcross(Axis::Y),
        "mirror_y",
        "Mirror strokes up and down",
        "Paint below what is painted above, and the other way round",
        "",
    ),
    row(
        BrushCommand::MirrorAcross(Axis::Z),
        "mirror_z",
        "Mirror strokes front and back",
        "Paint on the back what is painted on the front, and the other way round",
        "",
    ),
    row(
        BrushCommand::ToggleChannel(ChannelId::BASE_COLOUR),
        "paint_colour",
        "Paint base colour",
        "Paint into base colour, or leave it alone",
        "F6",
    ),
    row(
        BrushCommand::ToggleChannel(ChannelId::ROUGHNESS),
        "paint_roughness",
        "Paint roughness",
        "Paint into roughness, or leave it alone",
        "F7",
    ),
    row(
        BrushCommand::ToggleChannel(ChannelId::METALNESS),
        "paint_metalness",
        "Paint metalness",
        "Paint into metalness, or leave it alone",
        "F8",
    ),
    row(
        BrushCommand::PickAll,
        "pick_all",
        "Pick all values",
        "Take the values of all channels with the next click on the model, the texture or a picture",
        "S",
    )
    .left("J"),
    row(
        BrushCommand::PickOne(ChannelId::BASE_COLOUR),
        "pick_colour",
        "Pick the colour",
        "Take the colour alone with the next click on the model, the texture or a picture",
        "Shift+S",
    )
    .left("Shift+J"),
    row(
        BrushCommand::PickOne(ChannelId::ROUGHNESS),
        "pick_roughness",
        "Pick the roughness",
        "Take the roughness alone with the next click on the model or the texture",
        "",
    ),
    row(
        BrushCommand::PickOne(ChannelId::METALNESS),
        "pick_metalness",
        "Pick the metalness",
        "Take the metalness alone with the next click on the model or the texture",
        "",
    ),
    row(
        BrushCommand::SwapColours,
        "swap_colours",
        "Swap colours",
        "Go back to the colour before this one, and forth again",
        "W",
    )
    .left("P"),
    row(
        BrushCommand::KeepColour,
        "keep_colour",
        "Keep colour",
        "Put the present colour into the palette",
        "Shift+W",
    )
    .left("Shift+P"),
];

impl Desk {
    fn hold_stencil(&mut self) {
        if self.stencil.image.is_none() {
            self.notices.note("There is no stencil yet: choose one in the brush panel");
        } else {
            self.stencil.is_held = !self.stencil.is_held;
        }
    }

    pub(super) fn perform_brush(&mut self, command: BrushCommand) {
        let brush = &mut self.brush;
        let settings = &mut brush.settings;
        let by = |value: f32, step: f32| (value + step).clamp(0.0, 1.0);
        match command {
            BrushCommand::Larger => brush.scale(1.1),
            BrushCommand::Smaller => brush.scale(1.0 / 1.1),
            // It is looked for where the hand drags.
            BrushCommand::HoldToSize => {}
            BrushCommand::AtPointer => self.at_pointer.toggle(),
            BrushCommand::Softer => settings.hardness = by(settings.hardness, -STEP),
            BrushCommand::Harder => settings.hardness = by(settings.hardness, STEP),
            BrushCommand::MoreOpaque => settings.opacity = by(settings.opacity, STEP),
            BrushCommand::LessOpaque => settings.opacity = by(settings.opacity, -STEP).max(0.01),
            BrushCommand::ToggleErase => {
                let erases = brush.does == Does::Erase;
                brush.does = if erases { Does::Paint } else { Does::Erase };
            }
            BrushCommand::Does(does) => {
                brush.does = does;
                if does.moves_paint() {
                    self.tool.tool = Tool::Brush;
                }
            }
            BrushCommand::HoldStencil => self.hold_stencil(),
            BrushCommand::InvertStencil => self.stencil.inverted = !self.stencil.inverted,
            BrushCommand::PutStencilBack => self.stencil.put_back(),
            BrushCommand::MirrorAcross(axis) => {
                let number = Axis::ALL.iter().position(|known| *known == axis).unwrap_or(0);
                self.symmetry.mirrors[number] = !self.symmetry.mirrors[number];
                let names = ["Left and right", "Up and down", "Front and back"];
                let how = if self.symmetry.mirrors[number] { "mirrored" } else { "each alone" };
                self.notices.note(format!("{}: strokes are {how}", names[number]));
            }
            BrushCommand::DrawPath => self.draw_path(1.0),
            BrushCommand::KeepPath => self.keep_path(),
            BrushCommand::DropPath => _ = self.drop_path(),
            BrushCommand::KeepDecal => self.keep_decal(),
            BrushCommand::DropDecal => _ = self.drop_decal(),
            BrushCommand::DropLastPoint => _ = self.drop_last_knot(),
            BrushCommand::PickSource => {
                brush.does = Does::Clone;
                self.arm(Pick::Source);
            }
            BrushCommand::ToggleChannel(channel) => self.toggle_channel(channel),
            BrushCommand::PickAll => self.arm(Pick::All),
            BrushCommand::PickOne(channel) => self.arm(Pick::One(channel)),
            BrushCommand::SwapColours => brush.swap_colours(),
            BrushCommand::KeepColour => {
                self.preferences.palette.add("", brush.colour());
            }
        }
    }

    /// Asked for twice, a pick is given up.
    fn arm(&mut self, pick: Pick) {
        self.brush.picking = (self.brush.picking != Some(pick)).then_some(pick);
    }

    /// Paints into a channel too, or no longer; the last one stays. From a mask, back to that channel alone.
    pub(crate) fn toggle_channel(&mut self, channel: ChannelId) {
        if self.document().channel(channel).is_err() {
            return;
        }
        match &mut self.chosen.aim {
            Aim::Cells(cells) if cells.contains(&channel) => {
                if cells.len() > 1 {
                    cells.remove(&channel);
                }
            }
            Aim::Cells(cells) => {
                cells.insert(channel);
            }
            Aim::Mask(_) => self.chosen.aim = Aim::Cells([channel].into()),
        }
    }

    /// Takes those of the values under a view's pointer that the pick which goes on asks for, and ends it.
    /// Without one, takes all.
    pub(crate) fn pick(&mut self, values: &BTreeMap<ChannelId, Value>) {
        let pick = self.brush.picking.take().unwrap_or(Pick::All);
        for (channel, value) in values {
            let wanted = match pick {
                Pick::All => true,
                Pick::One(one) => one == *channel,
                Pick::Source => false,
            };
            let fits =
                self.document().channel(*channel).is_ok_and(|found| found.kind == value.kind());
            if wanted && fits {
                self.brush.set(*channel, *value);
            }
        }
    }

    /// Picks from what lies under the pointer in a view. Where nothing does, the pick goes on.
    pub(crate) fn pick_under_pointer(&mut self) {
        let values = self.under_pointer.as_ref().map(|at| at.values.iter().copied().collect());
        match values.filter(|values: &BTreeMap<_, _>| !values.is_empty()) {
            Some(values) => self.pick(&values),
            None => self.notices.note("There is nothing to pick here: click on the model"),
        }
    }

    /// Takes a colour of a picture, and ends the pick that goes on.
    pub(crate) fn pick_colour(&mut self, colour: [u16; 3]) {
        self.brush.picking = None;
        self.brush.set_colour(colour);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::bell_desk;

    fn values() -> BTreeMap<ChannelId, Value> {
        [
            (ChannelId::BASE_COLOUR, Value::Colour([1, 2, 3])),
            (ChannelId::ROUGHNESS, Value::Scalar(4)),
            (ChannelId::METALNESS, Value::Scalar(5)),
        ]
        .into()
    }

    #[test]
    fn a_pick_takes_one_value_or_all_and_is_over() {
        let mut desk = bell_desk();
        let before = desk.brush.values.clone();
        desk.perform(Command::Brush(BrushCommand::PickOne(ChannelId::ROUGHNESS)));
        desk.pick(&values());
        let mut expected = before;
        expected.insert(ChannelId::ROUGHNESS, Value::Scalar(4));
        assert_eq!(desk.brush.values, expected);
        assert_eq!(desk.brush.picking, None);
        desk.perform(Command::Brush(BrushCommand::PickAll));
        assert_eq!(desk.brush.picking, Some(Pick::All));
        desk.pick(&values());
        assert_eq!(desk.brush.values, values());
    }

    #[test]
    fn a_value_of_another_kind_is_not_picked() {
        let mut desk = bell_desk();
        let before = desk.brush.values.clone();
        desk.pick(&[(ChannelId::ROUGHNESS, Value::Colour([9; 3]))].into());
        assert_eq!(desk.brush.values, before);
    }

    #[test]
    fn the_last_channel_stays() {
        let mut desk = bell_desk();
        for channel in [ChannelId::ROUGHNESS, ChannelId::METALNESS, ChannelId::BASE_COLOUR] {
            desk.perform(Command::Brush(BrushCommand::ToggleChannel(channel)));
        }
        assert_eq!(desk.chosen.aim, Aim::Cells([ChannelId::BASE_COLOUR].into()));
        desk.perform(Command::Brush(BrushCommand::ToggleChannel(ChannelId::METALNESS)));
        let both = Aim::Cells([ChannelId::BASE_COLOUR, ChannelId::METALNESS].into());
        assert_eq!(desk.chosen.aim, both);
    }

    #[test]
    fn asking_for_a_pick_again_gives_it_up() {
        let mut desk = bell_desk();
        desk.perform(Command::Brush(BrushCommand::PickAll));
        desk.perform(Command::Brush(BrushCommand::PickAll));
        assert_eq!(desk.brush.picking, None);
    }

    #[test]
    fn steps_of_softness_and_opacity_stay_in_range() {
        let mut desk = bell_desk();
        for _ in 0..20 {
            desk.perform(Command::Brush(BrushCommand::Softer));
            desk.perform(Command::Brush(BrushCommand::LessOpaque));
        }
        assert!(desk.brush.settings.check().is_ok());
        assert_eq!(desk.brush.settings.hardness, 0.0);
        assert!(desk.brush.settings.opacity > 0.0);
        for _ in 0..20 {
            desk.perform(Command::Brush(BrushCommand::Harder));
            desk.perform(Command::Brush(BrushCommand::MoreOpaque));
        }
        assert_eq!((desk.brush.settings.hardness, desk.brush.settings.opacity), (1.0, 1.0));
    }
}
