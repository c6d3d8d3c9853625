//! The light.

use viewport::ToneMapping;

use super::{Command, Entry};
use crate::desk::{Desk, LightSetup};

/// Commands on the light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum LightCommand {
    /// A drag turns and raises the key light as long as the key is held.
    HoldToTurn,
    /// One of the setups that come with the program, or the picture that was brought.
    Setup(LightSetup),
    /// Half a stop brighter.
    Brighter,
    /// Half a stop darker.
    Darker,
    /// Tone mapped as shown elsewhere, or clipped.
    ToggleLinear,
}

const fn row(
    command: LightCommand,
    key: &'static str,
    label: &'static str,
    about: &'static str,
    shortcut: &'static str,
) -> Entry {
    Entry::new(Command::Light(command), key, label, about, shortcut)
}

pub(super) const TABLE: &[Entry] = &[
    row(
        LightCommand::HoldToTurn,
        "hold_to_light",
        "Turn the light while held",
        "Hold, and drag over the model: across turns the light, up raises it",
        "L",
    ),
    row(
        LightCommand::Setup(LightSetup::Studio),
        "light_studio",
        "Studio",
        "Soft boxes without a tint: the light to work by",
        "Alt+7",
    ),
    row(
        LightCommand::Setup(LightSetup::Overcast),
        "light_overcast",
        "Overcast",
        "An even grey sky: to judge colour",
        "Alt+8",
    ),
    row(
        LightCommand::Setup(LightSetup::Raking),
        "light_raking",
        "Raking",
        "Low and from the side: shows roughness and every bump",
        "Alt+9",
    ),
    row(
        LightCommand::Setup(LightSetup::Picture),
        "light_picture",
        "From a picture",
        "Light by the picture of a place: drop a .hdr or .exr file on the window",
        "",
    ),
    row(
        LightCommand::Brighter,
        "brighter",
        "Brighter",
        "Expose half a stop more",
        "Ctrl+Alt+ArrowUp",
    ),
    row(LightCommand::Darker, "darker", "Darker", "Expose half a stop less", "Ctrl+Alt+ArrowDown"),
    row(
        LightCommand::ToggleLinear,
        "linear_tone",
        "Linear tone",
        "Clip light at black and white instead of rolling it off: for measuring",
        "Ctrl+Alt+T",
    ),
];

impl Desk {
    pub(super) fn perform_light(&mut self, command: LightCommand) {
        match command {
            // What is held is looked at where the pointer goes down.
            LightCommand::HoldToTurn => {}
            LightCommand::Setup(LightSetup::Picture) if self.model_view.light.picture.is_none() => {
                self.notices
                    .note("There is no picture yet: drop a .hdr or .exr file on the window");
            }
            LightCommand::Setup(setup) => self.choose_light(setup),
            LightCommand::Brighter => self.expose(0.5),
            LightCommand::Darker => self.expose(-0.5),
            LightCommand::ToggleLinear => {
                let tone = &mut self.model_view.lighting.tone;
                *tone = match *tone {
                    ToneMapping::Neutral => ToneMapping::Linear,
                    ToneMapping::Linear => ToneMapping::Neutral,
                };
            }
        }
    }

    fn expose(&mut self, stops: f32) {
        let lighting = &mut self.model_view.lighting;
        lighting.exposure_ev = (lighting.exposure_ev + stops).clamp(-6.0, 6.0);
    }
}
