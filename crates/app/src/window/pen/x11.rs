//! Pens on X11, by the X Input extension 2 over a connection of our own: winit's drops pressure's range and tilt.

use std::collections::BTreeMap;

use winit::raw_window_handle::{HasWindowHandle, RawWindowHandle};
use winit::window::Window;
use x11rb::connection::Connection;
use x11rb::errors::{ConnectionError, ReplyError};
use x11rb::protocol::Event;
use x11rb::protocol::xinput::{
    self, ConnectionExt as _, DeviceClassData, DeviceType, EventMask, Fp3232, HierarchyMask,
    XIEventMask,
};
use x11rb::protocol::xproto::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;

use super::x11_valuators::{PenDevice, Valuator};
use super::{PenNews, PenReport, PenSource};

/// All devices (`XI2proto`, `XIAllDevices`).
const ALL_DEVICES: u16 = 0;

/// See the module.
#[derive(Debug)]
pub(in crate::window) struct X11Pens;

impl PenSource for X11Pens {
    fn listen(window: &Window, tell: impl Fn(PenNews) -> bool + Send + 'static) {
        let number = match window.window_handle().map(|handle| handle.as_raw()) {
            Ok(RawWindowHandle::Xlib(handle)) => handle.window as u32,
            Ok(RawWindowHandle::Xcb(handle)) => handle.window.get(),
            // Wayland: its tablet protocol is not spoken here yet.
            _ => return,
        };
        let listen = move || {
            // Without the extension or the server, pens are mice.
            drop(Listening::begin(number).and_then(|mut listening| listening.run(&tell)));
            tell(PenNews::Gone);
        };
        // Without a thread, pens are mice.
        drop(std::thread::Builder::new().name("pens".to_owned()).spawn(listen));
    }
}

struct Listening {
    server: RustConnection,
    window: u32,
    pens: BTreeMap<u16, PenDevice>,
}

impl Listening {
    fn begin(window: u32) -> Result<Self, ReplyError> {
        let (server, _screen) = RustConnection::connect(None)
            .map_err(|error| ConnectionError::from(std::io::Error::other(error.to_string())))?;
        server.xinput_xi_query_version(2, 2)?.reply()?;
        let mut listening = Self { server, window, pens: BTreeMap::new() };
        listening.find_pens()?;
        Ok(listening)
    }

    /// Looks at all devices anew, and asks for what pens report over the window.
    fn find_pens(&mut self) -> Result<(), ReplyError> {
        self.pens.clear();
        let devices = self.server.xinput_xi_query_device(ALL_DEVICES)?.reply()?;
        for device in devices.infos {
            let name = String::from_utf8_lossy(&device.name);
            let is_of_use = device.enabled && device.type_ == DeviceType::SLAVE_POINTER;
            if !is_of_use {
                continue;
            }
            let mut valuators = Vec::new();
            for class in &device.classes {
                if let DeviceClassData::Valuator(found) = &class.data {
                    let label = self.server.get_atom_name(found.label)?.reply();
                    let label =
                        label.map(|label| String::from_utf8_lossy(&label.name).into_owned());
                    valuators.push(Valuator {
                        number: found.number,
                        label: label.unwrap_or_default(),
                        range: [number(found.min), number(found.max)],
                        value: number(found.value),
                    });
                }
            }
            if let Some(pen) = PenDevice::of(&name, &valuators) {
                self.pens.insert(device.deviceid, pen);
            }
        }
        let mut masks =
            vec![EventMask { deviceid: ALL_DEVICES, mask: vec![XIEventMask::HIERARCHY] }];
        let reports = XIEventMask::MOTION | XIEventMask::BUTTON_PRESS | XIEventMask::BUTTON_RELEASE;
        masks.extend(self.pens.keys().map(|id| EventMask { deviceid: *id, mask: vec![reports] }));
        self.server.xinput_xi_select_events(self.window, &masks)?.check()
    }

    fn run(&mut self, tell: &dyn Fn(PenNews) -> bool) -> Result<(), ReplyError> {
        loop {
            let news = match self.server.wait_for_event()? {
                // Presses and releases are of the same shape.
                Event::XinputMotion(event)
                | Event::XinputButtonPress(event)
                | Event::XinputButtonRelease(event) => self.report(&event),
                Event::XinputHierarchy(event) => {
                    let gone = HierarchyMask::SLAVE_REMOVED | HierarchyMask::DEVICE_DISABLED;
                    let is_gone = |id: u16, flags| {
                        self.pens.contains_key(&id) && u32::from(flags) & u32::from(gone) != 0
                    };
                    let is_gone = event.infos.iter().any(|info| is_gone(info.deviceid, info.flags));
                    self.find_pens()?;
                    is_gone.then_some(PenNews::Gone)
                }
                _ => None,
            };
            if news.is_some_and(|news| !tell(news)) {
                return Ok(());
            }
        }
    }

    fn report(&mut self, event: &xinput::ButtonPressEvent) -> Option<PenNews> {
        let pen = self.pens.get_mut(&event.deviceid)?;
        let values: Vec<f64> = event.axisvalues.iter().copied().map(number).collect();
        let touch = pen.report(&event.valuator_mask, &values);
        Some(PenNews::Report(PenReport {
            position_px: [event.event_x, event.event_y].map(|fixed| f64::from(fixed) / 65_536.0),
            pressure: touch.pressure,
            tilt_rad: touch.tilt_rad,
            eraser: pen.eraser,
            time_secs: f64::from(event.time) / 1000.0,
        }))
    }
}

/// A number of 32 bits before and 32 after the point (`XI2proto`, FP3232).
fn number(fixed: Fp3232) -> f64 {
    f64::from(fixed.integral) + f64::from(fixed.frac) / 4_294_967_296.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fixed_point_numbers_are_read_below_zero_too() {
        assert_eq!(number(Fp3232 { integral: 3, frac: 1 << 31 }), 3.5);
        assert_eq!(number(Fp3232 { integral: -3, frac: 1 << 30 }), -2.75);
    }
}
