//! Single files: a picture or a text. Each appears whole or not at all, as with every export.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use raster::Bitmap;

use crate::atomic::Staging;
use crate::error::ExchangeError;
use crate::png_write::{BitDepth, Tag, write_png};

/// Writes a picture (three components, sRGB-encoded) as PNG of 8 bits into `folder`, which must be there.
///
/// # Errors
/// [`ExchangeError`] when it can't be written; then no file was written and none replaced.
pub fn write_picture(
    folder: &Path,
    name: &str,
    picture: &Bitmap<u16>,
) -> Result<PathBuf, ExchangeError> {
    let mut staging = Staging::new(folder)?;
    staging.write(name, |to| write_png(to, picture, BitDepth::Eight, Tag::Encoded))?;
    only(staging, folder, name)
}

/// Writes a text into `folder`, which must be there.
///
/// # Errors
/// [`ExchangeError`] when it can't be written; then no file was written and none replaced.
pub fn write_text(folder: &Path, name: &str, text: &str) -> Result<PathBuf, ExchangeError> {
    let mut staging = Staging::new(folder)?;
    staging.write(name, |to| to.write_all(text.as_bytes()))?;
    only(staging, folder, name)
}

fn only(staging: Staging, folder: &Path, name: &str) -> Result<PathBuf, ExchangeError> {
    Ok(staging.commit()?.pop().unwrap_or_else(|| folder.join(name)))
}
