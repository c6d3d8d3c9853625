//! From pen reports to an even polyline that does not depend on how often the pen reports.

use glam::DVec2;

use crate::PenSample;

/// How the hand is steadied before its path is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Smoothing {
    /// Not at all.
    Off,
    /// The 1 euro filter (Casiez, Roussel, Vogel, CHI 2012): a low pass whose cutoff rises with speed.
    OneEuro {
        /// Cutoff at rest in hertz, more than 0: lower is steadier.
        min_cutoff_hz: f64,
        /// Rise of the cutoff in hertz for each pixel a second: higher lags less.
        beta: f64,
    },
}

/// A point of the steadied path on the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScreenPoint {
    /// In pixels.
    pub position_px: DVec2,
    /// 0..1.
    pub pressure: f64,
}

/// The samples after smoothing. Where two reports carry one time, the filter assumes 1 ms between them.
pub fn smoothed(samples: &[PenSample], smoothing: Smoothing) -> Vec<ScreenPoint> {
    let mut points: Vec<ScreenPoint> = samples
        .iter()
        .map(|sample| ScreenPoint {
            position_px: sample.position_px,
            pressure: f64::from(sample.pressure.clamp(0.0, 1.0)),
        })
        .collect();
    if let Smoothing::OneEuro { min_cutoff_hz, beta } = smoothing {
        let mut speed = DVec2::ZERO;
        for index in 1..points.len() {
            let elapsed = (samples[index].time_secs - samples[index - 1].time_secs).max(0.001);
            let before = points[index - 1].position_px;
            let moved = (points[index].position_px - before) / elapsed;
            speed = speed.lerp(moved, share(1.0, elapsed));
            let cutoff = min_cutoff_hz + beta * speed.length();
            points[index].position_px =
                before.lerp(points[index].position_px, share(cutoff, elapsed));
        }
    }
    points
}

/// How much of a new value a low pass takes in: `1 / (1 + tau / Te)`, `tau = 1 / (2 pi fc)` (Casiez 2012, eq. 3, 4).
fn share(cutoff_hz: f64, elapsed_secs: f64) -> f64 {
    let tau = 1.0 / (2.0 * std::f64::consts::PI * cutoff_hz);
    1.0 / (1.0 + tau / elapsed_secs)
}

/// Points at an even distance `step_px` along a centripetal Catmull-Rom spline through `points`, from the
/// first on; the last point of the path is given too. Reports at one place count once.
pub fn spaced_evenly(points: &[ScreenPoint], step_px: f64) -> Vec<ScreenPoint> {
    let mut knots: Vec<ScreenPoint> = Vec::with_capacity(points.len());
    for point in points {
        match knots.last_mut() {
            Some(last) if last.position_px.distance(point.position_px) < 1e-6 => {
                last.pressure = last.pressure.max(point.pressure);
            }
            _ => knots.push(*point),
        }
    }
    let Some(&first) = knots.first() else { return Vec::new() };
    let mut even = vec![first];
    let mut walker = Walker { last: first, since: 0.0, step: step_px };
    for segment in 0..knots.len().saturating_sub(1) {
        let around = neighbours(&knots, segment);
        let length = around[1].position_px.distance(around[2].position_px);
        let pieces = (length / (step_px * 0.25)).ceil().max(1.0) as usize;
        for piece in 1..=pieces {
            let next = catmull_rom(&around, piece as f64 / pieces as f64);
            walker.walk_to(next, &mut even);
        }
    }
    if walker.since > step_px * 1e-6 {
        even.push(walker.last);
    }
    even
}

struct Walker {
    last: ScreenPoint,
    since: f64,
    step: f64,
}

impl Walker {
    fn walk_to(&mut self, next: ScreenPoint, even: &mut Vec<ScreenPoint>) {
        loop {
            let left = self.last.position_px.distance(next.position_px);
            let missing = self.step - self.since;
            if left < missing {
                self.since += left;
                self.last = next;
                return;
            }
            self.last = mix(self.last, next, if left > 0.0 { missing / left } else { 1.0 });
            self.since = 0.0;
            even.push(self.last);
        }
    }
}

fn mix(a: ScreenPoint, b: ScreenPoint, t: f64) -> ScreenPoint {
    ScreenPoint {
        position_px: a.position_px.lerp(b.position_px, t),
        pressure: a.pressure + (b.pressure - a.pressure) * t,
    }
}

/// The four knots of a segment; beyond the ends the path is mirrored.
fn neighbours(knots: &[ScreenPoint], segment: usize) -> [ScreenPoint; 4] {
    let (a, b) = (knots[segment], knots[segment + 1]);
    let mirror = |near: ScreenPoint, far: ScreenPoint| ScreenPoint {
        position_px: near.position_px * 2.0 - far.position_px,
        pressure: near.pressure,
    };
    let before = segment.checked_sub(1).map_or_else(|| mirror(a, b), |index| knots[index]);
    let after = knots.get(segment + 2).copied().unwrap_or_else(|| mirror(b, a));
    [before, a, b, after]
}

/// Barry and Goldman's pyramid with centripetal knots (Catmull, Rom 1974; Yuksel, Schaefer, Keyser 2011:
/// exponent 0.5 gives no cusp and no loop within a segment). Pressure runs straight from knot to knot.
fn catmull_rom(around: &[ScreenPoint; 4], t: f64) -> ScreenPoint {
    let p = around.map(|point| point.position_px);
    let mut knot = [0.0; 4];
    for index in 1..4 {
        knot[index] = knot[index - 1] + p[index].distance(p[index - 1]).sqrt().max(1e-6);
    }
    let at = knot[1] + (knot[2] - knot[1]) * t;
    let between = |a: DVec2, b: DVec2, from: f64, to: f64| a.lerp(b, (at - from) / (to - from));
    let a1 = between(p[0], p[1], knot[0], knot[1]);
    let a2 = between(p[1], p[2], knot[1], knot[2]);
    let a3 = between(p[2], p[3], knot[2], knot[3]);
    let b1 = between(a1, a2, knot[0], knot[2]);
    let b2 = between(a2, a3, knot[1], knot[3]);
    ScreenPoint {
        position_px: between(b1, b2, knot[1], knot[2]),
        pressure: around[1].pressure + (around[2].pressure - around[1].pressure) * t,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(x: f64, y: f64, time_secs: f64) -> PenSample {
        PenSample {
            position_px: DVec2::new(x, y),
            pressure: 1.0,
            tilt_rad: [0.0; 2],
            eraser: false,
            time_secs,
        }
    }

    fn wave(rate_hz: f64) -> Vec<PenSample> {
        (0..=rate_hz as usize)
            .map(|index| {
                let time = index as f64 / rate_hz;
                sample(600.0 * time, 100.0 + 60.0 * (6.0 * time).sin(), time)
            })
            .collect()
    }

    #[test]
    fn points_are_even_and_end_at_the_end() {
        let even = spaced_evenly(&smoothed(&wave(60.0), Smoothing::Off), 2.0);
        for pair in even[..even.len() - 1].windows(2) {
            let distance = pair[0].position_px.distance(pair[1].position_px);
            assert!((distance - 2.0).abs() < 0.01, "{distance}");
        }
        let last = even.last().unwrap().position_px;
        assert!(last.distance(wave(60.0).last().unwrap().position_px) < 1e-9);
    }

    #[test]
    fn the_path_does_not_depend_on_how_often_the_pen_reports() {
        let fine = spaced_evenly(&smoothed(&wave(1000.0), Smoothing::Off), 2.0);
        for rate in [60.0, 133.0] {
            let coarse = spaced_evenly(&smoothed(&wave(rate), Smoothing::Off), 2.0);
            assert!(coarse.len().abs_diff(fine.len()) <= 1);
            for (a, b) in coarse.iter().zip(&fine).rev().skip(1) {
                assert!(a.position_px.distance(b.position_px) < 0.1, "at {rate} Hz");
            }
        }
    }

    #[test]
    fn a_pen_that_rests_is_one_point() {
        let even = spaced_evenly(&smoothed(&[sample(5.0, 5.0, 0.0); 50], Smoothing::Off), 1.0);
        assert_eq!(even.len(), 1);
    }

    #[test]
    fn the_filter_takes_the_shake_out_of_a_slow_line() {
        let shaky: Vec<_> = (0..200)
            .map(|i| {
                sample(
                    f64::from(i) * 0.2,
                    if i % 2 == 0 { 1.0 } else { -1.0 },
                    f64::from(i) / 200.0,
                )
            })
            .collect();
        let steady = smoothed(&shaky, Smoothing::OneEuro { min_cutoff_hz: 1.0, beta: 0.001 });
        let shake = steady[100..].iter().map(|p| p.position_px.y.abs()).fold(0.0, f64::max);
        assert!(shake < 0.25, "{shake}");
    }
}
