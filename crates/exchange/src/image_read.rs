//! PNG, JPEG, TIFF and EXR images as 16-bit values.
//!
//! Rules. What an image is, its content says, not its name. Sizes are checked before anything is
//! decoded. Integer values are widened exactly (8 bits by 257). Floating-point images are linear light:
//! as colour they are sRGB-encoded, as values they stay; what is below 0 or above 1 is clamped, with a
//! note. Colour profiles are not applied, with a note.

use std::io::Cursor;
use std::path::Path;

use brush::{GreyImage, LONGEST_IMAGE_EDGE};
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use raster::{Bitmap, Extent, encode_srgb, from_unit};

use crate::error::ExchangeError;
use crate::text::shown_path;

/// The longest edge that is read, in texels.
pub const LONGEST_EDGE: u32 = 16_384;
/// Bytes that decoding one image may take.
const MOST_BYTES: u64 = 1 << 30;
/// Bytes that reading an image's header may take.
const MOST_HEADER_BYTES: u64 = 16 << 20;

/// What the image's values are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ImageUse {
    /// Colour: the result is sRGB-encoded.
    Colour,
    /// Anything else, such as roughness: the result is linear.
    Values,
}

/// An image that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadImage {
    /// 1 component (grey), 2 (grey, coverage), 3 (red, green, blue) or 4 (and coverage, straight).
    pub bitmap: Bitmap<u16>,
    /// What the person at the screen should know.
    pub notes: Vec<String>,
}

/// Reads an image file.
///
/// # Errors
/// [`ExchangeError`] naming the file when it can't be read, is no image of these kinds, is cut short,
/// or is larger than [`LONGEST_EDGE`] or 1 GiB decoded.
pub fn read_image(path: &Path, wanted: ImageUse) -> Result<ReadImage, ExchangeError> {
    let bytes = whole(path)?;
    read_image_bytes(&shown_path(path), &bytes, wanted)
}

/// All of a file that may be an image: a device or a pipe would never end.
fn whole(path: &Path) -> Result<Vec<u8>, ExchangeError> {
    let reading = |error| ExchangeError::io(path, "reading", error);
    let file = std::fs::metadata(path).map_err(reading)?;
    if !file.is_file() {
        return Err(ExchangeError::file(&shown_path(path), "this is no file; give an image"));
    }
    if file.len() > MOST_BYTES {
        let problem = format!("of {} bytes; at most 1 GiB are read, make it smaller", file.len());
        return Err(ExchangeError::file(&shown_path(path), problem));
    }
    std::fs::read(path).map_err(reading)
}

/// Reads an image that is in memory; `name` is for messages.
///
/// # Errors
/// As [`read_image`].
pub fn read_image_bytes(
    name: &str,
    bytes: &[u8],
    wanted: ImageUse,
) -> Result<ReadImage, ExchangeError> {
    let mut decoder = open(name, bytes, LONGEST_EDGE)?;
    let mut notes = Vec::new();
    if decoder.icc_profile().is_ok_and(|profile| profile.is_some()) {
        notes.push(format!("{name}: its colour profile is not applied"));
    }
    let image = DynamicImage::from_decoder(decoder).map_err(|error| broken(name, &error))?;
    let bitmap = widen(image, wanted, name, &mut notes).ok_or_else(|| {
        ExchangeError::file(name, "this kind of pixel is not read; save it as PNG")
    })?;
    Ok(ReadImage { bitmap, notes })
}

/// Reads an image file for a brush, in grey: 0 is black and takes no paint.
///
/// # Errors
/// As [`read_image`], and for an image with more than [`LONGEST_IMAGE_EDGE`] on an edge, or that is black all over.
pub fn read_brush_image(path: &Path) -> Result<GreyImage, ExchangeError> {
    let bytes = whole(path)?;
    read_brush_image_bytes(&shown_path(path), &bytes)
}

/// Reads an image for a brush that is in memory; `name` is for messages.
///
/// # Errors
/// As [`read_brush_image`].
pub fn read_brush_image_bytes(name: &str, bytes: &[u8]) -> Result<GreyImage, ExchangeError> {
    // Before anything is decoded: what a brush refuses need not be read.
    open(name, bytes, LONGEST_IMAGE_EDGE)?;
    let read = read_image_bytes(name, bytes, ImageUse::Values)?;
    GreyImage::of_bitmap(&read.bitmap).map_err(|fault| ExchangeError::file(name, fault.to_string()))
}

/// Width and height of an image, from its header.
///
/// # Errors
/// As [`read_image`], but for what only decoding shows.
pub(crate) fn image_extent(name: &str, bytes: &[u8]) -> Result<Extent, ExchangeError> {
    let (width, height) = open(name, bytes, LONGEST_EDGE)?.dimensions();
    Ok(Extent { width, height })
}

fn open<'a>(
    name: &str,
    bytes: &'a [u8],
    longest: u32,
) -> Result<Box<dyn ImageDecoder + 'a>, ExchangeError> {
    let format = image::guess_format(bytes).ok().filter(|format| {
        use ImageFormat::{Jpeg, OpenExr, Png, Tiff};
        matches!(format, Png | Jpeg | Tiff | OpenExr)
    });
    let Some(format) = format else {
        let problem = "this is no PNG, JPEG, TIFF or EXR image; save it as one of these";
        return Err(ExchangeError::file(name, problem));
    };
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    // Opening reads the header, in which a colour profile may be packed that has no end.
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(MOST_HEADER_BYTES);
    reader.limits(limits.clone());
    let mut decoder = reader.into_decoder().map_err(|error| broken(name, &error))?;
    let (width, height) = decoder.dimensions();
    if width.max(height) > longest || decoder.total_bytes() > MOST_BYTES {
        let problem = format!(
            "the image is {width} x {height}; at most {longest} on an edge and 1 GiB are read, \
             make it smaller"
        );
        return Err(ExchangeError::file(name, problem));
    }
    limits.max_alloc = Some(MOST_BYTES);
    decoder.set_limits(limits).map_err(|error| broken(name, &error))?;
    Ok(Box::new(decoder))
}

fn broken(name: &str, error: &image::ImageError) -> ExchangeError {
    let reason = error.to_string().replace(['\n', '\r'], " ");
    ExchangeError::file(name, format!("the image can't be decoded: {reason}; save it again"))
}

fn widen(
    image: DynamicImage,
    wanted: ImageUse,
    name: &str,
    notes: &mut Vec<String>,
) -> Option<Bitmap<u16>> {
    let extent = Extent { width: image.width(), height: image.height() };
    let components = usize::from(image.color().channel_count());
    let eight = |values: Vec<u8>| values.into_iter().map(|v| u16::from(v) * 257).collect();
    let values = match image {
        DynamicImage::ImageLuma8(image) => eight(image.into_raw()),
        DynamicImage::ImageLumaA8(image) => eight(image.into_raw()),
        DynamicImage::ImageRgb8(image) => eight(image.into_raw()),
        DynamicImage::ImageRgba8(image) => eight(image.into_raw()),
        DynamicImage::ImageLuma16(image) => image.into_raw(),
        DynamicImage::ImageLumaA16(image) => image.into_raw(),
        DynamicImage::ImageRgb16(image) => image.into_raw(),
        DynamicImage::ImageRgba16(image) => image.into_raw(),
        DynamicImage::ImageRgb32F(image) => stored(&image.into_raw(), 3, wanted, name, notes),
        DynamicImage::ImageRgba32F(image) => stored(&image.into_raw(), 4, wanted, name, notes),
        _ => return None,
    };
    Bitmap::new(extent, components, values)
}

fn stored(
    values: &[f32],
    components: usize,
    wanted: ImageUse,
    name: &str,
    notes: &mut Vec<String>,
) -> Vec<u16> {
    let clamped = values.iter().filter(|value| !(0.0..=1.0).contains(*value)).count();
    if clamped > 0 {
        notes.push(format!("{name}: {clamped} values below 0 or above 1 were clamped"));
    }
    let one = |(at, &value): (usize, &f32)| match wanted {
        ImageUse::Colour if at % components < 3 => from_unit(encode_srgb(value.clamp(0.0, 1.0))),
        _ => from_unit(value),
    };
    values.iter().enumerate().map(one).collect()
}
