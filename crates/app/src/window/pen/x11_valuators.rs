//! What an X11 device's valuators say of a pen: pure, so that recorded values can be held against it.

use std::collections::BTreeMap;

/// One axis of a device, as the server describes it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Valuator {
    /// Its number.
    pub(super) number: u16,
    /// The name of its label atom.
    pub(super) label: String,
    /// Least and greatest value.
    pub(super) range: [f64; 2],
    /// The present value.
    pub(super) value: f64,
}

/// How hard a pen presses and how it leans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Touch {
    /// 0..1.
    pub(super) pressure: f64,
    /// Towards +x and +y, in radians.
    pub(super) tilt_rad: [f64; 2],
}

/// A pen, or its other end: X11 has a device for each.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PenDevice {
    /// It is the other end.
    pub(super) eraser: bool,
    pressure: Axis,
    tilt: [Option<Axis>; 2],
    /// A report tells only of axes that changed.
    values: BTreeMap<u16, f64>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Axis {
    number: u16,
    range: [f64; 2],
}

/// Names that drivers give these axes (freedesktop.org, xserver-properties.h).
const PRESSURE: &str = "Abs Pressure";
const TILT: [&str; 2] = ["Abs Tilt X", "Abs Tilt Y"];

/// A pen can't lean further, in degrees: tablets report -64..63.
const FURTHEST: f64 = 64.0;

impl PenDevice {
    /// A device of this name with these valuators; none where it feels no pressure and so is no pen.
    pub(super) fn of(name: &str, valuators: &[Valuator]) -> Option<Self> {
        let axis = |label: &str| {
            let found = valuators.iter().find(|valuator| valuator.label == label)?;
            let [low, high] = found.range;
            (high > low).then_some(Axis { number: found.number, range: found.range })
        };
        Some(Self {
            eraser: name.to_lowercase().contains("eraser"),
            pressure: axis(PRESSURE)?,
            tilt: TILT.map(axis),
            values: valuators.iter().map(|valuator| (valuator.number, valuator.value)).collect(),
        })
    }

    /// Takes a report: bit n of the mask says that a value for axis n is among the values, in order.
    pub(super) fn report(&mut self, mask: &[u32], values: &[f64]) -> Touch {
        let set = (0..mask.len() * 32).filter(|bit| mask[bit / 32] >> (bit % 32) & 1 == 1);
        for (number, value) in set.zip(values) {
            if value.is_finite() {
                self.values.insert(number as u16, *value);
            }
        }
        let value = |axis: Axis| self.values.get(&axis.number).copied().unwrap_or(axis.range[0]);
        let [low, high] = self.pressure.range;
        let pressure = ((value(self.pressure) - low) / (high - low)).clamp(0.0, 1.0);
        let tilt_rad = self.tilt.map(|axis| {
            axis.map_or(0.0, |axis| value(axis).clamp(-FURTHEST, FURTHEST).to_radians())
        });
        Touch { pressure, tilt_rad }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As `xinput list` shows the valuators of a tablet's pen.
    fn valuators() -> Vec<Valuator> {
        let axes = [
            (0, "Abs X", [0.0, 44_704.0], 20_311.0),
            (1, "Abs Y", [0.0, 27_940.0], 9_025.0),
            (2, "Abs Pressure", [0.0, 65_536.0], 0.0),
            (3, "Abs Tilt X", [-64.0, 63.0], 12.0),
            (4, "Abs Tilt Y", [-64.0, 63.0], -30.0),
            (5, "Abs Wheel", [-900.0, 899.0], 0.0),
        ];
        axes.map(|(number, label, range, value)| Valuator {
            number,
            label: label.to_owned(),
            range,
            value,
        })
        .into()
    }

    #[test]
    fn a_report_of_some_axes_leaves_the_others_as_they_were() {
        let mut pen = PenDevice::of("Tablet Pen stylus", &valuators()).unwrap();
        assert!(!pen.eraser);
        // x, y, pressure.
        let touch = pen.report(&[0b111], &[20_400.0, 9_100.0, 16_384.0]);
        assert_eq!(touch.pressure, 0.25);
        assert!((touch.tilt_rad[0] - 12f64.to_radians()).abs() < 1e-12);
        assert!((touch.tilt_rad[1] + 30f64.to_radians()).abs() < 1e-12);
        // Tilt alone.
        let touch = pen.report(&[0b11000], &[-64.0, 63.0]);
        assert_eq!(touch.pressure, 0.25);
        assert!((touch.tilt_rad[0] + 64f64.to_radians()).abs() < 1e-12);
        let touch = pen.report(&[0b100], &[65_536.0]);
        assert_eq!(touch.pressure, 1.0);
    }

    #[test]
    fn the_other_end_is_told_by_the_devices_name() {
        let pen = PenDevice::of("Tablet Pen Eraser (0x9c831d)", &valuators()).unwrap();
        assert!(pen.eraser);
    }

    #[test]
    fn a_mouse_is_no_pen_and_a_pen_without_tilt_stands_upright() {
        let mut axes = valuators();
        axes.retain(|axis| !axis.label.contains("Tilt"));
        let mut pen = PenDevice::of("pen", &axes).unwrap();
        assert_eq!(pen.report(&[0b100], &[9e9]), Touch { pressure: 1.0, tilt_rad: [0.0; 2] });
        axes.retain(|axis| axis.label != "Abs Pressure");
        assert_eq!(PenDevice::of("mouse", &axes), None);
    }

    #[test]
    fn broken_reports_change_nothing() {
        let mut pen = PenDevice::of("pen", &valuators()).unwrap();
        let before = pen.report(&[], &[]);
        assert_eq!(pen.report(&[0b100], &[f64::NAN]), before);
        // More bits than values, and values without bits.
        assert_eq!(pen.report(&[u32::MAX, u32::MAX], &[]), before);
        assert_eq!(pen.report(&[0], &[7.0, 8.0]), before);
        let mut flat = valuators();
        flat[2].range = [0.0, 0.0];
        assert_eq!(PenDevice::of("pen", &flat), None);
    }
}
