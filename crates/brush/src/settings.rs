//! What a brush does along its path.

use crate::{BrushError, Tip, Tooth};

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

/// How a quantity follows pressure: `at_zero` at no pressure, 1 at full pressure, along `pressure^gamma`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Response {
    /// The factor at no pressure, 0..1; 1 means that pressure has no effect.
    pub at_zero: f32,
    /// Exponent of pressure, more than 0; 1 is straight.
    pub gamma: f32,
}

impl Response {
    /// Pressure has no effect.
    pub const NONE: Self = Self { at_zero: 1.0, gamma: 1.0 };
    /// In proportion to pressure.
    pub const FULL: Self = Self { at_zero: 0.0, gamma: 1.0 };

    /// The factor at a pressure of 0..1.
    pub fn at(self, pressure: f64) -> f64 {
        let low = f64::from(self.at_zero);
        let curve = match self.gamma {
            1.0 => pressure,
            gamma => libm::pow(pressure.max(0.0), f64::from(gamma)),
        };
        low + (1.0 - low) * curve
    }
}

/// What follows pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureResponse {
    /// The radius.
    pub size: Response,
    /// The ceiling that a dab can bring coverage to.
    pub opacity: Response,
    /// The rate.
    pub flow: Response,
}

impl PressureResponse {
    /// Pressure has no effect.
    pub const NONE: Self =
        Self { size: Response::NONE, opacity: Response::NONE, flow: Response::NONE };
}

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
}

impl Jitter {
    /// All dabs are alike.
    pub const NONE: Self = Self { size: 0.0, opacity: 0.0, position: 0.0 };
}

/// A brush's settings, apart from its size.
#[derive(Debug, Clone, Copy, PartialEq)]
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
    /// What follows pressure.
    pub pressure: PressureResponse,
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
            pressure: PressureResponse::NONE,
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
        let pressure = &self.pressure;
        let gammas = [pressure.size, pressure.opacity, pressure.flow];
        let wanted = [
            ("hardness", self.hardness, 0.0..=1.0, "0 to 1"),
            ("opacity", self.opacity, 0.0..=1.0, "0 to 1"),
            ("flow", self.flow, 0.0..=1.0, "0 to 1"),
            ("spacing", self.spacing, 0.01..=4.0, "0.01 to 4 diameters"),
            ("size at no pressure", gammas[0].at_zero, 0.0..=1.0, "0 to 1"),
            ("opacity at no pressure", gammas[1].at_zero, 0.0..=1.0, "0 to 1"),
            ("flow at no pressure", gammas[2].at_zero, 0.0..=1.0, "0 to 1"),
            ("pressure gamma of size", gammas[0].gamma, 0.05..=20.0, "0.05 to 20"),
            ("pressure gamma of opacity", gammas[1].gamma, 0.05..=20.0, "0.05 to 20"),
            ("pressure gamma of flow", gammas[2].gamma, 0.05..=20.0, "0.05 to 20"),
            ("jitter of size", self.jitter.size, 0.0..=1.0, "0 to 1"),
            ("jitter of opacity", self.jitter.opacity, 0.0..=1.0, "0 to 1"),
            ("jitter of position", self.jitter.position, 0.0..=4.0, "0 to 4 diameters"),
        ];
        for (what, value, allowed, range) in wanted {
            if !allowed.contains(&value) {
                return Err(BrushError::Setting { what, value: f64::from(value), range });
            }
        }
        self.tip.check()?;
        self.tooth.map_or(Ok(()), |tooth| tooth.check())
    }

    /// True where it needs nothing that came after the first kernel.
    pub(crate) fn is_plain(&self) -> bool {
        self.tooth.is_none() && self.tip.is_round() && self.jitter == Jitter::NONE
    }

    /// What one dab adds at a spacing (in diameters), as a share of what is missing to its ceiling, for a
    /// flow (0..1) at the reference spacing: `1 - (1 - flow)^(spacing / reference)`, so that the same
    /// length of path deposits the same whatever the spacing.
    pub fn flow_at_spacing(flow: f64, spacing: f64) -> f64 {
        1.0 - libm::pow(1.0 - flow, spacing / FLOW_REFERENCE_SPACING)
    }
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
    fn pressure_without_effect_gives_one_and_full_effect_gives_pressure() {
        assert_eq!(Response::NONE.at(0.3), 1.0);
        assert_eq!(Response::FULL.at(0.3), 0.3);
    }
}
