//! The outline of a dab: round, or an oval that is laid on the surface in some direction.

use glam::{DVec2, DVec3};

use crate::BrushError;

/// What an oval's long axis follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lies {
    /// The axis of the part under it; up on the flat texture.
    Axis,
    /// The stroke.
    Stroke,
    /// Nothing: each dab lies another way.
    Chance,
}

/// A brush's outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tip {
    /// The short axis as a share of the long one, 0.05..1; the long one is the brush's radius.
    pub aspect: f32,
    /// What the long axis follows.
    pub lies: Lies,
    /// How far it is turned from there, in radians, counterclockwise as seen from outside.
    pub turn: f32,
}

impl Tip {
    /// A disc.
    pub const ROUND: Self = Self { aspect: 1.0, lies: Lies::Axis, turn: 0.0 };

    /// # Errors
    /// [`BrushError::Setting`] naming the first setting outside of its range.
    pub fn check(&self) -> Result<(), BrushError> {
        let told = |what, value: f32, range| {
            Err(BrushError::Setting { what, value: f64::from(value), range })
        };
        if !(0.05..=1.0).contains(&self.aspect) {
            return told("roundness", self.aspect, "0.05 to 1");
        }
        if !(-7.0..=7.0).contains(&self.turn) {
            return told("turn of the tip", self.turn, "-7 to 7 radians");
        }
        Ok(())
    }

    /// True where it does not matter how it lies.
    pub(crate) fn is_round(&self) -> bool {
        self.aspect == 1.0
    }

    /// By how much the square of the distance along the short axis counts more: `1 / aspect^2 - 1`.
    fn squeeze(&self) -> f64 {
        let aspect = f64::from(self.aspect);
        1.0 / (aspect * aspect) - 1.0
    }

    /// The short axis on the surface, so long that `d^2 + (d . it)^2` is the square of the distance of `d` in
    /// the oval's own measure. `along` is where the stroke goes, `chance` 0..1. None where that is not known
    /// yet.
    pub(crate) fn across(
        &self,
        normal: DVec3,
        (axis, along): (DVec3, DVec3),
        chance: f64,
    ) -> Option<DVec3> {
        let flat = |direction: DVec3| direction - normal * direction.dot(normal);
        let (first, turn) = match self.lies {
            Lies::Axis => (flat(axis).normalize_or_zero(), f64::from(self.turn)),
            Lies::Stroke => (flat(along).try_normalize()?, f64::from(self.turn)),
            Lies::Chance => (DVec3::ZERO, std::f64::consts::PI * chance),
        };
        // The axis may stand on the surface.
        let first = if first == DVec3::ZERO { normal.any_orthonormal_vector() } else { first };
        let (sin, cos) = libm::sincos(turn);
        let long = first * cos + normal.cross(first) * sin;
        Some(normal.cross(long) * self.squeeze().sqrt())
    }

    /// The same on the flat texture, v down.
    pub(crate) fn across_texture(&self, along: DVec2, chance: f64) -> Option<DVec2> {
        let out = DVec3::NEG_Z;
        let axes = (DVec3::NEG_Y, along.extend(0.0));
        self.across(out, axes, chance).map(DVec3::truncate)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// In the oval's measure its ends are at 1: the long one at the radius, the short one at the aspect.
    fn assert_oval(across: DVec3, long: DVec3, short: DVec3, aspect: f64) {
        let measure = |d: DVec3| (d.length_squared() + d.dot(across).powi(2)).sqrt();
        assert!((measure(long) - 1.0).abs() < 1e-6, "{across}");
        assert!((measure(short * aspect) - 1.0).abs() < 1e-6, "{across}");
    }

    #[test]
    fn an_oval_lies_as_it_is_told() {
        let tip = |lies, turn| Tip { aspect: 0.25, lies, turn };
        let (normal, axes) = (DVec3::Z, (DVec3::Y, DVec3::X * 0.3));
        let upright = tip(Lies::Axis, 0.0).across(normal, axes, 0.7).unwrap();
        assert_oval(upright, DVec3::Y, DVec3::X, 0.25);
        let along = tip(Lies::Stroke, 0.0).across(normal, axes, 0.7).unwrap();
        assert_oval(along, DVec3::X, DVec3::Y, 0.25);
        let turned =
            tip(Lies::Stroke, std::f32::consts::FRAC_PI_4).across(normal, axes, 0.7).unwrap();
        let diagonal = DVec3::new(1.0, 1.0, 0.0).normalize_or_zero();
        assert_oval(turned, diagonal, DVec3::new(1.0, -1.0, 0.0).normalize_or_zero(), 0.25);
        let by_chance = |chance| tip(Lies::Chance, 0.0).across(normal, axes, chance).unwrap();
        assert!(by_chance(0.1).angle_between(by_chance(0.4)) > 0.9);
        let on_texture = tip(Lies::Axis, 0.0).across_texture(DVec2::X, 0.0).unwrap();
        assert_oval(on_texture.extend(0.0), DVec3::Y, DVec3::X, 0.25);
    }

    #[test]
    fn an_axis_that_stands_on_the_surface_leaves_an_oval_and_no_direction_leaves_none() {
        let tip = Tip { aspect: 0.5, lies: Lies::Axis, turn: 0.0 };
        let across = tip.across(DVec3::Y, (DVec3::Y, DVec3::ZERO), 0.0).unwrap();
        assert!((across.length() - 3_f64.sqrt()).abs() < 1e-9 && across.dot(DVec3::Y).abs() < 1e-9);
        let stroke = Tip { lies: Lies::Stroke, ..tip };
        assert_eq!(stroke.across(DVec3::Y, (DVec3::Y, DVec3::ZERO), 0.0), None);
    }

    #[test]
    fn a_tip_that_is_too_thin_is_told() {
        for aspect in [0.0, 1.5, f32::NAN] {
            assert!(Tip { aspect, ..Tip::ROUND }.check().is_err());
        }
        assert!(Tip::ROUND.check().is_ok() && Tip::ROUND.is_round());
    }
}
