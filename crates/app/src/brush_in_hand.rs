//! The brush as it is held: its settings, its size, and what it leaves in each channel.

use std::collections::BTreeMap;

use brush::{BrushSettings, Response, Smoothing};
use glam::{DVec2, DVec3};
use layers::{ChannelDescriptor, ChannelId, Value};

use crate::colour::Hsv;
use crate::does::{CloneSource, Does, Strengths};

/// Colours that were painted lately are kept, this many.
const RECENT: usize = 12;

/// A hand that is steadied a little. Common practice, no source.
const STEADY: f64 = 0.45;
/// Cutoffs of a hand that is hardly steadied and of one that is steadied most, in hertz, and how much less a
/// fast hand is (common practice, no source).
const LIGHTEST_HZ: f64 = 20.0;
const STEADIEST_HZ: f64 = 0.5;
const BETA: f64 = 0.02;
/// The longest string that a brush hangs on.
const LONGEST_STRING_PX: f64 = 200.0;

/// How a brush's size is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum SizeIn {
    /// Constant on the screen.
    #[default]
    Screen,
    /// Constant on the object.
    Object,
}

/// Which values a pick from a view or a picture takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pick {
    /// That of one channel.
    One(ChannelId),
    /// Those of all channels.
    All,
    /// None: the point to clone from.
    Source,
}

/// Where a stroke ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum StrokeEnd {
    /// On the model, in its units.
    Surface(DVec3),
    /// On the flat texture, in UV.
    Texture(DVec2),
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
    /// What a stroke does.
    pub(crate) does: Does,
    /// How strongly.
    pub(crate) strengths: Strengths,
    /// Where a clone comes from.
    pub(crate) source: Option<CloneSource>,
    /// Where the last stroke ended: a straight line goes on from there.
    pub(crate) last_end: Option<StrokeEnd>,
    /// What each channel gets.
    pub(crate) values: BTreeMap<ChannelId, Value>,
    /// What a mask gets, 0..1 as stored.
    pub(crate) mask_value: u16,
    /// How the hand is steadied.
    pub(crate) smoothing: Smoothing,
    /// Base colours that were painted, the last first.
    pub(crate) recent: Vec<[u16; 3]>,
    /// The colour before the present one, to compare with and to go back to.
    pub(crate) before: [u16; 3],
    /// The next click on a view or a picture picks these instead of painting.
    pub(crate) picking: Option<Pick>,
    /// The hue and saturation that the picker stands at, which grey and black have none of themselves.
    pub(crate) hsv: Hsv,
}

/// The colour that a brush starts with, sRGB-encoded: of old copper.
const VERDIGRIS: [u16; 3] = [0x5f5f, 0x9494, 0x8484];

impl BrushInHand {
    /// A soft round brush with the channels' grounds as values, but for a colour that is seen on most grounds.
    pub(crate) fn new(channels: &[ChannelDescriptor]) -> Self {
        let mut brush = Self {
            settings: Self::usual_settings(),
            radius_points: Self::USUAL_RADIUS_POINTS,
            radius_units: 0.02,
            size_in: SizeIn::Screen,
            does: Does::Paint,
            strengths: Strengths::USUAL,
            source: None,
            last_end: None,
            values: channels.iter().map(|channel| (channel.id, channel.ground)).collect(),
            mask_value: u16::MAX,
            smoothing: steadied(STEADY),
            recent: Vec::new(),
            before: [0; 3],
            picking: None,
            hsv: Hsv::default(),
        };
        brush.set_colour(VERDIGRIS);
        brush.before = brush.colour();
        brush.hsv = Hsv::of(brush.before, brush.hsv);
        brush
    }

    /// The radius that a brush starts with.
    pub(crate) const USUAL_RADIUS_POINTS: f64 = 32.0;
    /// How much the hand is steadied at first, 0..1.
    pub(crate) const USUAL_STEADYING: f64 = STEADY;

    /// The settings that a brush starts with.
    pub(crate) fn usual_settings() -> BrushSettings {
        BrushSettings { hardness: 0.4, flow: 0.6, ..BrushSettings::default() }
    }

    /// Makes the brush larger by a factor, within 0.5 to 2000 points.
    pub(crate) fn scale(&mut self, factor: f64) {
        match self.size_in {
            SizeIn::Screen => {
                self.radius_points = (self.radius_points * factor).clamp(0.5, 2000.0);
            }
            SizeIn::Object => self.radius_units = (self.radius_units * factor).clamp(1e-6, 1e6),
        }
    }

    /// The base colour that is painted.
    pub(crate) fn colour(&self) -> [u16; 3] {
        match self.values.get(&ChannelId::BASE_COLOUR) {
            Some(Value::Colour(colour)) => *colour,
            Some(Value::Scalar(level)) => [*level; 3],
            None => [0; 3],
        }
    }

    /// Takes another base colour.
    pub(crate) fn set_colour(&mut self, colour: [u16; 3]) {
        if self.hsv.stored() != colour {
            self.hsv = Hsv::of(colour, self.hsv);
        }
        self.values.insert(ChannelId::BASE_COLOUR, Value::Colour(colour));
    }

    /// The base colour by hue, saturation and value. Where the picker stands is kept as long as it still gives
    /// the colour.
    pub(crate) fn hsv(&self) -> Hsv {
        let colour = self.colour();
        if self.hsv.stored() == colour { self.hsv } else { Hsv::of(colour, self.hsv) }
    }

    /// Takes the base colour that is at a place of the picker.
    pub(crate) fn set_hsv(&mut self, hsv: Hsv) {
        self.hsv = hsv;
        self.values.insert(ChannelId::BASE_COLOUR, Value::Colour(hsv.stored()));
    }

    /// Takes a value of a channel.
    pub(crate) fn set(&mut self, channel: ChannelId, value: Value) {
        match value {
            Value::Colour(colour) if channel == ChannelId::BASE_COLOUR => self.set_colour(colour),
            _ => {
                self.values.insert(channel, value);
            }
        }
    }

    /// Changes places of the present colour and the one before it.
    pub(crate) fn swap_colours(&mut self) {
        let (before, now) = (self.before, self.colour());
        self.before = now;
        self.set_colour(before);
    }

    /// Puts a colour first among the recent ones: a stroke was painted with it.
    pub(crate) fn note_painted(&mut self, colour: [u16; 3]) {
        self.recent.retain(|known| *known != colour);
        self.recent.insert(0, colour);
        self.recent.truncate(RECENT);
        self.before = colour;
    }

    /// How much the hand is steadied, 0 (not at all) to 1.
    pub(crate) fn steadying(&self) -> f64 {
        match self.smoothing {
            Smoothing::Off => 0.0,
            Smoothing::String { length_px } => (length_px / LONGEST_STRING_PX).clamp(0.0, 1.0),
            Smoothing::OneEuro { min_cutoff_hz, .. } => {
                let span = (STEADIEST_HZ / LIGHTEST_HZ).ln();
                ((min_cutoff_hz / LIGHTEST_HZ).ln() / span).clamp(0.0, 1.0)
            }
        }
    }

    /// Steadies the hand as much as this, 0 to 1.
    pub(crate) fn set_steadying(&mut self, share: f64) {
        self.smoothing = if self.is_pulled() { pulled(share) } else { steadied(share) };
    }

    /// True where the brush hangs on a string.
    pub(crate) fn is_pulled(&self) -> bool {
        matches!(self.smoothing, Smoothing::String { .. })
    }

    /// Lets the brush hang on a string, or be steadied by the filter; as much as it was.
    pub(crate) fn set_pulled(&mut self, is_pulled: bool) {
        let share = self.steadying();
        self.smoothing = if is_pulled { pulled(share) } else { steadied(share) };
    }
}

fn pulled(share: f64) -> Smoothing {
    Smoothing::String { length_px: share.clamp(0.0, 1.0) * LONGEST_STRING_PX }
}

fn steadied(share: f64) -> Smoothing {
    if share <= 0.0 {
        return Smoothing::Off;
    }
    let min_cutoff_hz = LIGHTEST_HZ * (STEADIEST_HZ / LIGHTEST_HZ).powf(share.min(1.0));
    Smoothing::OneEuro { min_cutoff_hz, beta: BETA }
}

/// How much a quantity follows pressure, 0 (not at all) to 1 (nothing is left at no pressure).
pub(crate) fn strength(response: Response) -> f64 {
    1.0 - f64::from(response.at_zero)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn brush() -> BrushInHand {
        BrushInHand::new(&layers::standard_channels())
    }

    #[test]
    fn a_colour_that_is_painted_again_moves_to_the_front_and_stands_once() {
        let mut brush = brush();
        for red in 0..20 {
            brush.note_painted([red, 0, 0]);
        }
        brush.note_painted([15, 0, 0]);
        assert_eq!(brush.recent.len(), RECENT);
        assert_eq!(brush.recent[..2], [[15, 0, 0], [19, 0, 0]]);
    }

    #[test]
    fn colours_change_places_and_back() {
        let mut brush = brush();
        brush.note_painted([1, 2, 3]);
        brush.set_colour([40, 50, 60]);
        brush.swap_colours();
        assert_eq!((brush.colour(), brush.before), ([1, 2, 3], [40, 50, 60]));
        brush.swap_colours();
        assert_eq!((brush.colour(), brush.before), ([40, 50, 60], [1, 2, 3]));
    }

    #[test]
    fn the_picker_keeps_its_hue_through_grey_and_black() {
        let mut brush = brush();
        brush.set_hsv(Hsv { hue: 200.0, saturation: 0.5, value: 0.5 });
        brush.set_hsv(Hsv { saturation: 0.0, ..brush.hsv() });
        assert_eq!(brush.hsv().hue, 200.0);
        brush.set_colour([0; 3]);
        assert_eq!(brush.hsv().hue, 200.0);
    }

    #[test]
    fn steadying_is_what_was_set_and_none_at_0() {
        let mut brush = brush();
        assert!((brush.steadying() - STEADY).abs() < 1e-12);
        for share in [0.0, 0.01, 0.5, 1.0] {
            brush.set_steadying(share);
            assert!((brush.steadying() - share).abs() < 1e-12);
            assert_eq!(share == 0.0, brush.smoothing == Smoothing::Off);
        }
    }
}
