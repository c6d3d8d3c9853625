//! Pictures to work from, beside the model. They belong to the window, not to the document.

use std::path::{Path, PathBuf};

use egui::{Color32, ColorImage, TextureHandle, Vec2};
use exchange::{ExchangeError, ImageUse, read_image};
use raster::{Bitmap, Extent, decode_stored, encode_stored};

use crate::desk::Desk;
use crate::panes::Pane;

/// Longest edge of what is shown, in texels: zoomed in, a picture is picked from by its own texels all the same.
const LONGEST_SHOWN: u32 = 4096;

/// How much of a picture a pick takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Sample {
    /// One texel, exactly.
    #[default]
    Texel,
    /// The average of a small disc, in linear light.
    Disc,
}

impl Sample {
    /// Radius in texels.
    const fn radius(self) -> i64 {
        match self {
            Self::Texel => 0,
            Self::Disc => 4,
        }
    }
}

/// How a picture lies in its panel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Placing {
    /// As large as it fits.
    Fit,
    /// So many points a texel, this place (0..1 of the picture) in the middle.
    At { points_per_texel: f32, centre: Vec2 },
}

/// A picture.
pub(crate) struct Reference {
    /// What it is called: its file's name.
    pub(crate) name: String,
    bitmap: Bitmap<u16>,
    /// What is uploaded, until it is.
    image: Option<ColorImage>,
    /// What was uploaded.
    pub(crate) texture: Option<TextureHandle>,
    /// How it lies.
    pub(crate) placing: Placing,
}

impl std::fmt::Debug for Reference {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Reference").field("name", &self.name).finish_non_exhaustive()
    }
}

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct References {
    /// All that are open.
    pub(crate) all: Vec<Reference>,
    /// The one that is shown.
    pub(crate) chosen: usize,
    /// What a pick takes.
    pub(crate) sample: Sample,
    /// The path that is being typed.
    pub(crate) path: String,
}

impl References {
    /// The one that is shown.
    pub(crate) fn shown(&mut self) -> Option<&mut Reference> {
        self.all.get_mut(self.chosen)
    }

    /// Takes one away.
    pub(crate) fn remove(&mut self, index: usize) {
        if index < self.all.len() {
            self.all.remove(index);
            self.chosen = self.chosen.min(self.all.len().saturating_sub(1));
        }
    }
}

/// Endings of the files that are read.
pub(crate) const PICTURES: &[&str] = &["png", "jpg", "jpeg", "tif", "tiff", "exr"];

impl Desk {
    /// Reads a picture beside the painting, and shows it. What can't be read is told in one line.
    pub(crate) fn add_reference(&mut self, path: PathBuf) {
        let name = path
            .file_name()
            .map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
        let label = format!("Reading {name}");
        let job = self.editor.start_awaited(move |_| Ok(Reference::read(&path)));
        self.tasks.add(label, job, |desk, read| match read {
            Ok((reference, notes)) => {
                for note in notes {
                    desk.notices.note(note);
                }
                desk.references.all.push(reference);
                desk.references.chosen = desk.references.all.len() - 1;
                desk.panel_wishes.push((Pane::References, true));
            }
            Err(error) => desk.notices.error(error),
        });
    }
}

impl Reference {
    /// Reads a file.
    ///
    /// # Errors
    /// As [`read_image`].
    fn read(path: &Path) -> Result<(Self, Vec<String>), ExchangeError> {
        let read = read_image(path, ImageUse::Colour)?;
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        Ok((Self::new(name, read.bitmap), read.notes))
    }

    /// A picture of 1 to 4 components.
    pub(crate) fn new(name: String, bitmap: Bitmap<u16>) -> Self {
        let image = Some(reduced(&bitmap, LONGEST_SHOWN));
        Self { name, bitmap, image, texture: None, placing: Placing::Fit }
    }

    /// Its width and height in texels.
    pub(crate) fn extent(&self) -> Extent {
        self.bitmap.extent()
    }

    /// What is to be uploaded; gives it once. Made smaller where the window can't take an edge that long.
    pub(crate) fn take_image(&mut self, longest: usize) -> Option<ColorImage> {
        let image = self.image.take()?;
        if image.width().max(image.height()) <= longest {
            return Some(image);
        }
        Some(reduced(&self.bitmap, longest as u32))
    }

    /// The colour at a place, 0..1 from the top left; none outside, or where the picture is empty there.
    pub(crate) fn colour_at(&self, place: Vec2, sample: Sample) -> Option<[u16; 3]> {
        let Extent { width, height } = self.bitmap.extent();
        let (x, y) = (place.x * width as f32, place.y * height as f32);
        if !(x >= 0.0 && y >= 0.0 && x < width as f32 && y < height as f32) {
            return None;
        }
        let (x, y) = (x as i64, y as i64);
        let radius = sample.radius();
        if radius == 0 {
            let (colour, covered) = self.texel(x as u32, y as u32);
            return (covered > 0).then_some(colour);
        }
        let mut sum = Sum::default();
        for (dx, dy) in (-radius..=radius).flat_map(|dy| (-radius..=radius).map(move |dx| (dx, dy)))
        {
            let inside = (0..i64::from(width)).contains(&(x + dx))
                && (0..i64::from(height)).contains(&(y + dy));
            if inside && dx * dx + dy * dy <= radius * radius {
                let (colour, covered) = self.texel((x + dx) as u32, (y + dy) as u32);
                sum.add(colour, covered);
            }
        }
        sum.average().map(|(colour, _)| colour)
    }

    fn texel(&self, x: u32, y: u32) -> ([u16; 3], u16) {
        texel(&self.bitmap, x, y)
    }
}

/// A texel's colour and how much of it is covered.
fn texel(bitmap: &Bitmap<u16>, x: u32, y: u32) -> ([u16; 3], u16) {
    match *bitmap.texel(x, y) {
        [grey] => ([grey; 3], u16::MAX),
        [grey, covered] => ([grey; 3], covered),
        [r, g, b] => ([r, g, b], u16::MAX),
        [r, g, b, covered, ..] => ([r, g, b], covered),
        [] => ([0; 3], 0),
    }
}

/// Texels added up in linear light, each by how much it is covered.
#[derive(Default)]
struct Sum {
    linear: [f64; 3],
    covered: f64,
    texels: f64,
}

impl Sum {
    fn add(&mut self, colour: [u16; 3], covered: u16) {
        let weight = f64::from(covered) / 65_535.0;
        for (sum, component) in self.linear.iter_mut().zip(colour) {
            *sum += f64::from(decode_stored(component)) * weight;
        }
        self.covered += weight;
        self.texels += 1.0;
    }

    /// The average, and how much of it is covered, 0..1; none where nothing is.
    fn average(&self) -> Option<([u16; 3], f64)> {
        if self.covered <= 0.0 {
            return None;
        }
        let mean = |sum: f64| encode_stored((sum / self.covered) as f32);
        Some((self.linear.map(mean), self.covered / self.texels))
    }
}

/// The picture for the screen, no edge longer than this: averages of whole squares of texels.
fn reduced(bitmap: &Bitmap<u16>, longest: u32) -> ColorImage {
    let Extent { width, height } = bitmap.extent();
    let square = width.max(height).div_ceil(longest.max(1)).max(1);
    let size = [width.div_ceil(square), height.div_ceil(square)];
    let mut pixels = Vec::with_capacity(size[0] as usize * size[1] as usize);
    for row in 0..size[1] {
        for column in 0..size[0] {
            let (left, top) = (column * square, row * square);
            let mut sum = Sum::default();
            for y in top..(top + square).min(height) {
                for x in left..(left + square).min(width) {
                    let (colour, covered) = texel(bitmap, x, y);
                    sum.add(colour, covered);
                }
            }
            pixels.push(sum.average().map_or(Color32::TRANSPARENT, |(colour, covered)| {
                let [r, g, b] = colour.map(|component| ((u32::from(component) + 128) / 257) as u8);
                Color32::from_rgba_unmultiplied(r, g, b, (covered * 255.0).round() as u8)
            }));
        }
    }
    ColorImage::new(size.map(|edge| edge as usize), pixels)
}

#[cfg(test)]
mod tests {
    use egui::vec2;

    use super::*;

    fn picture(width: u32, height: u32, components: usize, values: Vec<u16>) -> Reference {
        let bitmap = Bitmap::new(Extent { width, height }, components, values).unwrap();
        Reference::new("bell.png".to_owned(), bitmap)
    }

    #[test]
    fn one_texel_is_picked_with_all_its_16_bits() {
        let picture = picture(2, 1, 3, vec![1, 2, 3, 40_001, 50_002, 60_003]);
        assert_eq!(picture.colour_at(vec2(0.25, 0.5), Sample::Texel), Some([1, 2, 3]));
        assert_eq!(
            picture.colour_at(vec2(0.75, 0.5), Sample::Texel),
            Some([40_001, 50_002, 60_003])
        );
        for outside in [vec2(-0.01, 0.5), vec2(1.0, 0.5), vec2(0.5, 1.2), vec2(f32::NAN, 0.0)] {
            assert_eq!(picture.colour_at(outside, Sample::Texel), None);
        }
    }

    /// IEC 61966-2-1: half the light of white is encoded as 0.735357.
    #[test]
    fn a_disc_is_averaged_in_linear_light() {
        let half = picture(2, 1, 1, vec![0, 65_535]);
        let found = half.colour_at(vec2(0.25, 0.5), Sample::Disc).unwrap();
        assert!((f64::from(found[0]) / 65_535.0 - 0.735_357).abs() < 1e-4, "{found:?}");
    }

    #[test]
    fn what_is_not_covered_has_no_colour_and_counts_for_nothing() {
        let sparse = picture(2, 1, 4, vec![9, 9, 9, 0, 100, 200, 300, 65_535]);
        assert_eq!(sparse.colour_at(vec2(0.2, 0.5), Sample::Texel), None);
        let found = sparse.colour_at(vec2(0.2, 0.5), Sample::Disc).unwrap();
        for (component, expected) in found.into_iter().zip([100, 200, 300]) {
            assert!((i32::from(component) - expected).abs() <= 1);
        }
    }

    #[test]
    fn a_picture_that_is_too_long_is_made_smaller_by_whole_squares() {
        let mut wide = picture(10, 3, 1, vec![65_535; 30]);
        let image = wide.take_image(4).unwrap();
        assert_eq!(image.size, [4, 1]);
        assert!(image.pixels.iter().all(|pixel| *pixel == Color32::WHITE));
        assert!(wide.take_image(4).is_none());
    }
}
