//! Brushes by name, to be taken in hand. Those that come with the program are a part of it; those that a person keeps
//! are in the preferences, each with its images. One brush alone is a text file, to be handed on.

mod shared;

use std::collections::BTreeMap;
use std::sync::LazyLock;

use brush::{BrushSettings, GreyImage};
use document::wire::{WireBrush, image_of_png, image_of_text, text_of_image};
use serde::{Deserialize, Serialize};

pub(crate) use shared::{ENDING, file_name, is_shared, read_file, text_of};
pub use shared::{bring_in_brush, shared_brush};

/// A brush with a name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "WrittenBrush")]
pub(crate) struct NamedBrush {
    pub(crate) name: String,
    /// What it leaves behind.
    pub(crate) about: String,
    /// Everything but size and values. The grain of its tooth is in shares of the radius.
    settings: WireBrush,
    /// Its images by name, as PNG in base64; none for a brush of ours.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    images: BTreeMap<String, String>,
}

/// The same as it is written, its images not read yet.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenBrush {
    name: String,
    #[serde(default)]
    about: String,
    settings: WireBrush,
    #[serde(default)]
    images: BTreeMap<String, String>,
}

impl WrittenBrush {
    /// The brush with its images; those that it does not hold itself are found by name.
    fn named(self, beside: impl Fn(&str) -> Option<GreyImage>) -> Result<NamedBrush, String> {
        let Self { name, about, mut settings, images } = self;
        for image in settings.images_mut() {
            let key = image.name().to_owned();
            let found = match images.get(&key) {
                Some(text) => Some(
                    image_of_text(text)
                        .map_err(|fault| format!("{name}: image \"{key}\": {fault}"))?,
                ),
                None => beside(&key),
            };
            let Some(found) = found else {
                return Err(format!("{name}: its image \"{key}\" is not there"));
            };
            image.hold(key, found);
        }
        Ok(NamedBrush { name, about, settings, images })
    }
}

impl TryFrom<WrittenBrush> for NamedBrush {
    type Error = String;

    fn try_from(written: WrittenBrush) -> Result<Self, String> {
        written.named(|_| None)
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Brushes {
    brush: Vec<WrittenBrush>,
}

impl NamedBrush {
    /// A brush of this radius, to be kept.
    pub(crate) fn of(name: String, mut settings: BrushSettings, radius: f64) -> Self {
        scale_tooth(&mut settings, 1.0 / radius);
        let settings = WireBrush::of(&settings);
        Self { name, about: String::new(), settings, images: BTreeMap::new() }.with_own_images()
    }

    /// The same under another name, as one's own.
    pub(crate) fn copied(&self, name: String) -> Self {
        Self { name, ..self.clone() }.with_own_images()
    }

    /// It holds its images itself.
    fn with_own_images(mut self) -> Self {
        let held = |image: &document::wire::WireImage| {
            Some((image.name().to_owned(), text_of_image(image.held()?)))
        };
        self.images = self.settings.images().filter_map(held).collect();
        self
    }

    /// What is wrong with it, in one line.
    pub(crate) fn fault(&self) -> Option<String> {
        let checked = |settings: BrushSettings| settings.check().map_err(|error| error.to_string());
        let error = self.settings.settings().and_then(checked).err()?;
        Some(format!("{}: {error}", self.name))
    }

    /// Its settings for a radius; the grain of its tooth then is in the radius's units. A brush whose image is not
    /// there, which none is that was read, is a plain one.
    pub(crate) fn settings_at(&self, radius: f64) -> BrushSettings {
        let mut settings = self.settings.settings().unwrap_or_default();
        scale_tooth(&mut settings, radius);
        settings
    }

    /// True where its name or what it leaves has all of these words.
    pub(crate) fn is_found(&self, words: &str) -> bool {
        let text = format!("{} {}", self.name, self.about).to_lowercase();
        words.to_lowercase().split_whitespace().all(|word| text.contains(word))
    }
}

/// Makes the grain of a tooth that stays on the surface larger by a factor.
pub(crate) fn scale_tooth(settings: &mut BrushSettings, factor: f64) {
    if let Some(tooth) = settings.tooth.as_mut().filter(|tooth| !tooth.is_stamped()) {
        tooth.scale = (f64::from(tooth.scale) * factor).clamp(1e-6, 1e6) as f32;
    }
}

/// A name that none of these has: the one given, or that with a number behind it.
pub(crate) fn free_name<'a>(
    name: &str,
    taken: &(impl Iterator<Item = &'a NamedBrush> + Clone),
) -> String {
    let is_free = |name: &str| taken.clone().all(|brush| brush.name != name);
    let numbered = (2_u32..).map(|number| format!("{name} {number}"));
    let mut names = std::iter::once(name.to_owned()).chain(numbered);
    names.find(|name| is_free(name)).unwrap_or_default()
}

/// The brushes of a file; their images are found by name.
///
/// # Errors
/// One line that says what is wrong with which brush.
fn read(text: &str, beside: impl Fn(&str) -> Option<GreyImage>) -> Result<Vec<NamedBrush>, String> {
    let brushes: Brushes = toml::from_str(text).map_err(|error| error.to_string())?;
    let named = brushes.brush.into_iter().map(|brush| brush.named(&beside));
    let named: Vec<NamedBrush> = named.collect::<Result<_, _>>()?;
    let fault = named.iter().find_map(NamedBrush::fault);
    fault.map_or(Ok(named), Err)
}

const OURS: &str = include_str!("../../../assets-demo/brushes/ours.toml");

/// Images of the brushes that come with the program, made by `cargo xtask brush-images`.
const IMAGES: [(&str, &[u8]); 8] = [
    ("bead.png", include_bytes!("../../../assets-demo/brushes/bead.png")),
    ("bristles.png", include_bytes!("../../../assets-demo/brushes/bristles.png")),
    ("chips.png", include_bytes!("../../../assets-demo/brushes/chips.png")),
    ("crust.png", include_bytes!("../../../assets-demo/brushes/crust.png")),
    ("deck.png", include_bytes!("../../../assets-demo/brushes/deck.png")),
    ("sailcloth.png", include_bytes!("../../../assets-demo/brushes/sailcloth.png")),
    ("sponge.png", include_bytes!("../../../assets-demo/brushes/sponge.png")),
    ("stitch.png", include_bytes!("../../../assets-demo/brushes/stitch.png")),
];

fn image_of_ours(name: &str) -> Option<GreyImage> {
    let (_, png) = IMAGES.iter().find(|(known, _)| *known == name)?;
    image_of_png(png).ok()
}

/// The brushes that come with the program.
pub(crate) fn ours() -> &'static [NamedBrush] {
    static BRUSHES: LazyLock<Vec<NamedBrush>> = LazyLock::new(|| {
        // A test reads the file too, so that a program never comes without.
        read(OURS, image_of_ours).unwrap_or_default()
    });
    &BRUSHES
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn ours_are_many_and_each_is_another_one() {
        let all = read(OURS, image_of_ours).unwrap();
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
    fn a_copy_holds_its_images_itself_and_a_free_name_is_nobodys() {
        let with_image = ours().iter().find(|brush| brush.settings.images().count() > 0).unwrap();
        let copy = with_image.copied("mine".to_owned());
        let text = toml::to_string(&copy).unwrap();
        assert_eq!(toml::from_str::<NamedBrush>(&text).unwrap(), copy);
        assert_eq!(copy.settings_at(1.0), with_image.settings_at(1.0));
        assert_eq!(free_name("Soft coat", &ours().iter()), "Soft coat 2");
        assert_eq!(free_name("Nobody's", &ours().iter()), "Nobody's");
    }

    #[test]
    fn a_brush_that_can_not_be_is_told_by_its_name() {
        let text = "[[brush]]\nname = \"a\"\nabout = \"b\"\n[brush.settings]\nspacing = 0.0\n";
        assert_eq!(read(text, |_| None).unwrap_err(), "a: spacing is 0: give 0.01 to 4 diameters");
        let text_with_image = text.replace("spacing = 0.0", "tip = { image = \"a.png\" }");
        assert_eq!(
            read(&text_with_image, |_| None).unwrap_err(),
            "a: its image \"a.png\" is not there"
        );
        assert!(read(&text.replace("spacing", "speeed"), |_| None).unwrap_err().contains("speeed"));
    }
}
