//! From where the model is looked at: what commands do to the camera.

use std::f64::consts::PI;

use brush::{Camera, Projection};
use surface::PartId;
use viewport::navigation::{self, AxisView};

use super::{Desk, FOV_Y_RAD};
use crate::commands::{ViewCommand, Way};

/// A step of turning and rolling, in radians.
const STEP_RAD: f64 = PI / 12.0;

/// A step closer, as a factor of the distance.
pub(crate) const STEP_CLOSER: f64 = 0.9;

/// As many views are kept.
const MOST_SAVED: usize = 16;

impl Desk {
    /// Changes the camera by a command.
    pub(crate) fn look(&mut self, command: ViewCommand) {
        let camera = self.model_view.camera;
        let pivot = camera.target;
        let turn = |turn, raise| navigation::orbit(&camera, pivot, turn, raise);
        let changed = match command {
            ViewCommand::FrameAll => {
                let view = &self.model_view;
                self.framed(|part| !view.part(part).hidden)
            }
            ViewCommand::FramePart => match self.under_pointer.as_ref().and_then(|at| at.part) {
                Some(wanted) => self.framed(|part| part == wanted),
                None => {
                    return self.notices.note("Hold the pointer over a part, then press the key");
                }
            },
            ViewCommand::Along(view) => navigation::along(&camera, view),
            ViewCommand::ToggleOrthographic => match camera.projection {
                Projection::Perspective { .. } => navigation::orthographic(&camera),
                Projection::Orthographic { .. } => navigation::perspective(&camera, FOV_Y_RAD),
            },
            ViewCommand::Turn(Way::Left) => turn(STEP_RAD, 0.0),
            ViewCommand::Turn(Way::Right) => turn(-STEP_RAD, 0.0),
            ViewCommand::Turn(Way::Up) => turn(0.0, STEP_RAD),
            ViewCommand::Turn(Way::Down) => turn(0.0, -STEP_RAD),
            ViewCommand::RollLeft => navigation::roll(&camera, -STEP_RAD),
            ViewCommand::RollRight => navigation::roll(&camera, STEP_RAD),
            ViewCommand::Upright => upright(&camera),
            ViewCommand::Closer => navigation::dolly(&camera, pivot, STEP_CLOSER),
            ViewCommand::Farther => navigation::dolly(&camera, pivot, 1.0 / STEP_CLOSER),
            _ => camera,
        };
        self.model_view.camera = changed;
    }

    /// The view with all of some parts in it.
    pub(crate) fn framed(&self, wanted: impl Fn(PartId) -> bool) -> Camera {
        let camera = &self.model_view.camera;
        let bounds = self.bounds_of(wanted);
        bounds.map_or(*camera, |(low, high)| navigation::framed(camera, low, high))
    }

    /// Keeps the view.
    pub(crate) fn save_view(&mut self) {
        let view = &mut self.model_view;
        if view.saved.len() == MOST_SAVED {
            let text = format!("{MOST_SAVED} views are kept already: remove one first");
            return self.notices.note(text);
        }
        view.saved.push(view.camera);
    }

    /// Goes to a view that was kept.
    pub(crate) fn go_to_view(&mut self, index: usize) {
        let viewport_px = self.model_view.camera.viewport_px;
        if let Some(saved) = self.model_view.saved.get(index) {
            self.model_view.camera = Camera { viewport_px, ..*saved };
        }
    }

    /// Goes to the view after the one that is seen, of those that were kept.
    pub(crate) fn go_to_next_view(&mut self) {
        let view = &self.model_view;
        let seen =
            |saved: &Camera| (saved.eye, saved.target) == (view.camera.eye, view.camera.target);
        match (view.saved.iter().position(seen), view.saved.len()) {
            (_, 0) => self.notices.note("No view is kept yet: save one first"),
            (None, _) => self.go_to_view(0),
            (Some(index), count) => self.go_to_view((index + 1) % count),
        }
    }
}

/// Without roll; straight up or down, the front is below.
fn upright(camera: &Camera) -> Camera {
    let forward = (camera.target - camera.eye).normalize_or_zero();
    let up = if forward.y.abs() > 1.0 - 1e-9 {
        let view = if forward.y < 0.0 { AxisView::Top } else { AxisView::Bottom };
        navigation::along(camera, view).up
    } else {
        glam::DVec3::Y
    };
    Camera { up, ..*camera }
}
