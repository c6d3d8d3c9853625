//! Pictures of the light all around, as radiance: Radiance HDR and EXR.
//!
//! Rules. The picture is equirectangular: twice as wide as high, the zenith on top. Values are linear, in the
//! primaries of sRGB; other primaries and notes of exposure are not applied, as the viewport normalises what it
//! shows, and coverage is left out. A value below 0 or not a number becomes 0. One that is infinite, or beyond
//! [`BRIGHTEST_RADIANCE`], becomes the brightest other value of the picture: so a sun that the camera could not
//! measure stays its brightest place, and neither whites out the picture nor leaves a hole. Each is a note.

use std::fs::File;
use std::io::{Cursor, Read as _};
use std::path::Path;

use image::codecs::hdr::HdrDecoder;
use image::codecs::openexr::OpenExrDecoder;
use image::{DynamicImage, ImageDecoder, ImageError};

use crate::error::ExchangeError;
use crate::text::shown_path;

/// What is brighter counts as infinite: the sun's disc has 1.6e9 cd/m^2 (common practice, no source).
pub const BRIGHTEST_RADIANCE: f32 = 1e10;

/// The widest picture that is read: a sphere at 1.3 arc minutes.
const WIDEST: u32 = 16_384;
/// The narrowest: a row of the sky and one of the ground.
const NARROWEST: u32 = 4;
/// Bytes of a file, and of its values.
const MOST_BYTES: u64 = 1 << 30;

const EXR_SIGNATURE: [u8; 4] = [0x76, 0x2f, 0x31, 0x01];

/// Radiance from all around.
#[derive(Debug, Clone, PartialEq)]
pub struct EnvironmentImage {
    /// Texels of a row, once around.
    pub width: usize,
    /// Rows from the zenith down, half as many as `width`.
    pub height: usize,
    /// Linear Rec. 709 radiance, row by row; finite and 0 or more, and somewhere more.
    pub texels: Vec<[f32; 3]>,
    /// What the person at the screen should know.
    pub notes: Vec<String>,
}

/// Reads an environment; what kind of file it is, its content says.
///
/// # Errors
/// [`ExchangeError`] naming the file when it can't be read, is no Radiance HDR or EXR with red, green and blue, is
/// cut short, black, larger than 1 GiB or 16384 texels wide, or not twice as wide as high.
pub fn read_environment(path: &Path) -> Result<EnvironmentImage, ExchangeError> {
    let name = shown_path(path);
    let io = |error| ExchangeError::io(path, "reading", error);
    let mut bytes = Vec::new();
    // One byte more than is read tells a file that is too long from one that just fits.
    File::open(path).map_err(io)?.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(io)?;
    if bytes.len() as u64 > MOST_BYTES {
        let problem = "the file is larger than 1 GiB; make the picture smaller";
        return Err(ExchangeError::file(&name, problem));
    }
    read_environment_bytes(&name, &bytes)
}

/// Reads an environment that is in memory; `name` is for messages.
///
/// # Errors
/// As [`read_environment`].
pub fn read_environment_bytes(name: &str, bytes: &[u8]) -> Result<EnvironmentImage, ExchangeError> {
    let broken = |error: ImageError| {
        let reason = error.to_string().replace(['\n', '\r'], " ");
        let problem = format!("the environment can't be decoded: {reason}; save it again");
        ExchangeError::file(name, problem)
    };
    let image = if bytes.starts_with(b"#?") {
        let decoder = HdrDecoder::new_nonstrict(Cursor::new(bytes)).map_err(broken)?;
        check_size(name, &decoder)?;
        DynamicImage::from_decoder(decoder).map_err(broken)?
    } else if bytes.starts_with(&EXR_SIGNATURE) {
        let decoder = OpenExrDecoder::with_alpha_preference(Cursor::new(bytes), Some(false))
            .map_err(broken)?;
        check_size(name, &decoder)?;
        DynamicImage::from_decoder(decoder).map_err(broken)?
    } else {
        let problem =
            "this is no Radiance HDR or EXR picture; save the environment as one of these";
        return Err(ExchangeError::file(name, problem));
    };
    let image = image.into_rgb32f();
    let (width, height) = (image.width() as usize, image.height() as usize);
    let mut texels = image.into_raw().as_chunks::<3>().0.to_vec();
    let notes = mend(name, &mut texels)?;
    Ok(EnvironmentImage { width, height, texels, notes })
}

fn check_size(name: &str, decoder: &impl ImageDecoder) -> Result<(), ExchangeError> {
    let (width, height) = decoder.dimensions();
    if width > WIDEST || decoder.total_bytes() > MOST_BYTES {
        let problem = format!(
            "the environment is {width} x {height}; at most {WIDEST} across and 1 GiB of values are read, \
             make it smaller"
        );
        return Err(ExchangeError::file(name, problem));
    }
    if width < NARROWEST || u64::from(width) != 2 * u64::from(height) {
        let problem = format!(
            "the picture is {width} x {height}; an environment is equirectangular, twice as wide as high \
             and at least {NARROWEST} across"
        );
        return Err(ExchangeError::file(name, problem));
    }
    Ok(())
}

/// Replaces what is no radiance, and says so.
fn mend(name: &str, texels: &mut [[f32; 3]]) -> Result<Vec<String>, ExchangeError> {
    let values = texels.as_flattened_mut();
    let brightest = values.iter().copied().filter(|value| *value <= BRIGHTEST_RADIANCE);
    let brightest = brightest.fold(0.0, f32::max);
    if brightest <= 0.0 {
        let problem = "the environment has no light: all its values are 0, negative or not finite";
        return Err(ExchangeError::file(name, format!("{problem}; choose another")));
    }
    let [mut blank, mut negative, mut boundless] = [0_usize; 3];
    for value in values {
        if value.is_nan() {
            blank += 1;
            *value = 0.0;
        } else if *value > BRIGHTEST_RADIANCE {
            boundless += 1;
            *value = brightest;
        } else if *value < 0.0 {
            negative += 1;
            *value = 0.0;
        }
    }
    let told = [
        (blank, "are not numbers and were taken as 0".to_owned()),
        (negative, "are below 0 and were taken as 0".to_owned()),
        (
            boundless,
            format!("are infinite and were taken as {brightest}, the brightest other value"),
        ),
    ];
    let told = told.into_iter().filter(|(count, _)| *count > 0);
    Ok(told.map(|(count, what)| format!("{name}: {count} values {what}")).collect())
}
