//! Strokes that are repeated about planes and an axis of the model.
//!
//! Each dab comes with its copies. Where copies meet, a texel takes the nearest of them alone: so paint is never
//! doubled on a plane, and as copies are mirror images of each other, there is no step where one ends.

use glam::{DMat3, DQuat, DVec3};

use crate::BrushError;

/// The most copies that a stroke may have.
const MOST: usize = 64;

/// An axis of the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Axis {
    /// To the right.
    X,
    /// Up.
    Y,
    /// Towards the viewer.
    Z,
}

impl Axis {
    /// All three.
    pub const ALL: [Self; 3] = [Self::X, Self::Y, Self::Z];

    /// Its direction.
    pub const fn direction(self) -> DVec3 {
        match self {
            Self::X => DVec3::X,
            Self::Y => DVec3::Y,
            Self::Z => DVec3::Z,
        }
    }
}

/// How a stroke on the model is repeated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Symmetry {
    /// Where planes and axis meet, in model units.
    pub centre: DVec3,
    /// Mirrored by the planes across x, y and z.
    pub mirrors: [bool; 3],
    /// Turned about an axis, so often in one full turn, 2..32.
    pub turns: Option<(Axis, u8)>,
}

impl Symmetry {
    /// # Errors
    /// [`BrushError`] for a centre that is not finite, a number of turns out of range, or too many copies.
    pub fn check(&self) -> Result<(), BrushError> {
        if !self.centre.is_finite() {
            let value = self.centre.x + self.centre.y + self.centre.z;
            let (what, range) = ("centre of symmetry", "numbers that are finite");
            return Err(BrushError::Setting { what, value, range });
        }
        if let Some((_, count)) = self.turns.filter(|(_, count)| !(2..=32).contains(count)) {
            let (what, value) = ("number of turns", f64::from(count));
            return Err(BrushError::Setting { what, value, range: "2 to 32" });
        }
        let copies = self.copies().len();
        if copies > MOST {
            let (what, value) = ("number of copies", copies as f64);
            return Err(BrushError::Setting { what, value, range: "64 or fewer" });
        }
        Ok(())
    }

    /// Every copy, the stroke itself first. None comes twice.
    pub fn copies(&self) -> Vec<Image> {
        let mut found: Vec<DMat3> = vec![DMat3::IDENTITY];
        let (axis, count) = self.turns.unwrap_or((Axis::Y, 1));
        for turn in 0..count {
            let angle = std::f64::consts::TAU * f64::from(turn) / f64::from(count.max(1));
            let (sin, cos) = libm::sincos(angle * 0.5);
            let half = axis.direction() * sin;
            let turned = DMat3::from_quat(DQuat::from_xyzw(half.x, half.y, half.z, cos));
            for planes in 0..8 {
                let used = |n: usize| planes >> n & 1 == 1;
                if (0..3).any(|n| used(n) && !self.mirrors[n]) {
                    continue;
                }
                let sign = |n: usize| if used(n) { -1.0 } else { 1.0 };
                let made = turned * DMat3::from_diagonal(DVec3::new(sign(0), sign(1), sign(2)));
                if !found.iter().any(|known| known.abs_diff_eq(made, 1e-9)) {
                    found.push(made);
                }
            }
        }
        found.into_iter().map(|turn| Image { centre: self.centre, turn }).collect()
    }
}

/// Where one copy lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Image {
    centre: DVec3,
    turn: DMat3,
}

impl Image {
    /// The stroke itself.
    pub const ITSELF: Self = Self { centre: DVec3::ZERO, turn: DMat3::IDENTITY };

    /// A point's image.
    pub fn point(&self, point: DVec3) -> DVec3 {
        self.centre + self.turn * (point - self.centre)
    }

    /// The point whose image it is.
    pub(crate) fn point_of(&self, image: DVec3) -> DVec3 {
        self.centre + self.turn.transpose() * (image - self.centre)
    }

    /// The direction whose image it is.
    pub(crate) fn direction_of(&self, image: DVec3) -> DVec3 {
        self.turn.transpose() * image
    }

    /// True where left and right change places.
    pub fn is_mirror(&self) -> bool {
        self.turn.determinant() < 0.0
    }

    /// A direction's image.
    pub fn direction(&self, direction: DVec3) -> DVec3 {
        self.turn * direction
    }
}

/// Which of a dab's copies it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct CopyOf {
    /// The number of the [`Image`].
    pub image: u8,
    /// Its place among those of the copies that lie on the surface: they stand one after the other.
    pub place: u8,
    /// How many of them there are.
    pub of: u8,
}

impl CopyOf {
    /// The only one.
    pub const ONLY: Self = Self { image: 0, place: 0, of: 1 };
}

#[cfg(test)]
mod tests {
    use super::*;

    fn symmetry(mirrors: [bool; 3], turns: Option<(Axis, u8)>) -> Symmetry {
        Symmetry { centre: DVec3::new(1.0, 2.0, 3.0), mirrors, turns }
    }

    /// Orders of the point groups: 2 and 8 for planes, n for turns, 2 n with a plane through the axis, and 4 for two
    /// planes with a half turn about the line where they meet, which they make by themselves (J. H. Conway et al.,
    /// "The Symmetries of Things", 2008).
    #[test]
    fn there_are_as_many_copies_as_the_group_has_elements() {
        let count = |mirrors, turns| symmetry(mirrors, turns).copies().len();
        assert_eq!(count([false; 3], None), 1);
        assert_eq!(count([true, false, false], None), 2);
        assert_eq!(count([true; 3], None), 8);
        assert_eq!(count([false; 3], Some((Axis::Y, 7))), 7);
        assert_eq!(count([true, false, false], Some((Axis::Y, 7))), 14);
        assert_eq!(count([true, false, true], Some((Axis::Y, 2))), 4);
    }

    #[test]
    fn a_mirror_image_lies_across_the_plane_through_the_centre() {
        let copies = symmetry([true, false, false], None).copies();
        assert_eq!(copies[0].point(DVec3::new(3.0, 5.0, 7.0)), DVec3::new(3.0, 5.0, 7.0));
        assert_eq!(copies[1].point(DVec3::new(3.0, 5.0, 7.0)), DVec3::new(-1.0, 5.0, 7.0));
        assert_eq!(copies[1].direction(DVec3::X), DVec3::NEG_X);
    }

    #[test]
    fn what_can_not_be_is_told() {
        let told = |symmetry: Symmetry| symmetry.check().unwrap_err().to_string();
        assert!(told(symmetry([true; 3], Some((Axis::X, 1)))).contains("number of turns is 1"));
        assert!(told(symmetry([true; 3], Some((Axis::X, 31)))).contains("number of copies"));
        let nowhere = Symmetry { centre: DVec3::NAN, ..symmetry([true; 3], None) };
        assert!(told(nowhere).contains("centre of symmetry"));
    }
}
