//! What the hand did since the last frame, at the full rate of the device.

use egui::{Pos2, Ui};

/// One report of the pen, a finger or the mouse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HandSample {
    /// In points, from the window's top left.
    pub(crate) position: Pos2,
    /// 0..1; a mouse gives 1.
    pub(crate) pressure: f32,
    /// Lean towards +x and +y of the screen, in radians.
    pub(crate) tilt_rad: [f32; 2],
    /// The pen's other end.
    pub(crate) eraser: bool,
    /// On the window's clock.
    pub(crate) time_secs: f64,
}

impl HandSample {
    /// What a mouse reports.
    pub(crate) const fn mouse(position: Pos2, time_secs: f64) -> Self {
        Self { position, pressure: 1.0, tilt_rad: [0.0; 2], eraser: false, time_secs }
    }
}

/// The samples of one frame, in order.
#[derive(Debug, Default)]
pub(crate) struct Hand {
    /// Filled by the window before each frame; empty where nothing but egui's own events is known.
    pub(crate) samples: Vec<HandSample>,
}

impl Hand {
    /// The samples since the last frame: those of the window, else egui's pointer events as a mouse's.
    pub(crate) fn take(&mut self, ui: &Ui) -> Vec<HandSample> {
        let samples = std::mem::take(&mut self.samples);
        if !samples.is_empty() {
            return samples;
        }
        ui.input(|input| {
            let positions = input.events.iter().filter_map(|event| match event {
                egui::Event::PointerMoved(position)
                | egui::Event::PointerButton { pos: position, .. } => Some(*position),
                _ => None,
            });
            positions.map(|position| HandSample::mouse(position, input.time)).collect()
        })
    }
}
