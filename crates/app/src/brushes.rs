//! Brushes by name, to be taken in hand. Those that come with the program are a part of it; those that a person keeps
//! are in the preferences.

use std::sync::LazyLock;

use brush::BrushSettings;
use document::wire::WireBrush;
use serde::{Deserialize, Serialize};

/// A brush with a name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NamedBrush {
    pub(crate) name: String,
    /// What it leaves behind.
    #[serde(default)]
    pub(crate) about: String,
    /// Everything but size and values. The grain of its tooth is in shares of the radius.
    settings: WireBrush,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Brushes {
    brush: Vec<NamedBrush>,
}

impl NamedBrush {
    /// A brush of this radius, to be kept.
    pub(crate) fn of(name: String, mut settings: BrushSettings, radius: f64) -> Self {
        if let Some(tooth) = &mut settings.tooth {
            tooth.scale = (f64::from(tooth.scale) / radius).clamp(1e-6, 1e6) as f32;
        }
        Self { name, about: String::new(), settings: WireBrush::of(&settings) }
    }

    /// What is wrong with it, in one line.
    pub(crate) fn fault(&self) -> Option<String> {
        let error = self.settings.settings().check().err()?;
        Some(format!("{}: {error}", self.name))
    }

    /// Its settings for a radius; the grain of its tooth then is in the radius's units.
    pub(crate) fn settings_at(&self, radius: f64) -> BrushSettings {
        let mut settings = self.settings.settings();
        if let Some(tooth) = &mut settings.tooth {
            tooth.scale = (f64::from(tooth.scale) * radius).clamp(1e-6, 1e6) as f32;
        }
        settings
    }

    /// True where its name or what it leaves has all of these words.
    pub(crate) fn is_found(&self, words: &str) -> bool {
        let text = format!("{} {}", self.name, self.about).to_lowercase();
        words.to_lowercase().split_whitespace().all(|word| text.contains(word))
    }
}

/// The brushes of a file.
///
/// # Errors
/// One line that says what is wrong with which brush.
fn read(text: &str) -> Result<Vec<NamedBrush>, String> {
    let brushes: Brushes = toml::from_str(text).map_err(|error| error.to_string())?;
    let fault = brushes.brush.iter().find_map(NamedBrush::fault);
    fault.map_or(Ok(brushes.brush), Err)
}

/// The brushes that come with the program.
pub(crate) fn ours() -> &'static [NamedBrush] {
    static OURS: LazyLock<Vec<NamedBrush>> = LazyLock::new(|| {
        // A test reads the file too, so that a program never comes without.
        read(include_str!("../../../assets-demo/brushes/ours.toml")).unwrap_or_default()
    });
    &OURS
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn ours_are_many_and_each_is_another_one() {
        let all = read(include_str!("../../../assets-demo/brushes/ours.toml")).unwrap();
        assert!(all.len() >= 24 && all.len() == ours().len());
        let names: BTreeSet<_> = all.iter().map(|brush| &brush.name).collect();
        assert_eq!(names.len(), all.len());
        for (index, brush) in all.iter().enumerate() {
            assert!(all[..index].iter().all(|other| other.settings != brush.settings));
            assert!(!brush.about.is_empty());
        }
    }

    #[test]
    fn a_grain_follows_the_radius() {
        let rain = ours().iter().find(|brush| brush.name == "Rain spots").unwrap();
        let scale = |radius| rain.settings_at(radius).tooth.unwrap().scale;
        assert!((scale(2.0) - 0.9).abs() < 1e-6 && (scale(0.02) - 0.009).abs() < 1e-8);
        assert!(rain.is_found("DRO ") && rain.is_found("spot many") && !rain.is_found("spot oak"));
    }

    #[test]
    fn a_brush_that_can_not_be_is_told_by_its_name() {
        let text = "[[brush]]\nname = \"a\"\nabout = \"b\"\n[brush.settings]\nspacing = 0.0\n";
        assert_eq!(read(text).unwrap_err(), "a: spacing is 0: give 0.01 to 4 diameters");
        assert!(read(&text.replace("spacing", "speed")).unwrap_err().contains("speed"));
    }
}
