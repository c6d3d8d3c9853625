//! Small pictures of cells, masks and channels, made in the background as they are looked at, and made anew
//! when what they show has changed.

use std::collections::BTreeMap;
use std::sync::{Arc, Weak};
use std::time::Duration;

use document::Material;
use editor::{Editor, EditorError, Job, Thumbnail, ThumbnailKey, ThumbnailOf, thumbnail};
use egui::{Color32, ColorImage, Context, TextureHandle, TextureOptions};

/// Pixels along an edge.
const EDGE: u32 = 96;
/// Made at once: strokes and what is asked for next should not wait long behind them.
const AT_ONCE: usize = 2;
/// Kept at most, those that were looked at last: 18 MiB of pictures.
const KEPT: usize = 512;
/// Time after which finished ones are looked for.
const PATIENCE: Duration = Duration::from_millis(30);

/// A picture as it is shown.
#[derive(Clone)]
pub(crate) struct Picture {
    /// The texture; none where all of it has one colour.
    pub(crate) texture: Option<TextureHandle>,
    /// The mean of all that is painted; clear where nothing is.
    pub(crate) mean: Color32,
    /// The height, 0 at the top and 1 at the bottom, about which most is painted: what a low cell should show.
    pub(crate) middle: f32,
}

impl std::fmt::Debug for Picture {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Picture").field("mean", &self.mean).finish_non_exhaustive()
    }
}

impl Picture {
    /// Nothing is painted there.
    pub(crate) fn is_empty(&self) -> bool {
        self.texture.is_none() && self.mean.a() == 0
    }
}

#[derive(Debug, Default)]
struct Kept {
    /// The material that was looked at last: while it is the same, so is the picture.
    seen: Weak<Material>,
    /// What the picture shows.
    key: Option<ThumbnailKey>,
    picture: Option<Picture>,
    coming: Option<(ThumbnailKey, Job<Thumbnail>)>,
    looked_at: u64,
}

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Thumbnails {
    kept: BTreeMap<ThumbnailOf, Kept>,
    frame: u64,
    coming: usize,
}

impl Thumbnails {
    /// The picture as far as there is one; where it is missing or out of date, a new one is asked for. While a
    /// stroke goes on none is.
    pub(crate) fn look(
        &mut self,
        ctx: &Context,
        editor: &Editor,
        of: ThumbnailOf,
    ) -> Option<Picture> {
        let material = editor.document().material(of.material()).ok()?;
        let kept = self.kept.entry(of).or_default();
        kept.looked_at = self.frame;
        let is_old = kept.seen.as_ptr() != Arc::as_ptr(material);
        if is_old && kept.coming.is_none() && !editor.is_pen_down() {
            let key = ThumbnailKey::of(editor.document(), &of).ok()?;
            if kept.key.as_ref() == Some(&key) {
                kept.seen = Arc::downgrade(material);
            } else if self.coming < AT_ONCE {
                let (document, wake) = (editor.document().clone(), ctx.clone());
                let job = editor.start_awaited(move |observer| {
                    let made = thumbnail(&document, &of, EDGE, observer);
                    wake.request_repaint_after(PATIENCE / 10);
                    made
                });
                kept.seen = Arc::downgrade(material);
                kept.coming = Some((key, job));
                self.coming += 1;
            } else {
                ctx.request_repaint_after(PATIENCE);
            }
        }
        kept.picture.clone()
    }

    /// Once a frame: takes in what is done, and lets go of what was not looked at for long.
    pub(crate) fn take_done(&mut self, ctx: &Context) {
        self.frame += 1;
        if self.coming > 0 {
            for (of, kept) in &mut self.kept {
                let Some((key, job)) = kept.coming.take() else { continue };
                match job.take() {
                    None => kept.coming = Some((key, job)),
                    Some(made) => {
                        self.coming -= 1;
                        kept.key = Some(key);
                        kept.picture = shown(ctx, *of, made);
                    }
                }
            }
            ctx.request_repaint_after(PATIENCE);
        }
        while self.kept.len() > KEPT {
            let oldest = self.kept.iter().min_by_key(|(_, kept)| kept.looked_at);
            let Some((&of, _)) = oldest else { break };
            if self.kept.remove(&of).is_some_and(|kept| kept.coming.is_some()) {
                self.coming -= 1;
            }
        }
    }

    /// Waits for the pictures that are being made; gives how many there were.
    #[cfg(test)]
    pub(crate) fn wait(&mut self, ctx: &Context) -> usize {
        for (of, kept) in &mut self.kept {
            if let Some((key, job)) = kept.coming.take() {
                kept.key = Some(key);
                kept.picture = shown(ctx, *of, job.wait());
            }
        }
        std::mem::take(&mut self.coming)
    }

    /// Bytes of the textures.
    pub(crate) fn bytes(&self) -> usize {
        let textures =
            self.kept.values().filter_map(|kept| kept.picture.as_ref()?.texture.as_ref());
        textures.map(TextureHandle::byte_size).sum()
    }
}

/// A thumbnail as a texture; none where it could not be made (a mask's field is not there any more).
fn shown(ctx: &Context, of: ThumbnailOf, made: Result<Thumbnail, EditorError>) -> Option<Picture> {
    let made = made.ok()?;
    let pixels = made.rgba.as_chunks::<4>().0;
    let mean = mean(pixels);
    let texture = made.uniform().is_none().then(|| {
        let size = [made.width as usize, made.height as usize];
        let image = ColorImage::from_rgba_unmultiplied(size, &made.rgba);
        ctx.load_texture(format!("{of:?}"), image, TextureOptions::LINEAR)
    });
    Some(Picture { texture, mean, middle: middle(pixels, made.width as usize) })
}

/// The mean of the pixels as far as they are painted, encoded values averaged: for a swatch of 16 points.
fn mean(pixels: &[[u8; 4]]) -> Color32 {
    let mut sums = [0_u64; 4];
    for [r, g, b, a] in pixels {
        let alpha = u64::from(*a);
        for (sum, value) in sums.iter_mut().zip([r, g, b]) {
            *sum += u64::from(*value) * alpha;
        }
        sums[3] += alpha;
    }
    let [r, g, b, total] = sums;
    if total == 0 {
        return Color32::TRANSPARENT;
    }
    let [r, g, b] = [r, g, b].map(|sum| ((sum + total / 2) / total) as u8);
    Color32::from_rgb(r, g, b)
}

/// See [`Picture::middle`]: the mean height of what is painted.
fn middle(pixels: &[[u8; 4]], width: usize) -> f32 {
    let (mut sum, mut total) = (0.0, 0.0);
    for (y, row) in pixels.chunks(width.max(1)).enumerate() {
        let painted: f64 = row.iter().map(|pixel| f64::from(pixel[3])).sum();
        sum += painted * (y as f64 + 0.5);
        total += painted;
    }
    let height = pixels.len().checked_div(width).unwrap_or(1).max(1) as f64;
    if total > 0.0 { (sum / total / height) as f32 } else { 0.5 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_is_where_most_is_painted() {
        let clear = [0; 4];
        let pixels = [clear, clear, clear, clear, clear, clear, [9, 9, 9, 255], [9, 9, 9, 255]];
        assert!((middle(&pixels, 2) - 3.5 / 4.0).abs() < 1e-6);
        assert!((middle(&[clear; 4], 2) - 0.5).abs() < 1e-6);
    }

    #[test]
    fn the_mean_counts_only_what_is_painted() {
        let pixels = [[200, 100, 50, 255], [0, 0, 0, 0], [100, 100, 50, 255]];
        assert_eq!(mean(&pixels), Color32::from_rgb(150, 100, 50));
        assert_eq!(mean(&[[7, 7, 7, 0]]), Color32::TRANSPARENT);
    }
}
