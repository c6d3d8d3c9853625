//! The environments that come with the program.

use glam::{Vec2, Vec3};

/// An environment of ours. All are neutral: they tint nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum BuiltIn {
    /// Soft boxes about the model and quiet walls between them, so that metal shows form and rough things stay even.
    #[default]
    Studio,
    /// A grey sky over pale ground: nearly even, for judging colour.
    Overcast,
    /// Low and from the side, as conservators light a painting: each bump and each change of roughness shows.
    Raking,
}

impl BuiltIn {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Self; 3] = [Self::Studio, Self::Overcast, Self::Raking];

    /// Radiance from a direction of length 1, before it is normalised.
    pub(super) fn radiance(self, direction: Vec3) -> Vec3 {
        Vec3::splat(match self {
            Self::Studio => studio(direction),
            Self::Overcast => overcast(direction),
            Self::Raking => raking(direction),
        })
    }
}

/// A lamp: a rectangle seen from the model, that fades out at its rim.
#[derive(Debug)]
struct SoftBox {
    /// Towards its middle; any length.
    towards: Vec3,
    /// Half its width and height, as tangents of angles about its middle.
    half: Vec2,
    /// Width of the fading rim, as such a tangent.
    rim: f32,
    radiance: f32,
}

impl SoftBox {
    fn radiance(&self, direction: Vec3) -> f32 {
        let towards = self.towards.normalize_or_zero();
        let depth = direction.dot(towards);
        if depth <= 0.1 {
            return 0.0;
        }
        let upright = if towards.y.abs() > 0.9 { Vec3::NEG_Z } else { Vec3::Y };
        let right = upright.cross(towards).normalize_or_zero();
        let at = Vec2::new(direction.dot(right), direction.dot(towards.cross(right))) / depth;
        let inside = (self.half - at.abs()) / self.rim;
        // A cloth is brighter in its middle.
        let fall = 1.0 - 0.25 * (at / self.half).length_squared().min(2.0);
        self.radiance * smooth(inside.x) * smooth(inside.y) * fall
    }
}

/// 0 to 1 as `at` goes from 0 to 1, with no slope at either end.
fn smooth(at: f32) -> f32 {
    let at = at.clamp(0.0, 1.0);
    at * at * (3.0 - 2.0 * at)
}

const STUDIO: [SoftBox; 5] = [
    // The main one: high, to the left, in front.
    SoftBox {
        towards: Vec3::new(-0.75, 0.6, 0.65),
        half: Vec2::new(0.6, 0.42),
        rim: 0.14,
        radiance: 4.6,
    },
    // Overhead.
    SoftBox {
        towards: Vec3::new(0.1, 1.0, -0.05),
        half: Vec2::new(0.75, 0.45),
        rim: 0.2,
        radiance: 2.6,
    },
    // A tall strip to the right, which draws a line along rounded metal.
    SoftBox {
        towards: Vec3::new(0.95, 0.12, 0.3),
        half: Vec2::new(0.13, 0.85),
        rim: 0.08,
        radiance: 3.6,
    },
    // Two from behind, which part the outline from the ground.
    SoftBox {
        towards: Vec3::new(0.45, 0.4, -0.85),
        half: Vec2::new(0.2, 0.6),
        rim: 0.12,
        radiance: 3.4,
    },
    SoftBox {
        towards: Vec3::new(-0.8, 0.15, -0.6),
        half: Vec2::new(0.14, 0.6),
        rim: 0.1,
        radiance: 2.2,
    },
];

fn studio(direction: Vec3) -> f32 {
    let height = direction.y;
    let walls = 0.3 + 0.22 * smooth((height + 0.15) / 1.1) + 0.16 * smooth(-height - 0.1);
    walls + STUDIO.iter().map(|lamp| lamp.radiance(direction)).sum::<f32>()
}

/// Moon and Spencer 1942: the CIE's overcast sky, three times as bright at the zenith as at the horizon. The ground
/// reflects a quarter of what falls on it, which is 7/9 pi of the zenith's radiance.
fn overcast(direction: Vec3) -> f32 {
    let sky = (1.0 + 2.0 * direction.y.max(0.0)) / 3.0;
    let ground = 0.25 * 7.0 / 9.0;
    let above = smooth((direction.y + 0.06) / 0.12);
    ground + (sky - ground) * above
}

const RAKING: SoftBox = SoftBox {
    towards: Vec3::new(-0.96, 0.24, 0.22),
    half: Vec2::new(0.32, 0.14),
    rim: 0.08,
    radiance: 34.0,
};

fn raking(direction: Vec3) -> f32 {
    let walls = 0.32 + 0.16 * smooth(0.5 + 0.5 * direction.y);
    walls + RAKING.radiance(direction)
}
