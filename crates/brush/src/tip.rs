//! The outline of a dab: round, an oval, or an image, that is laid on the surface in some direction.

use glam::{DVec2, DVec3};

use crate::{BrushError, GreyImage};

/// What a tip's long axis follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lies {
    /// The axis of the part under it; up on the flat texture.
    Axis,
    /// The stroke.
    Stroke,
    /// Nothing: each dab lies another way.
    Chance,
    /// The way in which the pen leans; the part's axis where it stands upright.
    Tilt,
}

/// A brush's outline.
#[derive(Debug, Clone, PartialEq)]
pub struct Tip {
    /// The outline as an image, white where all of the dab takes paint: its upper edge lies where the long axis
    /// points, its longer edge is as long as the brush is wide. None for a disc or an oval.
    pub image: Option<GreyImage>,
    /// The short axis as a share of the long one, 0.05..1; the long one is the brush's radius. An image is
    /// narrowed by it.
    pub aspect: f32,
    /// What the long axis follows.
    pub lies: Lies,
    /// How far it is turned from there, in radians, counterclockwise as seen from outside.
    pub turn: f32,
}

/// What a tip may lie along, at one place.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ways {
    /// Of the part.
    pub(crate) axis: DVec3,
    /// Of the stroke; 0 where that is not known.
    pub(crate) along: DVec3,
    /// Of the pen; 0 where it stands upright.
    pub(crate) lean: DVec3,
    /// A random number of 0..1.
    pub(crate) chance: f64,
    /// How far it is turned beside what the tip says, in radians.
    pub(crate) turn: f64,
}

impl Tip {
    /// A disc.
    pub const ROUND: Self = Self { image: None, aspect: 1.0, lies: Lies::Axis, turn: 0.0 };

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
        self.image.is_none() && self.aspect == 1.0
    }

    /// How much shorter than long an oval is, so that dabs stand as much closer.
    pub(crate) fn narrowness(&self) -> f64 {
        if self.image.is_some() { 1.0 } else { f64::from(self.aspect) }
    }

    /// The length of the axis that [`across`] gives: the square of the distance along the short axis counts
    /// `1 / aspect^2 - 1` more.
    pub(crate) fn squeeze(&self) -> f64 {
        let aspect = f64::from(self.aspect);
        (1.0 / (aspect * aspect) - 1.0).sqrt()
    }

    /// The long axis on the surface, of unit length. None where it follows the stroke and that has no direction.
    pub(crate) fn long_axis(&self, normal: DVec3, ways: &Ways) -> Option<DVec3> {
        let flat = |direction: DVec3| direction - normal * direction.dot(normal);
        let axis = flat(ways.axis).normalize_or_zero();
        let own = f64::from(self.turn) + ways.turn;
        let (first, turn) = match self.lies {
            Lies::Axis => (axis, own),
            Lies::Stroke => (flat(ways.along).try_normalize()?, own),
            Lies::Tilt => (flat(ways.lean).try_normalize().unwrap_or(axis), own),
            Lies::Chance => (DVec3::ZERO, std::f64::consts::TAU * ways.chance),
        };
        // The axis may stand on the surface.
        let first = if first == DVec3::ZERO { normal.any_orthonormal_vector() } else { first };
        let (sin, cos) = libm::sincos(turn);
        Some(first * cos + normal.cross(first) * sin)
    }

    /// The same on the flat texture, v down.
    pub(crate) fn long_axis_on_texture(&self, ways: &Ways) -> Option<DVec2> {
        self.long_axis(DVec3::NEG_Z, ways).map(DVec3::truncate)
    }
}

/// The short axis of an oval, to the right of the long one, of a length that makes `d^2 + (d . it)^2` the square of
/// the distance of `d` in the oval's own measure; `squeeze` is [`Tip::squeeze`].
pub(crate) fn across(normal: DVec3, long: DVec3, squeeze: f64) -> DVec3 {
    long.cross(normal) * squeeze
}

#[cfg(test)]
mod tests {
    use super::*;

    const WAYS: Ways = Ways {
        axis: DVec3::Y,
        along: DVec3::new(0.3, 0.0, 0.0),
        lean: DVec3::new(0.1, 0.1, 0.7),
        chance: 0.7,
        turn: 0.0,
    };

    fn tip(lies: Lies, turn: f32) -> Tip {
        Tip { aspect: 0.25, lies, turn, ..Tip::ROUND }
    }

    /// In the oval's measure its ends are at 1: the long one at the radius, the short one at the aspect.
    fn assert_oval(long: DVec3, short: DVec3, aspect: f64) {
        let across = across(DVec3::Z, long, tip(Lies::Axis, 0.0).squeeze());
        let measure = |d: DVec3| (d.length_squared() + d.dot(across).powi(2)).sqrt();
        assert!((measure(long) - 1.0).abs() < 1e-6, "{across}");
        assert!((measure(short * aspect) - 1.0).abs() < 1e-6, "{across}");
    }

    #[test]
    fn a_tip_lies_as_it_is_told() {
        let lie = |lies, turn| tip(lies, turn).long_axis(DVec3::Z, &WAYS).unwrap();
        assert_eq!(lie(Lies::Axis, 0.0), DVec3::Y);
        assert_eq!(lie(Lies::Stroke, 0.0), DVec3::X);
        assert_oval(DVec3::X, DVec3::Y, 0.25);
        let diagonal = DVec3::new(1.0, 1.0, 0.0).normalize_or_zero();
        assert!(lie(Lies::Tilt, 0.0).distance(diagonal) < 1e-9);
        // Counterclockwise as seen from outside.
        assert!(lie(Lies::Stroke, std::f32::consts::FRAC_PI_4).distance(diagonal) < 1e-6);
        let turned = Ways { turn: std::f64::consts::FRAC_PI_4, ..WAYS };
        let by_stroke = tip(Lies::Stroke, 0.0).long_axis(DVec3::Z, &turned).unwrap();
        assert!(by_stroke.distance(diagonal) < 1e-9);
        let by_chance =
            |chance| tip(Lies::Chance, 0.0).long_axis(DVec3::Z, &Ways { chance, ..WAYS }).unwrap();
        assert!(
            (by_chance(0.1).angle_between(by_chance(0.4)) - 0.6 * std::f64::consts::PI).abs()
                < 1e-6
        );
        let on_texture = tip(Lies::Axis, 0.0)
            .long_axis_on_texture(&Ways { axis: DVec3::NEG_Y, ..WAYS })
            .unwrap();
        assert_eq!(on_texture, DVec2::NEG_Y);
    }

    #[test]
    fn an_axis_that_stands_on_the_surface_leaves_a_way_to_lie_and_no_direction_leaves_none() {
        let standing = Ways { axis: DVec3::Z, along: DVec3::ZERO, lean: DVec3::ZERO, ..WAYS };
        for lies in [Lies::Axis, Lies::Tilt] {
            let long = tip(lies, 0.0).long_axis(DVec3::Z, &standing).unwrap();
            assert!((long.length() - 1.0).abs() < 1e-9 && long.z.abs() < 1e-9);
        }
        assert_eq!(tip(Lies::Stroke, 0.0).long_axis(DVec3::Z, &standing), None);
    }

    #[test]
    fn a_tip_that_is_too_thin_is_told() {
        for aspect in [0.0, 1.5, f32::NAN] {
            assert!(Tip { aspect, ..Tip::ROUND }.check().is_err());
        }
        assert!(Tip::ROUND.check().is_ok() && Tip::ROUND.is_round());
    }
}
