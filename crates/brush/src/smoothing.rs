//! Takes the shake out of a hand, report by report.

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
    /// The brush hangs on a string that the hand pulls: it moves when the string is taut, towards the hand.
    String {
        /// The string's length in pixels, 0 or more.
        length_px: f64,
    },
}

/// A point of the steadied path on the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScreenPoint {
    /// In pixels.
    pub position_px: DVec2,
    /// 0..1.
    pub pressure: f64,
    /// Where the pen leans on the screen, as long as it is tilted: 0 upright, 1 flat.
    pub lean: DVec2,
    /// In pixels a second, over some hundredths of a second.
    pub speed_px: f64,
}

/// The filter, and what it knows of the reports so far.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hand {
    smoothing: Smoothing,
    /// The last report's time, in seconds, and where it was steadied to.
    last: Option<(f64, DVec2)>,
    /// Low-passed, in pixels a second.
    speed: DVec2,
    /// Where the last report was, and how fast the hand was then.
    was: Option<(DVec2, f64)>,
    /// What was given last.
    given: Option<ScreenPoint>,
}

/// How long the hand's speed is averaged, in seconds (common practice, no source).
const SPEED_OVER_SECS: f64 = 0.04;

impl Hand {
    pub(crate) fn new(smoothing: Smoothing) -> Self {
        Self { smoothing, last: None, speed: DVec2::ZERO, was: None, given: None }
    }

    /// The next report, steadied. Where two carry one time, 1 ms is assumed between them.
    pub(crate) fn steadied(&mut self, sample: &PenSample) -> ScreenPoint {
        let mut position_px = sample.position_px;
        let speed_px = self.speed_px(sample);
        if let (Smoothing::String { length_px }, Some((_, before))) = (self.smoothing, self.last) {
            let pull = position_px - before;
            let slack = length_px.max(0.0) / pull.length().max(f64::MIN_POSITIVE);
            position_px = if slack < 1.0 { before + pull * (1.0 - slack) } else { before };
        }
        if let (Smoothing::OneEuro { min_cutoff_hz, beta }, Some((time, before))) =
            (self.smoothing, self.last)
        {
            let elapsed = (sample.time_secs - time).max(0.001);
            let moved = (position_px - before) / elapsed;
            self.speed = self.speed.lerp(moved, share(1.0, elapsed));
            let cutoff = min_cutoff_hz + beta * self.speed.length();
            position_px = before.lerp(position_px, share(cutoff, elapsed));
        }
        self.last = Some((sample.time_secs, position_px));
        let pressure = f64::from(sample.pressure.clamp(0.0, 1.0));
        let lean = lean(sample.tilt_rad);
        *self.given.insert(ScreenPoint { position_px, pressure, lean, speed_px })
    }

    /// Where the path ends when the pen is lifted now: a filter lags behind, and a line ends where the hand does. A
    /// string stays slack. None where the path has come there.
    pub(crate) fn caught_up(&self) -> Option<ScreenPoint> {
        let (given, (position_px, _)) = (self.given?, self.was?);
        let is_filter = matches!(self.smoothing, Smoothing::OneEuro { .. });
        let lags = is_filter && given.position_px != position_px;
        lags.then_some(ScreenPoint { position_px, ..given })
    }

    /// The report's speed, low-passed over time.
    fn speed_px(&mut self, sample: &PenSample) -> f64 {
        let now = match (self.was, self.last) {
            (Some((before, speed)), Some((time, _))) => {
                let elapsed = (sample.time_secs - time).max(0.001);
                let moved = before.distance(sample.position_px) / elapsed;
                speed + (moved - speed) * (1.0 - libm::exp(-elapsed / SPEED_OVER_SECS))
            }
            _ => 0.0,
        };
        self.was = Some((sample.position_px, now));
        now
    }
}

/// Where a pen leans that is tilted by these angles about the screen's axes: the direction of its upper end, as long
/// as the angle from upright is of a right angle. What is no number is upright.
fn lean(tilt_rad: [f32; 2]) -> DVec2 {
    let most = std::f64::consts::FRAC_PI_2 - 1e-6;
    let [x, y] = tilt_rad.map(|angle| f64::from(angle).clamp(-most, most)).map(libm::tan);
    let slope = DVec2::new(x, y);
    let length = libm::atan(slope.length()) / std::f64::consts::FRAC_PI_2;
    if length.is_finite() { slope.normalize_or_zero() * length } else { DVec2::ZERO }
}

/// How much of a new value a low pass takes in: `1 / (1 + tau / Te)`, `tau = 1 / (2 pi fc)` (Casiez 2012, eq. 3, 4).
fn share(cutoff_hz: f64, elapsed_secs: f64) -> f64 {
    let tau = 1.0 / (2.0 * std::f64::consts::PI * cutoff_hz);
    1.0 / (1.0 + tau / elapsed_secs)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(x: f64, y: f64, time_secs: f64) -> PenSample {
        PenSample::mouse(DVec2::new(x, y), time_secs)
    }

    /// A brush on a string of 5 ends 5 behind a hand that goes straight on, does not move while the hand turns within
    /// the string's length, and follows a hand around a circle of R on one of sqrt(R^2 - 5^2) (the tractrix's limit).
    #[test]
    fn a_string_is_pulled() {
        let mut hand = Hand::new(Smoothing::String { length_px: 5.0 });
        let mut at = |x: f64, y: f64| hand.steadied(&sample(x, y, 0.0)).position_px;
        assert_eq!(at(0.0, 0.0), DVec2::ZERO);
        assert_eq!(at(4.9, 0.0), DVec2::ZERO);
        assert!((at(20.0, 0.0) - DVec2::new(15.0, 0.0)).length() < 1e-12);
        let rest = at(15.0, 4.0);
        assert_eq!(at(12.0, -3.0), rest);
        let mut last = DVec2::ZERO;
        for step in 0..50_000 {
            let (sin, cos) = (f64::from(step) * 0.001).sin_cos();
            last = at(13.0 * cos, 13.0 * sin);
        }
        assert!((last.length() - 12.0).abs() < 5e-3, "{}", last.length());
    }

    /// A tilt of 30 degrees about one axis is a third of a right angle; of 45 about both, the slope is the root of
    /// 2 and its angle 54.7356 degrees (trigonometry).
    #[test]
    fn a_lean_points_to_the_upper_end_and_is_as_long_as_the_tilt() {
        let about = |x: f64, y: f64| lean([x.to_radians() as f32, y.to_radians() as f32]);
        assert!(about(-30.0, 0.0).distance(DVec2::new(-1.0 / 3.0, 0.0)) < 1e-6);
        let both = about(45.0, 45.0);
        assert!((both.length() - 54.7356 / 90.0).abs() < 1e-5 && (both.x - both.y).abs() < 1e-9);
        assert!(about(90.0, 0.0).length() <= 1.0 && lean([f32::NAN, 0.0]) == DVec2::ZERO);
    }

    #[test]
    fn a_steady_hand_has_its_speed_however_often_the_pen_reports() {
        for rate in [60.0, 133.0, 1000.0] {
            let mut hand = Hand::new(Smoothing::Off);
            let at = |n: i32| sample(500.0 * f64::from(n) / rate, 0.0, f64::from(n) / rate);
            let last = (0..rate as i32 / 2).map(|n| hand.steadied(&at(n)).speed_px).last();
            assert!((last.unwrap() - 500.0).abs() < 1.0, "{last:?} at {rate} Hz");
        }
    }

    /// However fast the hand was, the line ends where it does; on a string it ends the string's length before.
    #[test]
    fn a_filtered_line_ends_where_the_hand_does() {
        let filter = Smoothing::OneEuro { min_cutoff_hz: 1.0, beta: 0.001 };
        for (smoothing, ends) in [(filter, Some(100.0)), (Smoothing::Off, None)] {
            let mut hand = Hand::new(smoothing);
            let given = [0.0, 40.0, 100.0].map(|x| hand.steadied(&sample(x, 7.0, x / 1e3)));
            let end = hand.caught_up().map(|point| point.position_px);
            assert_eq!(end, ends.map(|x| DVec2::new(x, 7.0)));
            assert!(ends.is_none() || given[2].position_px.x < 60.0);
        }
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
        let mut hand = Hand::new(Smoothing::OneEuro { min_cutoff_hz: 1.0, beta: 0.001 });
        let steady: Vec<_> = shaky.iter().map(|sample| hand.steadied(sample)).collect();
        let shake = steady[100..].iter().map(|p| p.position_px.y.abs()).fold(0.0, f64::max);
        assert!(shake < 0.25, "{shake}");
    }
}
