//! What a hand did on a screen, before anything is known of the surface.

use glam::DVec2;

use crate::{BrushError, Camera, LeftOut, Smoothing};

/// One report of the pen. A mouse gives pressure 1 and no tilt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PenSample {
    /// Where, in pixels from the viewport's top left.
    pub position_px: DVec2,
    /// 0..1.
    pub pressure: f32,
    /// Lean towards +x and +y of the screen, in radians.
    pub tilt_rad: [f32; 2],
    /// True for the pen's other end.
    pub eraser: bool,
    /// Seconds since pen down.
    pub time_secs: f64,
}

impl PenSample {
    /// A report of a mouse: pressure 1, no tilt.
    pub const fn mouse(position_px: DVec2, time_secs: f64) -> Self {
        Self { position_px, pressure: 1.0, tilt_rad: [0.0; 2], eraser: false, time_secs }
    }

    /// True when a path can be made of it.
    pub(crate) fn is_finite(&self) -> bool {
        self.position_px.is_finite() && self.pressure.is_finite() && self.time_secs.is_finite()
    }
}

/// A brush's radius as the artist sets it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BrushSize {
    /// Constant on the screen: radius in pixels.
    Screen(f64),
    /// Constant on the object: radius in model units.
    Object(f64),
}

/// Pen down to pen up, as it was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Gesture {
    /// Where it was seen from.
    pub camera: Camera,
    /// The pen's reports in order of time.
    pub samples: Vec<PenSample>,
    /// The brush's radius.
    pub size: BrushSize,
    /// How the hand is steadied.
    pub smoothing: Smoothing,
    /// Parts that are not painted; hidden ones are not met.
    pub left_out: LeftOut,
}

impl Gesture {
    /// # Errors
    /// [`BrushError`] where there are no samples, one is not finite, or the size is not above 0.
    pub fn check(&self) -> Result<(), BrushError> {
        if self.samples.is_empty() {
            return Err(BrushError::EmptyPath);
        }
        if let Some(index) = self.samples.iter().position(|sample| !sample.is_finite()) {
            return Err(BrushError::NotFinite { index });
        }
        let (BrushSize::Screen(value) | BrushSize::Object(value)) = self.size;
        if value > 0.0 && value.is_finite() {
            Ok(())
        } else {
            Err(BrushError::Setting { what: "brush size", value, range: "more than 0" })
        }
    }
}
