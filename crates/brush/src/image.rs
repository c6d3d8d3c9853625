//! Grey images that brushes hold: values, named by the hash of what they show.

mod bell;
mod levels;

use std::fmt;
use std::sync::{Arc, OnceLock};

use raster::{Bitmap, Extent};
use thiserror::Error;

pub(crate) use bell::Bell;
pub(crate) use levels::{Level, Levels};

/// The longest edge of an image that a brush may hold, in pixels.
pub const LONGEST_IMAGE_EDGE: u32 = 4096;

/// Why an image can't be a brush's.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ImageFault {
    /// It is larger than [`LONGEST_IMAGE_EDGE`].
    #[error(
        "the image is {width} x {height}; a brush holds at most 4096 on an edge, make it smaller"
    )]
    TooLarge {
        /// In pixels.
        width: u32,
        /// In pixels.
        height: u32,
    },
    /// It has no pixels, or not as many values as it says.
    #[error("the image is empty; give one of at least 1 x 1")]
    Empty,
    /// No pixel is above 0.
    #[error("the image is black all over; white is what takes paint, invert it or give another")]
    Black,
}

/// The BLAKE3-256 hash of an image's size and values.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ImageName(pub [u8; 32]);

impl fmt::Display for ImageName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for ImageName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "ImageName({self})")
    }
}

/// A grey image: 0 is black and takes no paint, 65535 is white and takes all. Copies share its values; two that
/// show the same are equal.
#[derive(Clone)]
pub struct GreyImage(Arc<Held>);

struct Held {
    name: ImageName,
    levels: Levels,
    bell: OnceLock<Bell>,
}

impl GreyImage {
    /// An image of these values, row by row from the top.
    ///
    /// # Errors
    /// [`ImageFault`] for one that is too large, empty or black.
    pub fn new(extent: Extent, values: Vec<u16>) -> Result<Self, ImageFault> {
        let Extent { width, height } = extent;
        if width.max(height) > LONGEST_IMAGE_EDGE {
            return Err(ImageFault::TooLarge { width, height });
        }
        if values.is_empty() || values.len() as u64 != u64::from(width) * u64::from(height) {
            return Err(ImageFault::Empty);
        }
        if values.iter().all(|value| *value == 0) {
            return Err(ImageFault::Black);
        }
        let mut hasher = blake3::Hasher::new();
        hasher.update(&width.to_le_bytes());
        hasher.update(&height.to_le_bytes());
        for row in values.chunks(width as usize) {
            let bytes: Vec<u8> = row.iter().flat_map(|value| value.to_le_bytes()).collect();
            hasher.update(&bytes);
        }
        let name = ImageName(*hasher.finalize().as_bytes());
        let levels = Levels::new(extent, values);
        Ok(Self(Arc::new(Held { name, levels, bell: OnceLock::new() })))
    }

    /// An image as it was read: of a coloured one the luminance of its values (ITU-R BT.709), of one with coverage
    /// that times the coverage.
    ///
    /// # Errors
    /// As [`GreyImage::new`].
    pub fn of_bitmap(bitmap: &Bitmap<u16>) -> Result<Self, ImageFault> {
        let grey = |texel: &[u16]| -> u16 {
            let values: [f32; 4] = std::array::from_fn(|n| f32::from(*texel.get(n).unwrap_or(&0)));
            let luminance = 0.2126 * values[0] + 0.7152 * values[1] + 0.0722 * values[2];
            let seen = match texel.len() {
                1 => return texel[0],
                2 => values[0] * values[1] / 65_535.0,
                3 => luminance,
                _ => luminance * values[3] / 65_535.0,
            };
            (seen + 0.5).clamp(0.0, 65_535.0) as u16
        };
        let components = bitmap.components().max(1);
        let Extent { width, height } = bitmap.extent();
        if width.max(height) > LONGEST_IMAGE_EDGE {
            return Err(ImageFault::TooLarge { width, height });
        }
        Self::new(bitmap.extent(), bitmap.values().chunks(components).map(grey).collect())
    }

    /// The hash of its size and values.
    pub fn name(&self) -> ImageName {
        self.0.name
    }

    /// Width and height in pixels.
    pub fn extent(&self) -> Extent {
        self.0.levels.extent()
    }

    /// Its values, row by row from the top.
    pub fn values(&self) -> &[u16] {
        self.0.levels.values()
    }

    /// It and its halves.
    pub(crate) fn levels(&self) -> &Levels {
        &self.0.levels
    }

    /// Its values with the histogram of a normal distribution, and the way back.
    pub(crate) fn bell(&self) -> &Bell {
        self.0.bell.get_or_init(|| Bell::of(self.extent(), self.values()))
    }
}

impl PartialEq for GreyImage {
    fn eq(&self, other: &Self) -> bool {
        self.0.name == other.0.name
    }
}

impl Eq for GreyImage {}

impl fmt::Debug for GreyImage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Extent { width, height } = self.extent();
        write!(f, "GreyImage({width} x {height}, {})", self.0.name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn extent(width: u32, height: u32) -> Extent {
        Extent { width, height }
    }

    #[test]
    fn what_shows_the_same_is_equal_and_what_does_not_is_not() {
        let image =
            |width, values: [u16; 4]| GreyImage::new(extent(width, 4 / width), values.into());
        let one = image(2, [1, 2, 3, 4]).unwrap();
        assert_eq!(one, image(2, [1, 2, 3, 4]).unwrap());
        assert_ne!(one, image(2, [1, 2, 3, 5]).unwrap());
        assert_ne!(one, image(4, [1, 2, 3, 4]).unwrap());
    }

    #[test]
    fn an_image_that_can_not_be_is_told_in_one_line() {
        let refused =
            |width, height, values| GreyImage::new(extent(width, height), values).unwrap_err();
        let large = refused(20_000, 20_000, Vec::new()).to_string();
        assert!(large.starts_with("the image is 20000 x 20000; a brush holds at most 4096"));
        assert_eq!(refused(0, 0, Vec::new()), ImageFault::Empty);
        assert_eq!(refused(2, 2, vec![1; 3]), ImageFault::Empty);
        assert_eq!(refused(2, 2, vec![0; 4]), ImageFault::Black);
        assert!(GreyImage::new(extent(1, 1), vec![9]).is_ok());
    }

    /// Weights of ITU-R BT.709, which sum to 1.
    #[test]
    fn a_coloured_image_gives_its_luminance_and_coverage_counts() {
        let seen = |values: &[u16]| {
            let bitmap = Bitmap::new(extent(1, 1), values.len(), values.to_vec()).unwrap();
            GreyImage::of_bitmap(&bitmap).unwrap().values()[0]
        };
        assert_eq!(seen(&[40_000]), 40_000);
        assert_eq!(seen(&[65_535, 32_768]), 32_768);
        assert_eq!(seen(&[0, 65_535, 0]), 46_871);
        assert_eq!(seen(&[65_535, 65_535, 65_535, 6553]), 6553);
    }
}
