//! What surrounds the model: one of our light setups, or a picture of a real place.

use std::path::Path;
use std::sync::Arc;

use viewport::environment::{BuiltIn, Environment, Prefiltered};
use viewport::{KeyLight, Lighting};

use super::Desk;

/// Red, green and blue of a light may differ by this share before it is called tinted: the eye takes no notice of
/// less. Common practice, no source.
const NEUTRAL: f32 = 0.03;

/// A way to light the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) enum LightSetup {
    /// Soft boxes: to work by.
    #[default]
    Studio,
    /// A grey sky: to judge colour.
    Overcast,
    /// Low and from the side: to read roughness and every bump.
    Raking,
    /// A picture that the person brought.
    Picture,
}

impl LightSetup {
    /// Those that come with the program.
    pub(crate) const OURS: [Self; 3] = [Self::Studio, Self::Overcast, Self::Raking];

    /// The environment that comes with the program.
    fn built_in(self) -> Option<BuiltIn> {
        match self {
            Self::Studio => Some(BuiltIn::Studio),
            Self::Overcast => Some(BuiltIn::Overcast),
            Self::Raking => Some(BuiltIn::Raking),
            Self::Picture => None,
        }
    }

    /// The light as it is before anything is turned.
    pub(crate) fn lighting(self) -> Lighting {
        let working = Lighting::WORKING;
        let (key, environment_strength) = match self {
            Self::Studio => return working,
            Self::Overcast => (KeyLight { strength: 0.15, radius_rad: 0.5, ..working.key }, 1.0),
            Self::Raking => {
                let key = KeyLight {
                    azimuth_rad: -1.3,
                    elevation_rad: 0.2,
                    strength: 0.9,
                    radius_rad: 0.03,
                    ..working.key
                };
                (key, 0.35)
            }
            Self::Picture => (KeyLight { strength: 0.0, ..working.key }, 1.0),
        };
        Lighting { key, environment_strength, ..working }
    }
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub(crate) struct Light {
    /// Which setup is chosen.
    pub(crate) setup: LightSetup,
    /// What a setup became that was chosen before; the window hands it to the renderer when it is another one.
    pub(crate) environment: Option<Arc<Prefiltered>>,
    /// The setup that `environment` shows, or that is being made.
    made: Option<LightSetup>,
    /// The picture's file name and what became of it.
    pub(crate) picture: Option<(String, Arc<Prefiltered>)>,
    /// Where a picture lies, as it is typed.
    pub(crate) typed: String,
}

impl Light {
    /// Whether any of the light has a colour: whoever judges colour by it must know.
    pub(crate) fn is_tinted(&self, key: &KeyLight) -> bool {
        let around = self.environment.as_ref().is_some_and(|environment| {
            let [red, green, blue, _] = environment.irradiance.for_uniform()[0];
            differ([red, green, blue])
        });
        around || (key.strength > 0.0 && differ(key.tint))
    }
}

fn differ(colour: [f32; 3]) -> bool {
    let most = colour.into_iter().fold(0.0, f32::max);
    let least = colour.into_iter().fold(f32::INFINITY, f32::min);
    most - least > NEUTRAL * most
}

impl Desk {
    /// Lights the model in one of the ways; exposure and tone stay.
    pub(crate) fn choose_light(&mut self, setup: LightSetup) {
        let view = &mut self.model_view;
        let chosen = setup.lighting();
        view.lighting =
            Lighting { exposure_ev: view.lighting.exposure_ev, tone: view.lighting.tone, ..chosen };
        view.light.setup = setup;
    }

    /// Once a frame: makes the environment that was chosen, where there is something to draw with.
    pub(crate) fn make_environment(&mut self) {
        let light = &mut self.model_view.light;
        let setup = light.setup;
        if self.pictures.model.is_none() || self.stroke.is_some() || light.made == Some(setup) {
            return;
        }
        light.made = Some(setup);
        let Some(which) = setup.built_in() else {
            light.environment = light.picture.as_ref().map(|(_, made)| Arc::clone(made));
            return;
        };
        // A third of a second that the person waits for; idle threads may be long in coming.
        let job = self.editor.start_awaited(move |observer| {
            Ok(Prefiltered::new(&Environment::built_in(which), observer)?)
        });
        self.tasks.add("Making the light", job, move |desk, made| {
            let light = &mut desk.model_view.light;
            if light.made == Some(setup) {
                light.environment = Some(Arc::new(made));
            }
        });
    }

    /// Reads a picture of a place (`.hdr`, `.exr`) and lights the model with it.
    pub(crate) fn light_from(&mut self, path: &Path) {
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        let read = path.to_owned();
        let job = self.editor.start_awaited(move |observer| {
            let image = exchange::read_environment(&read).map_err(editor::EditorError::outside)?;
            observer.check()?;
            let (width, height) = (image.width, image.height);
            let environment = Environment::from_equirect(width, height, &image.texels);
            let environment = environment.unwrap_or_else(|| Environment::built_in(BuiltIn::Studio));
            Ok((Prefiltered::new(&environment, observer)?, image.notes))
        });
        self.tasks.add(format!("Reading {name}"), job, move |desk, (made, notes)| {
            for note in &notes {
                desk.notices.note(format!("{name}: {note}"));
            }
            let light = &mut desk.model_view.light;
            light.picture = Some((name, Arc::new(made)));
            light.made = None;
            desk.choose_light(LightSetup::Picture);
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_light_of_a_colour_is_called_tinted() {
        let light = Light::default();
        let key = Lighting::WORKING.key;
        assert!(!light.is_tinted(&key));
        assert!(!light.is_tinted(&KeyLight { tint: [1.0, 0.98, 0.98], ..key }));
        assert!(light.is_tinted(&KeyLight { tint: [1.0, 0.9, 0.7], ..key }));
        assert!(!light.is_tinted(&KeyLight { tint: [1.0, 0.9, 0.7], strength: 0.0, ..key }));
    }

    #[test]
    fn raking_light_comes_low_and_overcast_light_hardly_casts_a_shadow() {
        let [studio, overcast, raking] = LightSetup::OURS.map(LightSetup::lighting);
        assert!(raking.key.elevation_rad < 0.35 && raking.key.strength > studio.key.strength);
        assert!(overcast.key.strength < 0.3 * studio.key.strength);
        for setup in [studio, overcast, raking] {
            assert_eq!(setup.key.tint, [1.0; 3]);
        }
    }
}
