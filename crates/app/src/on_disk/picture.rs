//! A small picture of the model in its file, for lists of files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use editor::{Editor, EditorError, Job};
use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use image::{ExtendedColorType, ImageEncoder as _, ImageFormat, codecs::png::PngEncoder};
use raster::Bitmap;
use store::{Changes, Glance};

use super::{PROJECT, state_of};
use crate::desk::Desk;

/// The picture's size in pixels.
pub(crate) const PICTURE_PX: [u32; 2] = [256, 192];

impl Desk {
    /// The window drew the picture that was wanted.
    pub(crate) fn take_picture(&mut self, picture: &Bitmap<u8>) {
        self.files.is_picture_wanted = false;
        let now = state_of(self.editor.history());
        let Some(on_disk) = &mut self.on_disk else { return };
        on_disk.pictured = Some(now);
        // Some ten thousand pixels: a millisecond or two, while nothing is painted.
        if let Some(thumbnail) = encoded(picture) {
            on_disk.keeper.keep(Changes { thumbnail: Some(thumbnail), ..Changes::default() });
        }
    }
}

/// As PNG; none where it has no pixels.
pub(super) fn encoded(picture: &Bitmap<u8>) -> Option<Vec<u8>> {
    let extent = picture.extent();
    let mut bytes = Vec::new();
    let encoder = PngEncoder::new(&mut bytes);
    let kind = ExtendedColorType::Rgb8;
    encoder.write_image(picture.values(), extent.width, extent.height, kind).ok()?;
    Some(bytes)
}

/// From a file: it may be anything, so it is read only if it is small.
pub(super) fn decoded(bytes: &[u8]) -> Option<ColorImage> {
    const MOST: u32 = 1024;
    let mut reader = image::ImageReader::with_format(std::io::Cursor::new(bytes), ImageFormat::Png);
    let mut limits = image::Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(MOST), Some(MOST));
    reader.limits(limits);
    let rgba = reader.decode().ok()?.to_rgba8();
    let size = [rgba.width() as usize, rgba.height() as usize];
    Some(ColorImage::from_rgba_unmultiplied(size, rgba.as_raw()))
}

/// A picture as a texture.
pub(crate) fn texture(context: &Context, path: &Path, picture: ColorImage) -> TextureHandle {
    context.load_texture(path.display().to_string(), picture, TextureOptions::LINEAR)
}

/// What is known of a file's picture.
enum Known {
    Coming(Job<Option<ColorImage>>),
    There(TextureHandle),
    None,
}

/// Pictures of projects, read in the background when they are first looked at.
#[derive(Default)]
pub(crate) struct SmallPictures(BTreeMap<PathBuf, Known>);

impl std::fmt::Debug for SmallPictures {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("SmallPictures").field(&self.0.len()).finish()
    }
}

impl SmallPictures {
    /// The picture of a file, as far as there is one.
    pub(crate) fn look(
        &mut self,
        context: &Context,
        editor: &Editor,
        path: &Path,
    ) -> Option<TextureHandle> {
        let is_project = path.extension().is_some_and(|ending| ending == PROJECT);
        if !is_project {
            return None;
        }
        let known = self.0.entry(path.to_owned()).or_insert_with(|| {
            let (read, wake) = (path.to_owned(), context.clone());
            Known::Coming(editor.start_awaited(move |_observer| {
                let glance = Glance::at(&read).map_err(EditorError::outside);
                let picture = glance.map(|glance| glance.thumbnail.as_deref().and_then(decoded));
                wake.request_repaint();
                picture
            }))
        });
        if let Known::Coming(job) = known
            && let Some(made) = job.take()
        {
            let picture = made.ok().flatten();
            *known = picture
                .map_or(Known::None, |picture| Known::There(texture(context, path, picture)));
        }
        match known {
            Known::There(texture) => Some(texture.clone()),
            Known::Coming(_) => {
                context.request_repaint_after(std::time::Duration::from_millis(30));
                None
            }
            Known::None => None,
        }
    }

    /// A file may have another picture by now.
    pub(crate) fn forget(&mut self) {
        self.0.clear();
    }
}

#[cfg(test)]
mod tests {
    use raster::Extent;

    use super::*;

    #[test]
    fn a_picture_comes_back_as_it_was_and_anything_else_is_none() {
        let values = (0..60).collect();
        let picture = Bitmap::new(Extent { width: 5, height: 4 }, 3, values).unwrap();
        let back = decoded(&encoded(&picture).unwrap()).unwrap();
        assert_eq!(back.size, [5, 4]);
        assert_eq!(back.pixels[19].to_array(), [57, 58, 59, 255]);
        assert!(decoded(b"a letter").is_none() && decoded(&[]).is_none());
    }
}
