//! What a brush does along its path.

use std::ops::RangeInclusive;

use crate::{BrushError, GreyImage, Relief, Tip, Tooth};

/// The spacing, in diameters, at which a dab deposits exactly the brush's flow. Other spacings are
/// corrected, so that flow is a rate along the path.
pub const FLOW_REFERENCE_SPACING: f64 = 0.25;

/// How coverage adds up where dabs of one stroke overlap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BuildUp {
    /// Each dab brings coverage nearer to the ceiling by its flow.
    Gradual,
    /// The strongest dab counts; flow has no effect. Where the spacing is a quarter of a diameter or
    /// closer, dabs are placed so close that the line shows no ripples.
    Even,
}

/// Which surfaces a stroke reaches inside its dabs. Only those of the material that is painted, that
/// face the brush and that are visible.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// Every surface of the material: strokes cross from shell to shell.
    Material,
    /// Only the part that the path point lies on.
    Part,
    /// Only what hangs together, inside the dab, with the surface at the path point.
    Connected,
}

/// How a quantity follows something that the pen tells, a number x of 0..1: from `at_zero` at 0 to `at_full` at 1,
/// along `x^gamma`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Response {
    /// The factor at 0, 0..1.
    pub at_zero: f32,
    /// The factor at 1, 0..1; where both are 1 there is no effect.
    pub at_full: f32,
    /// Exponent, more than 0; 1 is straight.
    pub gamma: f32,
}

impl Response {
    /// No effect.
    pub const NONE: Self = Self { at_zero: 1.0, at_full: 1.0, gamma: 1.0 };
    /// In proportion.
    pub const FULL: Self = Self { at_zero: 0.0, at_full: 1.0, gamma: 1.0 };

    /// The factor at a number of 0..1.
    pub fn at(self, x: f64) -> f64 {
        let (low, high) = (f64::from(self.at_zero), f64::from(self.at_full));
        let curve = match self.gamma {
            1.0 => x,
            gamma => libm::pow(x.max(0.0), f64::from(gamma)),
        };
        low + (high - low) * curve
    }

    /// True where it changes nothing.
    pub fn is_none(self) -> bool {
        self.at_zero == 1.0 && self.at_full == 1.0
    }
}

/// What follows one thing that the pen tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Responses {
    /// The radius.
    pub size: Response,
    /// The ceiling that a dab can bring coverage to.
    pub opacity: Response,
    /// The rate.
    pub flow: Response,
    /// How the tip lies: it is turned by what is missing to a factor of 1, in half turns.
    pub angle: Response,
    /// How far dabs lie beside the path: of what the jitter says.
    pub scatter: Response,
    /// How much they differ in colour and in scalar values: of what the jitter says.
    pub tones: Response,
}

impl Responses {
    /// No effect.
    pub const NONE: Self = Self {
        size: Response::NONE,
        opacity: Response::NONE,
        flow: Response::NONE,
        angle: Response::NONE,
        scatter: Response::NONE,
        tones: Response::NONE,
    };

    fn check(&self, names: &[[&'static str; 2]; 6]) -> Result<(), BrushError> {
        let all = [self.size, self.opacity, self.flow, self.angle, self.scatter, self.tones];
        for (response, [factor, gamma]) in all.iter().zip(names) {
            within(factor, response.at_zero, 0.0..=1.0, "0 to 1")?;
            within(factor, response.at_full, 0.0..=1.0, "0 to 1")?;
            within(gamma, response.gamma, 0.05..=20.0, "0.05 to 20")?;
        }
        Ok(())
    }
}

/// The spacing, in diameters, of dabs that build up evenly. There only the strongest dab counts, so that
/// wider spacing, short of dotting the line, would show as ripples only: with a cosine falloff those
/// are below 1/255 from here down.
const EVEN_SPACING: f64 = 0.025;

const BY_PRESSURE: [[&str; 2]; 6] = [
    ["size by pressure", "pressure gamma of size"],
    ["opacity by pressure", "pressure gamma of opacity"],
    ["flow by pressure", "pressure gamma of flow"],
    ["angle by pressure", "pressure gamma of angle"],
    ["scatter by pressure", "pressure gamma of scatter"],
    ["tones by pressure", "pressure gamma of tones"],
];
const BY_TILT: [[&str; 2]; 6] = [
    ["size by tilt", "tilt gamma of size"],
    ["opacity by tilt", "tilt gamma of opacity"],
    ["flow by tilt", "tilt gamma of flow"],
    ["angle by tilt", "tilt gamma of angle"],
    ["scatter by tilt", "tilt gamma of scatter"],
    ["tones by tilt", "tilt gamma of tones"],
];
const BY_SPEED: [[&str; 2]; 6] = [
    ["size by speed", "speed gamma of size"],
    ["opacity by speed", "speed gamma of opacity"],
    ["flow by speed", "speed gamma of flow"],
    ["angle by speed", "speed gamma of angle"],
    ["scatter by speed", "speed gamma of scatter"],
    ["tones by speed", "speed gamma of tones"],
];

/// How much dabs of one stroke differ, by chance: each by the stroke's seed and its own number, so that a stroke
/// done again is the same.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jitter {
    /// The share of its radius by which a dab may be smaller, 0..1.
    pub size: f32,
    /// The share of its ceiling by which a dab may be weaker, 0..1.
    pub opacity: f32,
    /// How far beside the path a dab may lie, in diameters, 0..4.
    pub position: f32,
    /// How far a dab may be turned from where its tip lies, to both sides together, in turns, 0..1.
    pub angle: f32,
    /// How far the hue of the colour that a dab paints may be off, to either side, in degrees, 0..180.
    pub hue: f32,
    /// How far its value may be off, to either side, 0..1: how light it is, by the hexcone of A. R. Smith 1978.
    pub shade: f32,
    /// How far a scalar that a dab paints may be off, to either side, 0..1.
    pub value: f32,
}

impl Jitter {
    /// All dabs are alike.
    pub const NONE: Self = Self {
        size: 0.0,
        opacity: 0.0,
        position: 0.0,
        angle: 0.0,
        hue: 0.0,
        shade: 0.0,
        value: 0.0,
    };

    /// True where dabs differ in what they paint.
    pub fn shades(&self) -> bool {
        self.hue > 0.0 || self.shade > 0.0 || self.value > 0.0
    }
}

/// A brush's settings, apart from its size. Copies share the images that it holds.
#[derive(Debug, Clone, PartialEq)]
pub struct BrushSettings {
    /// Share of the radius that is fully covered, 0..1; the rest falls off as a cosine.
    pub hardness: f32,
    /// Ceiling of the whole stroke, 0..1: no overlap within the stroke exceeds it.
    pub opacity: f32,
    /// What a dab adds at [`FLOW_REFERENCE_SPACING`], as a share of what is missing to the ceiling, 0..1.
    pub flow: f32,
    /// Distance from dab to dab in diameters, 0.01..4.
    pub spacing: f32,
    /// How overlaps add up.
    pub build_up: BuildUp,
    /// Which surfaces are reached.
    pub reach: Reach,
    /// What follows the pen's pressure.
    pub pressure: Responses,
    /// What follows its tilt: 0 is upright, 1 flat.
    pub tilt: Responses,
    /// What follows its speed: 0 at rest, nearing 1, a half at [`crate::HALF_SPEED`].
    pub speed: Responses,
    /// What differs from dab to dab.
    pub jitter: Jitter,
    /// Its outline.
    pub tip: Tip,
    /// The texture inside; none where all of a dab takes paint.
    pub tooth: Option<Tooth>,
}

impl Default for BrushSettings {
    fn default() -> Self {
        Self {
            hardness: 0.5,
            opacity: 1.0,
            flow: 1.0,
            spacing: 0.1,
            build_up: BuildUp::Gradual,
            reach: Reach::Material,
            pressure: Responses::NONE,
            tilt: Responses::NONE,
            speed: Responses::NONE,
            jitter: Jitter::NONE,
            tip: Tip::ROUND,
            tooth: None,
        }
    }
}

impl BrushSettings {
    /// # Errors
    /// [`BrushError::Setting`] naming the first setting outside of its range.
    pub fn check(&self) -> Result<(), BrushError> {
        within("hardness", self.hardness, 0.0..=1.0, "0 to 1")?;
        within("opacity", self.opacity, 0.0..=1.0, "0 to 1")?;
        within("flow", self.flow, 0.0..=1.0, "0 to 1")?;
        within("spacing", self.spacing, 0.01..=4.0, "0.01 to 4 diameters")?;
        self.pressure.check(&BY_PRESSURE)?;
        self.tilt.check(&BY_TILT)?;
        self.speed.check(&BY_SPEED)?;
        within("jitter of size", self.jitter.size, 0.0..=1.0, "0 to 1")?;
        within("jitter of opacity", self.jitter.opacity, 0.0..=1.0, "0 to 1")?;
        within("jitter of position", self.jitter.position, 0.0..=4.0, "0 to 4 diameters")?;
        within("jitter of angle", self.jitter.angle, 0.0..=1.0, "0 to 1")?;
        within("jitter of hue", self.jitter.hue, 0.0..=180.0, "0 to 180 degrees")?;
        within("jitter of shade", self.jitter.shade, 0.0..=1.0, "0 to 1")?;
        within("jitter of value", self.jitter.value, 0.0..=1.0, "0 to 1")?;
        self.tip.check()?;
        self.tooth.as_ref().map_or(Ok(()), Tooth::check)
    }

    /// The images that it holds: that of the tip, then that of the tooth.
    pub fn images(&self) -> impl Iterator<Item = &GreyImage> {
        let of_tooth = self.tooth.as_ref().and_then(|tooth| tooth.relief.image());
        self.tip.image.iter().chain(of_tooth)
    }

    /// The same, to put others in their places.
    pub fn images_mut(&mut self) -> impl Iterator<Item = &mut GreyImage> {
        let of_tooth = self.tooth.as_mut().and_then(|tooth| match &mut tooth.relief {
            Relief::Image(image, _) => Some(image),
            Relief::Pattern(_) => None,
        });
        self.tip.image.iter_mut().chain(of_tooth)
    }

    /// True where it needs nothing that came after the first kernel.
    pub(crate) fn is_plain(&self) -> bool {
        let Responses { size, opacity, flow, angle, scatter, tones } = self.pressure;
        self.tooth.is_none()
            && self.tip.is_round()
            && self.jitter == Jitter::NONE
            && (self.tilt, self.speed) == (Responses::NONE, Responses::NONE)
            && [size, opacity, flow].iter().all(|response| response.at_full == 1.0)
            && [angle, scatter, tones] == [Response::NONE; 3]
    }

    /// How far dabs are apart, in diameters of a round tip.
    pub(crate) fn apart(&self) -> f64 {
        match (self.build_up, f64::from(self.spacing)) {
            (BuildUp::Even, close) if close <= FLOW_REFERENCE_SPACING => close.min(EVEN_SPACING),
            (_, spacing) => spacing,
        }
    }

    /// True where it matters how its tip lies.
    pub(crate) fn lies_some_way(&self) -> bool {
        !self.tip.is_round() || self.tooth.as_ref().is_some_and(Tooth::is_stamped)
    }

    /// The tooth that stays on the surface.
    pub(crate) fn anchored_tooth(&self) -> Option<&Tooth> {
        self.tooth.as_ref().filter(|tooth| !tooth.is_stamped())
    }

    /// What one dab adds at a spacing (in diameters), as a share of what is missing to its ceiling, for a
    /// flow (0..1) at the reference spacing: `1 - (1 - flow)^(spacing / reference)`, so that the same
    /// length of path deposits the same whatever the spacing.
    pub fn flow_at_spacing(flow: f64, spacing: f64) -> f64 {
        1.0 - libm::pow(1.0 - flow, spacing / FLOW_REFERENCE_SPACING)
    }
}

/// Refuses a value outside of its range.
fn within(
    what: &'static str,
    value: f32,
    allowed: RangeInclusive<f32>,
    range: &'static str,
) -> Result<(), BrushError> {
    let is_fine = allowed.contains(&value);
    is_fine.then_some(()).ok_or(BrushError::Setting { what, value: f64::from(value), range })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form `1 - (1 - f)^(s / s_ref)`, computed by hand: 1 - 0.5^0.2 = 0.129449; five give back 0.5.
    #[test]
    fn five_dabs_at_a_fifth_of_the_spacing_deposit_what_one_did() {
        let each = BrushSettings::flow_at_spacing(0.5, 0.05);
        assert!((each - 0.129_449).abs() < 1e-6);
        let five = (0..5).fold(0.0, |covered, _| covered + each * (1.0 - covered));
        assert!((five - 0.5).abs() < 1e-12);
    }

    #[test]
    fn settings_outside_of_their_range_are_named() {
        let wrong = BrushSettings { spacing: 0.0, ..BrushSettings::default() };
        assert_eq!(
            wrong.check().unwrap_err().to_string(),
            "spacing is 0: give 0.01 to 4 diameters"
        );
        let wild = BrushSettings { hardness: f32::NAN, ..BrushSettings::default() };
        assert!(wild.check().is_err());
    }

    #[test]
    fn a_response_without_effect_gives_one_and_full_effect_gives_what_it_follows() {
        assert_eq!(Response::NONE.at(0.3), 1.0);
        assert_eq!(Response::FULL.at(0.3), 0.3);
        let falling = Response { at_zero: 1.0, at_full: 0.2, gamma: 2.0 };
        assert!((falling.at(0.5) - 0.8).abs() < 1e-6);
        assert!(!falling.is_none() && Response::NONE.is_none());
    }
}
