//! How the document is looked at, as the file keeps it: JSON. What a later version adds is passed over; what can't be
//! is left as it is.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use brush::{Camera, FlatCamera, Projection};
use document::MaterialId;
use egui::Context;
use glam::{DVec2, DVec3};
use layers::{ChannelId, LayerId};
use serde::{Deserialize, Serialize};
use store::Changes;
use viewport::Shown;

use crate::chosen::{Aim, Chosen};
use crate::desk::{Desk, LightSetup, PartState};

/// How long a view must have stayed before it is kept: not each step of a turn is written.
const STILL: Duration = Duration::from_secs(1);

/// See the module.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct ViewState {
    /// What work without a name is called.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) title: Option<String>,
    camera: Option<SeenFrom>,
    saved: Vec<SeenFrom>,
    shown: SeenAs,
    wire: bool,
    mirrored: bool,
    hidden: Vec<u32>,
    locked: Vec<u32>,
    light: Lit,
    flat: Flat,
    chosen: ChosenThing,
}

/// A camera without its viewport, which is the window's.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct SeenFrom {
    eye: [f64; 3],
    target: [f64; 3],
    up: [f64; 3],
    /// One of the two: radians, or model units from bottom to top.
    #[serde(skip_serializing_if = "Option::is_none")]
    fov_y_rad: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    height: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum SeenAs {
    #[default]
    Lit,
    Colour,
    Roughness,
    Metalness,
    Checker,
    Islands,
    Mask,
}

/// Pairs with what the renderer shows.
const SHOWN: [(SeenAs, Shown); 7] = [
    (SeenAs::Lit, Shown::Lit),
    (SeenAs::Colour, Shown::Colour),
    (SeenAs::Roughness, Shown::Roughness),
    (SeenAs::Metalness, Shown::Metalness),
    (SeenAs::Checker, Shown::Checker),
    (SeenAs::Islands, Shown::Islands),
    (SeenAs::Mask, Shown::Mask),
];

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Setup {
    #[default]
    Studio,
    Overcast,
    Raking,
}

#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
struct Lit {
    setup: Setup,
    /// As the setup has them where nothing is said.
    turned: Option<Turned>,
    exposure_ev: f32,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Turned {
    azimuth_rad: f32,
    elevation_rad: f32,
    strength: f32,
    environment_strength: f32,
    environment_turn_rad: f32,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
struct Flat {
    /// None while all of it is shown.
    camera: Option<([f64; 2], f64)>,
    outlines: bool,
    follows: bool,
}

impl Default for Flat {
    fn default() -> Self {
        Self { camera: None, outlines: true, follows: false }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
struct ChosenThing {
    material: u32,
    layer: Option<u32>,
    /// None for all, and where a mask is painted.
    channels: Option<BTreeSet<u16>>,
}

impl ViewState {
    /// Reads it; none where it can't be read.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        serde_json::from_str(text).ok()
    }

    /// As the file has it.
    pub(crate) fn to_text(&self) -> Option<String> {
        serde_json::to_string(self).ok()
    }
}

impl SeenFrom {
    fn of(camera: &Camera) -> Self {
        let (fov_y_rad, height) = match camera.projection {
            Projection::Perspective { fov_y_rad } => (Some(fov_y_rad), None),
            Projection::Orthographic { height } => (None, Some(height)),
        };
        let [eye, target, up] = [camera.eye, camera.target, camera.up].map(|at| at.to_array());
        Self { eye, target, up, fov_y_rad, height }
    }

    /// None where nothing can be seen with it.
    fn camera(&self, viewport_px: DVec2) -> Option<Camera> {
        /// A quarter of a turn and more: no lens shows so much.
        const WIDEST: f64 = 3.0;
        let [eye, target, up] = [self.eye, self.target, self.up].map(DVec3::from_array);
        let projection = match (self.fov_y_rad, self.height) {
            (Some(angle), None) if angle > 1e-3 && angle < WIDEST => {
                Projection::Perspective { fov_y_rad: angle }
            }
            (None, Some(height)) if height > 0.0 && height.is_finite() => {
                Projection::Orthographic { height }
            }
            _ => return None,
        };
        let is_finite = eye.is_finite() && target.is_finite() && up.is_finite();
        let sees = (target - eye).cross(up).length_squared() > 0.0;
        (is_finite && sees).then_some(Camera { eye, target, up, projection, viewport_px })
    }
}

impl Desk {
    /// How the document is looked at now.
    pub(super) fn view_state(&self, is_untitled: bool) -> ViewState {
        let view = &self.model_view;
        let numbers = |which: fn(&PartState) -> bool| {
            let parts = (0u32..).zip(&view.parts).filter(move |(_, state)| which(state));
            parts.map(|(part, _)| part).collect()
        };
        let shown = SHOWN.iter().find(|(_, shown)| *shown == view.shown);
        ViewState {
            title: is_untitled.then(|| self.title.clone()),
            camera: Some(SeenFrom::of(&view.camera)),
            saved: view.saved.iter().map(SeenFrom::of).collect(),
            shown: shown.map_or(SeenAs::Lit, |(seen, _)| *seen),
            wire: view.wire,
            mirrored: view.mirrored,
            hidden: numbers(|state| state.hidden),
            locked: numbers(|state| state.locked),
            light: self.lit(),
            flat: Flat {
                camera: (!self.flat_view.is_framed).then(|| {
                    let FlatCamera { top_left, uv_per_px } = self.flat_view.camera;
                    (top_left.to_array(), uv_per_px)
                }),
                outlines: self.flat_view.outlines,
                follows: self.flat_view.follows,
            },
            chosen: self.chosen_thing(),
        }
    }

    fn lit(&self) -> Lit {
        let lighting = &self.model_view.lighting;
        let setup = match self.model_view.light.setup {
            // A picture is no part of the project.
            LightSetup::Studio | LightSetup::Picture => Setup::Studio,
            LightSetup::Overcast => Setup::Overcast,
            LightSetup::Raking => Setup::Raking,
        };
        let is_ours = self.model_view.light.setup != LightSetup::Picture;
        let turned = is_ours.then_some(Turned {
            azimuth_rad: lighting.key.azimuth_rad,
            elevation_rad: lighting.key.elevation_rad,
            strength: lighting.key.strength,
            environment_strength: lighting.environment_strength,
            environment_turn_rad: lighting.environment_turn_rad,
        });
        Lit { setup, turned, exposure_ev: lighting.exposure_ev }
    }

    fn chosen_thing(&self) -> ChosenThing {
        let Chosen { material, layer, aim, .. } = &self.chosen;
        let channels = match aim {
            Aim::Cells(channels) if *aim != Chosen::all_cells(self.document()) => {
                Some(channels.iter().map(|channel| channel.0).collect())
            }
            _ => None,
        };
        ChosenThing { material: material.0, layer: layer.map(|layer| layer.0), channels }
    }

    /// Looks at the document as it was looked at when it was left.
    pub(crate) fn look_as_before(&mut self, state: &ViewState) {
        let view = &mut self.model_view;
        let viewport_px = view.camera.viewport_px;
        let seen = |from: &SeenFrom| from.camera(viewport_px);
        if let Some(camera) = state.camera.as_ref().and_then(seen) {
            view.camera = camera;
        }
        view.saved = state.saved.iter().filter_map(seen).collect();
        let shown = SHOWN.iter().find(|(seen, _)| *seen == state.shown);
        view.shown = shown.map_or(Shown::Lit, |(_, shown)| *shown);
        (view.wire, view.mirrored) = (state.wire, state.mirrored);
        for (part, place) in (0u32..).zip(&mut view.parts) {
            place.hidden = state.hidden.contains(&part);
            place.locked = state.locked.contains(&part);
        }
        self.light_as_before(&state.light);
        let flat = &mut self.flat_view;
        (flat.outlines, flat.follows) = (state.flat.outlines, state.flat.follows);
        if let Some((top_left, uv_per_px)) = state.flat.camera {
            let top_left = DVec2::from_array(top_left);
            if top_left.is_finite() && uv_per_px > 1e-9 && uv_per_px < 1e3 {
                flat.camera = FlatCamera { top_left, uv_per_px };
                flat.is_framed = false;
            }
        }
        self.choose_as_before(&state.chosen);
    }

    fn light_as_before(&mut self, lit: &Lit) {
        self.choose_light(match lit.setup {
            Setup::Studio => LightSetup::Studio,
            Setup::Overcast => LightSetup::Overcast,
            Setup::Raking => LightSetup::Raking,
        });
        let lighting = &mut self.model_view.lighting;
        let is_sound = |value: f32, most: f32| value.is_finite() && value.abs() <= most;
        if is_sound(lit.exposure_ev, 16.0) {
            lighting.exposure_ev = lit.exposure_ev;
        }
        let Some(turned) = lit.turned else { return };
        let Turned { azimuth_rad, elevation_rad, strength, .. } = turned;
        let (around, turn) = (turned.environment_strength, turned.environment_turn_rad);
        let angles = [azimuth_rad, elevation_rad, turn].map(|angle| is_sound(angle, 100.0));
        let strengths = [strength, around].map(|value| value >= 0.0 && is_sound(value, 100.0));
        if angles.iter().chain(&strengths).all(|sound| *sound) {
            (lighting.key.azimuth_rad, lighting.key.elevation_rad) = (azimuth_rad, elevation_rad);
            lighting.key.strength = strength;
            (lighting.environment_strength, lighting.environment_turn_rad) = (around, turn);
        }
    }

    fn choose_as_before(&mut self, thing: &ChosenThing) {
        if thing.material as usize >= self.document().materials.len() {
            return;
        }
        let mut chosen = Chosen::of(self.document(), MaterialId(thing.material));
        if thing.layer.is_some() {
            chosen.layer = thing.layer.map(LayerId);
        }
        let known: BTreeSet<ChannelId> =
            self.document().channels.iter().map(|channel| channel.id).collect();
        let channels = thing.channels.iter().flatten().map(|channel| ChannelId(*channel));
        let channels: BTreeSet<ChannelId> = channels.filter(|id| known.contains(id)).collect();
        if !channels.is_empty() {
            chosen.aim = Aim::Cells(channels);
        }
        self.chosen = chosen;
        self.chosen.settle(self.editor.document());
    }

    /// Once a frame: hands over how the document is looked at, once that was left alone for a moment.
    pub(super) fn hand_over_the_view(&mut self, context: &Context) {
        let Some(is_untitled) = self.on_disk.as_ref().map(|on_disk| on_disk.is_untitled) else {
            return;
        };
        // What was kept is to be shown first.
        if self.files.view.is_some() {
            return;
        }
        let now = self.view_state(is_untitled);
        let Some(on_disk) = &mut self.on_disk else { return };
        if on_disk.seen_view.0 != now {
            on_disk.seen_view = (now, Instant::now());
        }
        if on_disk.seen_view.0 == on_disk.view {
            return;
        }
        let left = STILL.saturating_sub(on_disk.seen_view.1.elapsed());
        if self.files.leaving.is_none() && !left.is_zero() {
            return context.request_repaint_after(left);
        }
        on_disk.view = on_disk.seen_view.0.clone();
        let view_state = on_disk.view.to_text();
        on_disk.keeper.keep(Changes { view_state, ..Changes::default() });
    }

    /// True once the file says how the document is looked at.
    pub(super) fn is_view_on_disk(&self) -> bool {
        let now = |on_disk: &super::OnDisk| self.view_state(on_disk.is_untitled);
        self.files.view.is_some()
            || self.on_disk.as_ref().is_none_or(|on_disk| on_disk.view == now(on_disk))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_later_versions_add_is_passed_over_and_what_is_broken_is_none() {
        let text = "{\"wire\": true, \"smell\": 3, \"camera\": null}";
        assert!(ViewState::parse(text).is_some_and(|view| view.wire && view.flat.outlines));
        for broken in ["", "{", "{\"wire\": 3}", "[3]", "{\"camera\": {\"eye\": [1, 2]}}"] {
            assert_eq!(ViewState::parse(broken), None, "{broken}");
        }
    }

    #[test]
    fn a_camera_that_sees_nothing_is_none() {
        let camera = SeenFrom {
            eye: [0.0, 0.0, 2.0],
            target: [0.0; 3],
            up: [0.0, 1.0, 0.0],
            fov_y_rad: Some(0.6),
            height: None,
        };
        let seen = |from: SeenFrom| from.camera(DVec2::ONE).is_some();
        assert!(seen(camera));
        for blind in [
            SeenFrom { eye: [0.0; 3], ..camera },
            SeenFrom { up: [0.0, 0.0, 1.0], ..camera },
            SeenFrom { fov_y_rad: None, ..camera },
            SeenFrom { height: Some(1.0), ..camera },
            SeenFrom { fov_y_rad: Some(f64::NAN), ..camera },
            SeenFrom { target: [f64::INFINITY, 0.0, 0.0], ..camera },
        ] {
            assert!(!seen(blind), "{blind:?}");
        }
    }
}
