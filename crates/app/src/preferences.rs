//! What a person set once and for all: kept as TOML in the platform's folder for configuration.

mod file;

pub(crate) use file::{folder, read, write};

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;
use std::path::PathBuf;

use raster::TextureSize;
use serde::{Deserialize, Serialize};

use crate::brushes::NamedBrush;
use crate::palette::Palette;

/// Light or dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ThemeChoice {
    /// As the system says.
    System,
    /// Dark.
    #[default]
    Dark,
    /// Light.
    Light,
}

/// Which hand holds the pen: the other has the keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Handed {
    /// Keys for the left hand.
    #[default]
    Right,
    /// Keys for the right hand.
    Left,
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Preferences {
    /// Light or dark.
    pub(crate) theme: ThemeChoice,
    /// Size of everything in the window, 0.75..2; 1 is as the system says.
    pub(crate) ui_scale: f32,
    /// Which hand holds the pen.
    pub(crate) handed: Handed,
    /// Mebibytes of memory that the document and what is derived from it should take.
    pub(crate) memory_mib: u32,
    /// Mebibytes that a project's history should take on disk; named points are kept whatever they take.
    pub(crate) history_mib: u32,
    /// Edge of the textures of a model that is opened, in texels: a power of two, 64..8192.
    pub(crate) texture_edge: u32,
    /// A drag on empty ground orbits, so that one finger is enough.
    pub(crate) ground_orbits: bool,
    /// Exponent of the pen's pressure, 0.25..4: below 1 a light hand is enough.
    pub(crate) pen_gamma: f32,
    /// Keys that differ from the table: command to keys as typed, or nothing.
    pub(crate) keys: BTreeMap<String, String>,
    /// Colours to paint with.
    pub(crate) palette: Palette,
    /// Brushes that were kept.
    pub(crate) brushes: Vec<NamedBrush>,
    /// Names of the brushes that come first.
    pub(crate) favourite_brushes: BTreeSet<String>,
    /// Files opened lately, the last first.
    pub(crate) recent: Vec<PathBuf>,
    /// The first steps were shown and closed.
    pub(crate) knows_first_steps: bool,
    /// Where the panels are, as the window writes it.
    pub(crate) panels: Option<String>,
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            theme: ThemeChoice::Dark,
            ui_scale: 1.0,
            handed: Handed::Right,
            memory_mib: 4096,
            history_mib: 4096,
            texture_edge: 2048,
            ground_orbits: false,
            pen_gamma: 1.0,
            keys: BTreeMap::new(),
            palette: Palette::default(),
            brushes: Vec::new(),
            favourite_brushes: BTreeSet::new(),
            recent: Vec::new(),
            knows_first_steps: false,
            panels: None,
        }
    }
}

impl Preferences {
    /// Sizes of everything in the window.
    pub(crate) const UI_SCALES: RangeInclusive<f32> = 0.75..=2.0;
    /// Exponents of the pen's pressure.
    pub(crate) const PEN_GAMMAS: RangeInclusive<f32> = 0.25..=4.0;
    /// Mebibytes of memory.
    pub(crate) const MEMORY_MIB: RangeInclusive<u32> = 512..=262_144;

    /// Mebibytes of history on disk.
    pub(crate) const HISTORY_MIB: RangeInclusive<u32> = 64..=1_048_576;

    /// Bytes that a project's history should take on disk.
    pub(crate) fn history_bytes(&self) -> u64 {
        u64::from(self.history_mib) << 20
    }

    /// A key whose value can't be used, and what is wrong with it.
    fn fault(&self) -> Option<(&'static str, String)> {
        let outside = |key, range: String| Some((key, format!("{key} must be in {range}")));
        let (scales, gammas, memory) = (Self::UI_SCALES, Self::PEN_GAMMAS, Self::MEMORY_MIB);
        if !scales.contains(&self.ui_scale) {
            return outside("ui_scale", format!("{} to {}", scales.start(), scales.end()));
        }
        if !gammas.contains(&self.pen_gamma) {
            return outside("pen_gamma", format!("{} to {}", gammas.start(), gammas.end()));
        }
        if !memory.contains(&self.memory_mib) {
            return outside("memory_mib", format!("{} to {}", memory.start(), memory.end()));
        }
        let history = Self::HISTORY_MIB;
        if !history.contains(&self.history_mib) {
            return outside("history_mib", format!("{} to {}", history.start(), history.end()));
        }
        if let Some(fault) = self.brushes.iter().find_map(NamedBrush::fault) {
            return Some(("brushes", fault));
        }
        let size = TextureSize::new(self.texture_edge);
        size.err().map(|error| ("texture_edge", error.to_string()))
    }

    /// What the pen's pressure counts for, 0..1.
    pub(crate) fn felt_pressure(&self, pressure: f32) -> f32 {
        libm::powf(pressure.clamp(0.0, 1.0), self.pen_gamma)
    }
}
