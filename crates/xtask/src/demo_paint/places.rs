//! Where on the model the hand goes: points near its surface, in metres. What is drawn is found by looking
//! at them, so they need not lie on it.

use glam::DVec3;

use super::chance::Chance;

/// Points that the pen passes.
pub(crate) type Line = Vec<DVec3>;

/// Where the bell's axis stands.
pub(crate) const AXIS_Z: f64 = 0.245;

/// The bell's outline, from the lip to the top: height and distance from the axis.
const OUTLINE: [[f64; 2]; 14] = [
    [0.0, 0.1700],
    [0.0095, 0.1755],
    [0.0350, 0.1672],
    [0.0400, 0.1670],
    [0.0546, 0.1575],
    [0.0834, 0.1375],
    [0.1185, 0.1208],
    [0.1625, 0.1083],
    [0.2180, 0.1010],
    [0.2420, 0.0978],
    [0.2575, 0.0910],
    [0.2665, 0.0740],
    [0.2698, 0.0560],
    [0.2770, 0.0500],
];

/// A side from which a stretch of the bell's round is seen. Angles are in degrees, 0 in front. The board
/// stands behind the bell: one looks past its edges.
#[derive(Clone, Copy)]
pub(crate) struct Side {
    pub(crate) seen_from: f64,
    pub(crate) first: f64,
    pub(crate) last: f64,
}

/// Together all of the bell's outside.
pub(crate) const ROUND: [Side; 5] = [
    Side { seen_from: 0.0, first: -48.0, last: 48.0 },
    Side { seen_from: 82.0, first: 42.0, last: 120.0 },
    Side { seen_from: 112.0, first: 112.0, last: 180.0 },
    Side { seen_from: -82.0, first: -120.0, last: -42.0 },
    Side { seen_from: -112.0, first: -180.0, last: -112.0 },
];

/// A point at a height and distance from the bell's axis.
pub(crate) fn about_axis(height: f64, distance: f64, degrees: f64) -> DVec3 {
    let angle = degrees.to_radians();
    DVec3::new(distance * libm::sin(angle), height, AXIS_Z + distance * libm::cos(angle))
}

/// A point of the bell's outside.
pub(crate) fn on_bell(height: f64, degrees: f64) -> DVec3 {
    let above = OUTLINE.partition_point(|[at, _]| *at <= height).clamp(1, OUTLINE.len() - 1);
    let ([low, from], [high, to]) = (OUTLINE[above - 1], OUTLINE[above]);
    let t = ((height - low) / (high - low)).clamp(0.0, 1.0);
    about_axis(height, from + (to - from) * t, degrees)
}

/// Round the bell's outside at a height.
pub(crate) fn arc(height: f64, first: f64, last: f64) -> Line {
    (0..=24).map(|step| on_bell(height, first + (last - first) * f64::from(step) / 24.0)).collect()
}

/// Round the bell's axis at a height and distance: for the crown and the inside.
pub(crate) fn circle(height: f64, distance: f64) -> Line {
    (0..=48).map(|step| about_axis(height, distance, f64::from(step) * 7.5)).collect()
}

/// Down the bell's outside, wandering a little.
pub(crate) fn run_down(from: f64, to: f64, degrees: f64, chance: &mut Chance) -> Line {
    let (phase, sway) = (chance.between(0.0, 6.0), chance.between(0.4, 1.6));
    (0..=20)
        .map(|step| {
            let t = f64::from(step) / 20.0;
            on_bell(from + (to - from) * t, degrees + sway * libm::sin(phase + 7.0 * t))
        })
        .collect()
}

/// Which part of the bell's outside gets short touches: heights, and how many degrees a touch is long.
#[derive(Clone, Copy)]
pub(crate) struct Belt {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) length: f64,
}

impl Belt {
    /// Touches scattered over what is seen of the belt from one side.
    pub(crate) fn touches(self, side: Side, count: u32, chance: &mut Chance) -> Vec<Line> {
        (0..count)
            .map(|_| {
                let first = chance.between(side.first, side.last);
                let height = chance.between(self.low, self.high);
                let slant = chance.between(-0.2, 0.2) * (self.high - self.low);
                let length = self.length * chance.between(0.3, 1.0);
                (0..=4)
                    .map(|step| {
                        let t = f64::from(step) / 4.0;
                        on_bell(height + slant * t, first + length * t)
                    })
                    .collect()
            })
            .collect()
    }
}

/// Where one stands to see an angle of the bell.
pub(crate) fn towards(degrees: f64, lift: f64) -> DVec3 {
    let angle = degrees.to_radians();
    DVec3::new(libm::sin(angle), lift, libm::cos(angle))
}

/// Points along a straight line.
pub(crate) fn straight(from: DVec3, to: DVec3) -> Line {
    swaying(from, to, DVec3::ZERO, 1.0)
}

/// Points along a straight line that sways from side to side by `sway`.
pub(crate) fn swaying(from: DVec3, to: DVec3, sway: DVec3, waves: f64) -> Line {
    (0..=32)
        .map(|step| {
            let t = f64::from(step) / 32.0;
            from.lerp(to, t) + sway * libm::sin(t * waves * std::f64::consts::TAU)
        })
        .collect()
}

/// Short touches scattered along a line: each follows it for `length` of its run (0..1) and lies up to
/// `spread` metres beside it.
pub(crate) fn along(
    line: &[DVec3],
    count: u32,
    length: f64,
    spread: f64,
    chance: &mut Chance,
) -> Vec<Line> {
    (0..count)
        .map(|_| {
            let first = chance.between(0.0, 1.0 - length);
            let last = first + length * chance.between(0.3, 1.0);
            let mut off = || chance.between(-spread, spread);
            let beside = DVec3::new(off(), off(), off());
            (0..=6)
                .map(|step| at(line, first + (last - first) * f64::from(step) / 6.0) + beside)
                .collect()
        })
        .collect()
}

/// The point at a share (0..1) of a line's points.
fn at(line: &[DVec3], share: f64) -> DVec3 {
    let place = share.clamp(0.0, 1.0) * (line.len() - 1) as f64;
    let before = (place as usize).min(line.len() - 2);
    line[before].lerp(line[before + 1], place - before as f64)
}
