//! What the hand did since the last frame, at the full rate of the device.

use egui::{Event, InputState, Modifiers, PointerButton, Pos2, Ui};

/// One report of the pen, a finger or the mouse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HandSample {
    /// In points, from the window's top left.
    pub(crate) position: Pos2,
    /// 0..1; a mouse gives 1, a pen in the air 0.
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

/// A thing that the hand did, in the order in which it was done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Deed {
    /// A button of the mouse, or the pen's tip, went down.
    Down {
        /// Which.
        button: PointerButton,
        /// Where and how.
        sample: HandSample,
        /// What was held.
        modifiers: Modifiers,
    },
    /// It moved.
    Move(HandSample),
    /// A button or the tip was lifted.
    Up {
        /// Which.
        button: PointerButton,
        /// Where and how.
        sample: HandSample,
    },
    /// The pen left, or the window lost the keyboard: whatever went on ends as if it were lifted.
    Gone,
}

/// The samples of one frame, in order.
#[derive(Debug, Default)]
pub(crate) struct Hand {
    /// What a pen reported since the last frame, in the air too: filled by the window before each frame. Empty for a
    /// mouse or a finger, which egui's own events tell of as finely.
    pub(crate) samples: Vec<HandSample>,
    /// The last of them, in this frame or before.
    heard: Option<HandSample>,
}

/// A pen that reported within so many seconds moves the pointer: what egui tells of it comes by another way, and may
/// come first.
const PEN_LASTS_SECS: f64 = 0.3;

impl Hand {
    /// Once a frame, before anyone asks.
    pub(crate) fn listen(&mut self) {
        self.heard = self.samples.last().copied().or(self.heard);
    }

    /// What was done in this frame. Asking twice gives the same.
    pub(crate) fn deeds(&self, ui: &Ui) -> Vec<Deed> {
        ui.input(|input| {
            let lasts = |heard: &HandSample| (input.time - heard.time_secs) < PEN_LASTS_SECS;
            deeds(input, &self.samples, self.heard.filter(lasts))
        })
    }
}

/// Events in order; where a pen reports, its samples stand in place of egui's moves.
fn deeds(input: &InputState, pen: &[HandSample], heard: Option<HandSample>) -> Vec<Deed> {
    let moves =
        |event: &&Event| matches!(event, Event::PointerMoved(_) | Event::PointerButton { .. });
    let count = input.events.iter().filter(moves).count().max(1);
    let elapsed = f64::from(input.unstable_dt).clamp(0.0, 0.1);
    let mut seen = 0;
    let mut deeds = Vec::new();
    let mut touching = pen.iter().filter(|sample| sample.pressure > 0.0);
    let mut sampled = |position: Pos2| {
        // Spread over the frame: steadying goes by speed.
        seen += 1;
        let late = elapsed * (count - seen.min(count)) as f64 / count as f64;
        HandSample::mouse(position, input.time - late)
    };
    for event in &input.events {
        match *event {
            Event::PointerMoved(position) => {
                let sample = sampled(position);
                if heard.is_none() {
                    deeds.push(Deed::Move(sample));
                }
            }
            Event::PointerButton { pos, button, pressed: true, modifiers } => {
                let sample = sampled(pos);
                let from_pen = heard.map(|pen| HandSample { position: pos, ..pen });
                let sample = touching.next().copied().or(from_pen).unwrap_or(sample);
                deeds.push(Deed::Down { button, sample, modifiers });
            }
            Event::PointerButton { pos, button, pressed: false, .. } => {
                let sample = sampled(pos);
                deeds.extend(touching.by_ref().copied().map(Deed::Move));
                let sample =
                    HandSample { pressure: if heard.is_none() { 1.0 } else { 0.0 }, ..sample };
                deeds.push(Deed::Up { button, sample });
            }
            Event::PointerGone | Event::WindowFocused(false) => {
                deeds.extend(touching.by_ref().copied().map(Deed::Move));
                deeds.push(Deed::Gone);
            }
            _ => {}
        }
    }
    deeds.extend(touching.copied().map(Deed::Move));
    deeds
}

#[cfg(test)]
mod tests {
    use egui::{Context, RawInput, pos2};

    use super::*;

    fn shown(input: RawInput, contents: impl FnMut(&mut Ui)) {
        let mut output = Context::default().run_ui(input, contents);
        // There is nothing to bring the fonts to.
        output.textures_delta.clear();
    }

    fn done(events: Vec<Event>, pen: Vec<HandSample>) -> Vec<Deed> {
        let mut hand = Hand { samples: pen, heard: None };
        hand.listen();
        let mut deeds = Vec::new();
        let input = RawInput { events, time: Some(1.0), ..RawInput::default() };
        shown(input, |ui| deeds = hand.deeds(ui));
        deeds
    }

    fn button(x: f32, pressed: bool) -> Event {
        let (button, modifiers) = (PointerButton::Primary, Modifiers::NONE);
        Event::PointerButton { pos: pos2(x, 0.0), button, pressed, modifiers }
    }

    #[test]
    fn every_move_of_a_mouse_counts_and_time_goes_on_between_them() {
        let moves = (0..4).map(|x| Event::PointerMoved(pos2(x as f32, 0.0))).collect();
        let deeds = done(moves, Vec::new());
        let times = deeds.iter().map(|deed| match deed {
            Deed::Move(sample) => sample.time_secs,
            other => panic!("{other:?}"),
        });
        let times: Vec<f64> = times.collect();
        assert_eq!(times.len(), 4);
        assert!(times.is_sorted_by(|a, b| a < b), "{times:?}");
    }

    #[test]
    fn a_pens_reports_stand_in_place_of_the_moves_and_none_of_those_in_the_air() {
        let pen = |x: f32, pressure| HandSample {
            pressure,
            ..HandSample::mouse(pos2(x, 0.0), 1.0 + f64::from(x) * 1e-3)
        };
        let events =
            vec![button(1.0, true), Event::PointerMoved(pos2(3.0, 0.0)), button(4.0, false)];
        let deeds = done(events, vec![pen(0.5, 0.0), pen(1.5, 0.2), pen(2.5, 0.7), pen(4.5, 0.0)]);
        assert!(matches!(deeds[0], Deed::Down { sample, .. } if sample.pressure == 0.2));
        assert!(matches!(deeds[1], Deed::Move(sample) if sample.pressure == 0.7));
        assert!(matches!(deeds[2], Deed::Up { .. }));
        assert_eq!(deeds.len(), 3);
    }

    #[test]
    fn what_egui_tells_of_a_pen_before_the_pen_does_is_no_mouse() {
        let mut hand = Hand { samples: vec![HandSample::mouse(pos2(0.0, 0.0), 0.9)], heard: None };
        hand.listen();
        hand.samples.clear();
        hand.listen();
        let told = |hand: &Hand, time: f64| {
            let events = vec![Event::PointerMoved(pos2(9.0, 0.0))];
            let input = RawInput { events, time: Some(time), ..RawInput::default() };
            let mut deeds = Vec::new();
            shown(input, |ui| deeds = hand.deeds(ui));
            deeds.len()
        };
        assert_eq!(told(&hand, 1.0), 0, "the pen is at work");
        assert_eq!(told(&hand, 9.0), 1, "the pen was put away");
    }

    #[test]
    fn a_pen_that_leaves_is_told_after_its_last_report() {
        let events =
            vec![button(1.0, true), Event::PointerMoved(pos2(3.0, 0.0)), Event::PointerGone];
        let deeds = done(events, Vec::new());
        assert!(matches!(deeds[..], [Deed::Down { .. }, Deed::Move(_), Deed::Gone]), "{deeds:?}");
    }
}
