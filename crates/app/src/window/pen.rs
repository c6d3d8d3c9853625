//! Pens: what a device reports becomes samples of the hand.
//!
//! winit tells where a pen is, but on most platforms neither how hard it presses nor how it leans. So each platform
//! has a source of its own here; where there is none a pen is a mouse, and a finger with force is a pen without
//! tilt.

#[cfg(target_os = "linux")]
mod x11;
#[cfg(target_os = "linux")]
mod x11_valuators;

use winit::window::Window;

/// What a pen reports.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PenReport {
    /// In pixels, from the window's top left.
    pub(super) position_px: [f64; 2],
    /// 0..1, as the device says it; 0 in the air.
    pub(super) pressure: f64,
    /// Lean towards +x and +y of the screen, in radians.
    pub(super) tilt_rad: [f64; 2],
    /// The pen's other end.
    pub(super) eraser: bool,
    /// On the device's clock.
    pub(super) time_secs: f64,
}

/// What comes from a source of pens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum PenNews {
    /// It moved, pressed or leaned.
    Report(PenReport),
    /// It was unplugged or switched off.
    Gone,
}

/// Where reports come from, at the full rate of the device. `tell` is called from any thread; it gives false once
/// nobody listens any more.
pub(super) trait PenSource {
    /// Starts listening to the pens over a window. Nothing happens where this platform's source can't be had.
    fn listen(window: &Window, tell: impl Fn(PenNews) -> bool + Send + 'static);
}

/// The source of the platform that the window is on.
#[cfg(target_os = "linux")]
pub(super) type Pens = x11::X11Pens;

/// A platform on which pens come as touches with force, or not at all.
#[cfg(not(target_os = "linux"))]
#[derive(Debug)]
pub(super) struct Pens;

#[cfg(not(target_os = "linux"))]
impl PenSource for Pens {
    fn listen(_window: &Window, _tell: impl Fn(PenNews) -> bool + Send + 'static) {}
}

/// Brings a device's clock to the window's: the first report is taken to be of now.
#[derive(Debug, Default)]
pub(super) struct Clock(Option<f64>);

impl Clock {
    /// The window's time of a report, which is never in its future.
    pub(super) fn window_time(&mut self, device_secs: f64, now_secs: f64) -> f64 {
        let late = now_secs - device_secs;
        let ahead = self.0.map_or(late, |known| known.min(late));
        self.0 = Some(ahead);
        device_secs + ahead
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reports_keep_their_distance_in_time_and_are_never_of_the_future() {
        let mut clock = Clock::default();
        assert_eq!(clock.window_time(500.0, 10.0), 10.0);
        // Told late: it was done when the device says.
        assert_eq!(clock.window_time(500.25, 11.0), 10.25);
        // Told sooner than the first: that one was late.
        assert_eq!(clock.window_time(501.0, 10.75), 10.75);
        assert_eq!(clock.window_time(501.5, 12.0), 11.25);
    }
}
