//! An even polyline along the hand's path, which does not depend on how often the pen reports.
//!
//! It is made as the reports come. What has been given out never changes: a segment of the spline is
//! walked once all four of its knots are known. What remains beyond is walked from a copy when the path
//! so far is to be shown.

use glam::DVec2;

use crate::ScreenPoint;

/// Reports nearer than this to the last one, in pixels, count as one place.
const ONE_PLACE: f64 = 1e-6;

/// A centripetal Catmull-Rom spline through the points so far, and how far along it points were given out.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Even {
    /// The last three knots, the newest last. The newest may still gain pressure.
    knots: [Option<ScreenPoint>; 3],
    walker: Option<Walker>,
    step_px: f64,
}

impl Even {
    pub(crate) fn new(step_px: f64) -> Self {
        Self { knots: [None; 3], walker: None, step_px }
    }

    /// Takes the next point of the path, and gives out what is certain now. Points at one place count once,
    /// with the greatest pressure.
    pub(crate) fn push(&mut self, point: ScreenPoint, even: &mut impl FnMut(ScreenPoint)) {
        let [before, a, b] = self.knots;
        if let Some(last) = &mut self.knots[2]
            && last.position_px.distance(point.position_px) < ONE_PLACE
        {
            let pressure = last.pressure.max(point.pressure);
            *last = ScreenPoint { position_px: last.position_px, pressure, ..point };
            return;
        }
        self.walk(before, a, b, Some(point), even);
        self.knots = [a, b, Some(point)];
    }

    /// Gives out the rest, with the path's last point: it ends here.
    pub(crate) fn finish(mut self, even: &mut impl FnMut(ScreenPoint)) {
        let [before, a, b] = self.knots;
        self.walk(before, a, b, None, even);
        if let Some(walker) = self.walker.filter(|walker| walker.since > self.step_px * 1e-6) {
            even(walker.last);
        }
    }

    /// Walks from `a` to `b`, or begins at `b` where it is the first knot.
    fn walk(
        &mut self,
        before: Option<ScreenPoint>,
        a: Option<ScreenPoint>,
        b: Option<ScreenPoint>,
        after: Option<ScreenPoint>,
        even: &mut impl FnMut(ScreenPoint),
    ) {
        let Some(b) = b else { return };
        let step = self.step_px;
        let (Some(a), Some(walker)) = (a, &mut self.walker) else {
            even(b);
            self.walker = Some(Walker { last: b, since: 0.0, step });
            return;
        };
        let around =
            [before.unwrap_or_else(|| mirror(a, b)), a, b, after.unwrap_or_else(|| mirror(b, a))];
        let length = a.position_px.distance(b.position_px);
        let pieces = (length / (step * 0.25)).ceil().max(1.0) as usize;
        let curve = Curve::new(around);
        for piece in 1..=pieces {
            walker.walk_to(curve.at(piece as f64 / pieces as f64), even);
        }
    }
}

/// Beyond its ends the path is mirrored.
fn mirror(near: ScreenPoint, far: ScreenPoint) -> ScreenPoint {
    ScreenPoint { position_px: near.position_px * 2.0 - far.position_px, ..near }
}

#[derive(Debug, Clone, Copy)]
struct Walker {
    last: ScreenPoint,
    since: f64,
    step: f64,
}

impl Walker {
    fn walk_to(&mut self, next: ScreenPoint, even: &mut impl FnMut(ScreenPoint)) {
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
            even(self.last);
        }
    }
}

fn mix(a: ScreenPoint, b: ScreenPoint, t: f64) -> ScreenPoint {
    ScreenPoint {
        position_px: a.position_px.lerp(b.position_px, t),
        pressure: a.pressure + (b.pressure - a.pressure) * t,
        lean: a.lean.lerp(b.lean, t),
        speed_px: a.speed_px + (b.speed_px - a.speed_px) * t,
    }
}

/// One segment: Barry and Goldman's pyramid with centripetal knots (Catmull, Rom 1974; Yuksel, Schaefer,
/// Keyser 2011: exponent 0.5 gives no cusp and no loop within a segment). What the pen
/// tells besides runs straight from knot to knot.
struct Curve {
    around: [ScreenPoint; 4],
    knots: [f64; 4],
}

impl Curve {
    fn new(around: [ScreenPoint; 4]) -> Self {
        let p = around.map(|point| point.position_px);
        let mut knots = [0.0; 4];
        for index in 1..4 {
            knots[index] = knots[index - 1] + p[index].distance(p[index - 1]).sqrt().max(1e-6);
        }
        Self { around, knots }
    }

    /// From the second point (`t` = 0) to the third (1).
    fn at(&self, t: f64) -> ScreenPoint {
        let Self { around, knots } = self;
        let p = around.map(|point| point.position_px);
        let at = knots[1] + (knots[2] - knots[1]) * t;
        let between = |a: DVec2, b: DVec2, from: f64, to: f64| a.lerp(b, (at - from) / (to - from));
        let a1 = between(p[0], p[1], knots[0], knots[1]);
        let a2 = between(p[1], p[2], knots[1], knots[2]);
        let a3 = between(p[2], p[3], knots[2], knots[3]);
        let b1 = between(a1, a2, knots[0], knots[2]);
        let b2 = between(a2, a3, knots[1], knots[3]);
        ScreenPoint {
            position_px: between(b1, b2, knots[1], knots[2]),
            ..mix(around[1], around[2], t)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::PenSample;

    fn sample(x: f64, y: f64, time_secs: f64) -> PenSample {
        PenSample::mouse(DVec2::new(x, y), time_secs)
    }

    /// Every point of a path that is known as a whole, the hand not steadied.
    fn spaced_evenly(samples: &[PenSample], step_px: f64) -> Vec<ScreenPoint> {
        let mut found = Vec::new();
        let mut even = Even::new(step_px);
        for sample in samples {
            let (position_px, pressure) = (sample.position_px, f64::from(sample.pressure));
            let point = ScreenPoint { position_px, pressure, lean: DVec2::ZERO, speed_px: 0.0 };
            even.push(point, &mut |point| found.push(point));
        }
        even.finish(&mut |point| found.push(point));
        found
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
        let even = spaced_evenly(&wave(60.0), 2.0);
        for pair in even[..even.len() - 1].windows(2) {
            let distance = pair[0].position_px.distance(pair[1].position_px);
            assert!((distance - 2.0).abs() < 0.01, "{distance}");
        }
        let last = even.last().unwrap().position_px;
        assert!(last.distance(wave(60.0).last().unwrap().position_px) < 1e-9);
    }

    #[test]
    fn the_path_does_not_depend_on_how_often_the_pen_reports() {
        let fine = spaced_evenly(&wave(1000.0), 2.0);
        for rate in [60.0, 133.0] {
            let coarse = spaced_evenly(&wave(rate), 2.0);
            assert!(coarse.len().abs_diff(fine.len()) <= 1);
            for (a, b) in coarse.iter().zip(&fine).rev().skip(1) {
                assert!(a.position_px.distance(b.position_px) < 0.1, "at {rate} Hz");
            }
        }
    }

    #[test]
    fn a_pen_that_rests_is_one_point() {
        let even = spaced_evenly(&[sample(5.0, 5.0, 0.0); 50], 1.0);
        assert_eq!(even.len(), 1);
    }
}
