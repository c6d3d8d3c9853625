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
}

/// The filter, and what it knows of the reports so far.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hand {
    smoothing: Smoothing,
    /// The last report's time, in seconds, and where it was steadied to.
    last: Option<(f64, DVec2)>,
    /// Low-passed, in pixels a second.
    speed: DVec2,
}

impl Hand {
    pub(crate) fn new(smoothing: Smoothing) -> Self {
        Self { smoothing, last: None, speed: DVec2::ZERO }
    }

    /// The next report, steadied. Where two carry one time, 1 ms is assumed between them.
    pub(crate) fn steadied(&mut self, sample: &PenSample) -> ScreenPoint {
        let mut position_px = sample.position_px;
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
        ScreenPoint { position_px, pressure: f64::from(sample.pressure.clamp(0.0, 1.0)) }
    }
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
