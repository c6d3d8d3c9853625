//! Images of brushes in a list: each stands once in it, under a name.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use brush::GreyImage;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::png::{image_of_png, png_of};

/// A brush's image, written as its name. Beside the name it holds the image, as far as that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WireImage {
    name: String,
    held: Option<GreyImage>,
}

impl WireImage {
    /// An image under the name that its content gives it.
    pub fn of(image: &GreyImage) -> Self {
        let mut name = image.name().to_string();
        name.truncate(32);
        Self { name, held: Some(image.clone()) }
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The image, once it is there.
    pub fn held(&self) -> Option<&GreyImage> {
        self.held.as_ref()
    }

    /// Holds an image under a name.
    pub fn hold(&mut self, name: impl Into<String>, image: GreyImage) {
        *self = Self { name: name.into(), held: Some(image) };
    }

    /// The image.
    ///
    /// # Errors
    /// A message where it was not found.
    pub(crate) fn image(&self) -> Result<GreyImage, String> {
        let missing = || format!("the brush's image \"{}\" is not there", self.name);
        self.held.clone().ok_or_else(missing)
    }
}

impl Serialize for WireImage {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.name)
    }
}

impl<'de> Deserialize<'de> for WireImage {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(Self { name: String::deserialize(deserializer)?, held: None })
    }
}

/// Where an image of a list is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum WireImageSource {
    /// Here: a PNG in base64 (RFC 4648).
    Png(String),
    /// In a file beside the list.
    File(String),
}

impl WireImageSource {
    pub(super) fn of(image: &GreyImage) -> Self {
        Self::Png(text_of_image(image))
    }
}

/// An image as a text: its PNG in base64 (RFC 4648).
pub fn text_of_image(image: &GreyImage) -> String {
    STANDARD.encode(png_of(image))
}

/// The image in a text that holds its PNG.
///
/// # Errors
/// One line that says why it can't be read, or can't be a brush's.
pub fn image_of_text(base64: &str) -> Result<GreyImage, String> {
    let bytes = STANDARD.decode(base64.trim());
    let bytes = bytes.map_err(|error| format!("the PNG's base64 can't be read: {error}"))?;
    image_of_png(&bytes)
}
