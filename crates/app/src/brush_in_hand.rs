//! The brush as it is held: its settings, its size, and what it leaves in each channel.

use std::collections::BTreeMap;

use brush::{BrushSettings, Smoothing};
use layers::{ChannelDescriptor, ChannelId, Value};

/// Colours that were painted lately are kept, this many.
const RECENT: usize = 12;

/// A hand that is steadied a little: a low cutoff at rest, hardly a lag at speed. Common practice, no source.
const STEADY: Smoothing = Smoothing::OneEuro { min_cutoff_hz: 4.0, beta: 0.02 };

/// How a brush's size is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum SizeIn {
    /// Constant on the screen.
    #[default]
    Screen,
    /// Constant on the object.
    Object,
}

/// See the module.
#[derive(Debug, Clone)]
pub(crate) struct BrushInHand {
    /// Everything but size and values.
    pub(crate) settings: BrushSettings,
    /// Radius in points of the screen.
    pub(crate) radius_points: f64,
    /// Radius in model units, for a brush that is constant on the object.
    pub(crate) radius_units: f64,
    /// Which of the two holds.
    pub(crate) size_in: SizeIn,
    /// Takes paint off instead.
    pub(crate) erases: bool,
    /// What each channel gets.
    pub(crate) values: BTreeMap<ChannelId, Value>,
    /// What a mask gets, 0..1 as stored.
    pub(crate) mask_value: u16,
    /// How the hand is steadied.
    pub(crate) smoothing: Smoothing,
    /// Base colours that were painted, the last first.
    pub(crate) recent: Vec<[u16; 3]>,
}

impl BrushInHand {
    /// A soft round brush with the channels' grounds as values.
    pub(crate) fn new(channels: &[ChannelDescriptor]) -> Self {
        Self {
            settings: BrushSettings { hardness: 0.4, flow: 0.6, ..BrushSettings::default() },
            radius_points: 32.0,
            radius_units: 0.02,
            size_in: SizeIn::Screen,
            erases: false,
            values: channels.iter().map(|channel| (channel.id, channel.ground)).collect(),
            mask_value: u16::MAX,
            smoothing: STEADY,
            recent: Vec::new(),
        }
    }

    /// Makes the brush larger by a factor, within 0.5 to 2000 points.
    pub(crate) fn scale(&mut self, factor: f64) {
        match self.size_in {
            SizeIn::Screen => {
                self.radius_points = (self.radius_points * factor).clamp(0.5, 2000.0);
            }
            SizeIn::Object => self.radius_units *= factor,
        }
    }

    /// Puts a colour first among the recent ones.
    pub(crate) fn note_painted(&mut self, colour: [u16; 3]) {
        self.recent.retain(|known| *known != colour);
        self.recent.insert(0, colour);
        self.recent.truncate(RECENT);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_that_is_painted_again_moves_to_the_front_and_stands_once() {
        let mut brush = BrushInHand::new(&layers::standard_channels());
        for red in 0..20 {
            brush.note_painted([red, 0, 0]);
        }
        brush.note_painted([15, 0, 0]);
        assert_eq!(brush.recent.len(), RECENT);
        assert_eq!(brush.recent[..2], [[15, 0, 0], [19, 0, 0]]);
    }
}
