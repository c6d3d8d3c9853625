//! The light.

use super::{Command, Entry};
use crate::desk::Desk;

/// Commands on the light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum LightCommand {
    /// Half a stop brighter.
    Brighter,
    /// Half a stop darker.
    Darker,
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
        LightCommand::Brighter,
        "brighter",
        "Brighter",
        "Expose half a stop more",
        "Ctrl+Alt+ArrowUp",
    ),
    row(LightCommand::Darker, "darker", "Darker", "Expose half a stop less", "Ctrl+Alt+ArrowDown"),
];

impl Desk {
    pub(super) fn perform_light(&mut self, command: LightCommand) {
        let lighting = &mut self.model_view.lighting;
        let step = match command {
            LightCommand::Brighter => 0.5,
            LightCommand::Darker => -0.5,
        };
        lighting.exposure_ev = (lighting.exposure_ev + step).clamp(-6.0, 6.0);
    }
}
